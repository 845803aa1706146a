import { findMarkerCard, findMirroredCard } from './face/findMarkerCard.js';
import { readCardCode } from './face/readCardCode.js';
import { eightBits, linearLut } from './imaging/tone.js';
import { openPhoto } from './photo/openPhoto.js';
import type { CardRead } from './print/cardRead.js';

/**
 * Reads the code of a marker card in a photo, to know its print record before it is measured.
 * @param bytes - The photo; not modified.
 * @returns What the card's code says, or why nothing.
 * @throws {InputError} When the photo cannot be used.
 */
export async function readCard(bytes: Uint8Array): Promise<CardRead> {
  const photo = await openPhoto(bytes);
  const codes = eightBits(await photo.codes());
  const lut = linearLut(8);
  const card = findMarkerCard(codes, lut);
  if (card === undefined)
    return { state: findMirroredCard(codes, lut) === undefined ? 'no-card' : 'mirrored' };
  return readCardCode(codes, lut, card) ?? { state: 'no-code' };
}
