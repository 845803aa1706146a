import type { Px } from '../core/units.js';

/** Types of TIFF fields: 16 bits, 32 bits, bytes of unknown meaning. */
const SHORT = 3;
const LONG = 4;
const UNDEFINED = 7;

/**
 * Wraps pixels into an uncompressed TIFF file, the simplest that can carry a colour profile.
 * @param codes - Codes of 8 bits, interleaved, row by row; with four channels the last is opacity.
 * @param size - Of the picture.
 * @param profile - ICC profile of the codes; without it they are sRGB.
 * @returns The file.
 * @see TIFF 6.0 (1992), sections 2 and 6; tag 34675 by ICC.1, annex B (from memory).
 */
export function tiffOf(
  codes: Uint8Array,
  size: { readonly widthPx: Px; readonly heightPx: Px; readonly channels: 3 | 4 },
  profile: Uint8Array | undefined,
): Uint8Array {
  const { widthPx, heightPx, channels } = size;
  const fields: (readonly [tag: number, type: number, count: number, value: number])[] = [];
  const add = (tag: number, type: number, count: number, value: number) => {
    fields.push([tag, type, count, value]);
  };
  const fieldCount = 10 + (channels === 4 ? 1 : 0) + (profile === undefined ? 0 : 1);
  // Behind the fields: bits per sample, the profile, the codes.
  const bitsAt = 8 + 2 + 12 * fieldCount + 4;
  const profileAt = bitsAt + 2 * channels;
  const codesAt = profileAt + (profile?.length ?? 0) + ((profile?.length ?? 0) % 2);
  add(256, LONG, 1, widthPx);
  add(257, LONG, 1, heightPx);
  add(258, SHORT, channels, bitsAt);
  add(259, SHORT, 1, 1); // no compression
  add(262, SHORT, 1, 2); // red, green, blue
  add(273, LONG, 1, codesAt);
  add(277, SHORT, 1, channels);
  add(278, LONG, 1, heightPx); // one strip
  add(279, LONG, 1, codes.length);
  add(284, SHORT, 1, 1); // interleaved
  if (channels === 4) add(338, SHORT, 1, 2); // opacity, not multiplied in
  if (profile !== undefined) add(34675, UNDEFINED, profile.length, profileAt);

  const file = Buffer.alloc(codesAt + codes.length);
  file.write('II*\0', 'latin1');
  file.writeUInt32LE(8, 4);
  file.writeUInt16LE(fields.length, 8);
  for (const [i, [tag, type, count, value]] of fields.entries()) {
    const at = 10 + 12 * i;
    file.writeUInt16LE(tag, at);
    file.writeUInt16LE(type, at + 2);
    file.writeUInt32LE(count, at + 4);
    file.writeUInt32LE(value, at + 8);
  }
  for (let channel = 0; channel < channels; channel += 1) file.writeUInt16LE(8, bitsAt + 2 * channel);
  if (profile !== undefined) file.set(profile, profileAt);
  file.set(codes, codesAt);
  return file;
}
