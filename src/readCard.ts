import { findMarkerCard, findMirroredCard } from './face/findMarkerCard.js';
import { readCardCode } from './face/readCardCode.js';
import { encodeJpeg } from './imaging/encode.js';
import { eightBits, linearLut } from './imaging/tone.js';
import { openPhoto, type Photo } from './photo/openPhoto.js';
import type { CardRead } from './print/cardRead.js';

/**
 * Reads the code of a marker card in a photo, to know its print record before it is measured.
 * @param bytes - The photo; not modified.
 * @returns What the card's code says, or why nothing.
 * @throws {InputError} When the photo cannot be used.
 */
export async function readCard(bytes: Uint8Array): Promise<CardRead> {
  return cardIn(await openPhoto(bytes));
}

/** What is told of a photo before anything is asked of it. */
export interface PhotoSurvey {
  /** Size of the upright photo. */
  readonly widthPx: number;
  readonly heightPx: number;
  readonly card: CardRead;
}

/**
 * Decodes a photo once, to see that it can be read, how large it is, and what the marker card in it says.
 * @param bytes - The photo; not modified.
 * @returns Its upright size and its card.
 * @throws {InputError} When the photo cannot be used.
 */
export async function surveyPhoto(bytes: Uint8Array): Promise<PhotoSurvey> {
  const photo = await openPhoto(bytes);
  const { widthPx, heightPx } = photo.info;
  return { widthPx, heightPx, card: await cardIn(photo) };
}

/**
 * An upright, shrunk copy of a photo to look at, without anything of its header.
 * @param bytes - The photo; not modified.
 * @param widthPx - How wide; a photo that is narrower is not enlarged.
 * @returns Bytes of a JPEG.
 * @throws {InputError} When the photo cannot be used.
 */
export async function viewPhoto(bytes: Uint8Array, widthPx: number): Promise<Uint8Array> {
  const photo = await openPhoto(bytes);
  const { info } = photo;
  const longestPx = Math.round((widthPx * Math.max(info.widthPx, info.heightPx)) / info.widthPx);
  return encodeJpeg(await photo.shrunk(longestPx));
}

async function cardIn(photo: Photo): Promise<CardRead> {
  const codes = eightBits(await photo.codes());
  const lut = linearLut(8);
  const card = findMarkerCard(codes, lut);
  if (card === undefined)
    return { state: findMirroredCard(codes, lut) === undefined ? 'no-card' : 'mirrored' };
  return readCardCode(codes, lut, card) ?? { state: 'no-code' };
}
