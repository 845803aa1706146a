import type { CodeImage } from '../core/image.js';

/** A small grey picture, 8-bit codes row by row. */
export interface SmallGrey {
  readonly grey: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Of a block's px, so many are averaged along each side: more would cost time and gain nothing for looking about. */
const SAMPLES = 3;

/**
 * Shrinks a photo by a whole factor. Px of the result are averages of up to 3 × 3 px of each block; what is left
 * over at the right and the bottom falls away.
 * @param codes - Grey codes, any strides; not modified.
 * @param factor - Whole number of px that become one, ≥ 1.
 * @returns The small picture; (x, y) in it is (factor · x, factor · y) in the photo.
 * @throws {RangeError} When the factor is not a whole number ≥ 1.
 */
export function shrink(codes: CodeImage, factor: number): SmallGrey {
  if (!(Number.isInteger(factor) && factor >= 1)) {
    throw new RangeError(`Expected a whole factor of at least 1 but received ${factor}.`);
  }
  const { data, offset } = codes;
  const [down, right] = codes.stride as [number, number];
  const [heightPx, widthPx] = codes.shape.map((side) => Math.floor(side / factor)) as [number, number];
  const samples = Math.min(SAMPLES, factor);
  // Evenly spread over the block, so that their mean lies in its middle.
  const places = Array.from({ length: samples }, (_, i) => Math.floor(((i + 0.5) * factor) / samples));
  const offsets = Int32Array.from(places.flatMap((y) => places.map((x) => y * down + x * right)));
  const scale = 255 / (2 ** (8 * data.BYTES_PER_ELEMENT) - 1) / offsets.length;
  const grey = new Uint8Array(widthPx * heightPx);
  // The inner loop goes the way that the photo is stored.
  const byRows = Math.abs(right) < Math.abs(down);
  const [outer, inner] = byRows ? [heightPx, widthPx] : [widthPx, heightPx];
  const [toOuter, toInner] = byRows ? [widthPx, 1] : [1, widthPx];
  for (let i = 0; i < outer; i += 1) {
    for (let j = 0; j < inner; j += 1) {
      const corner = offset + factor * (byRows ? i * down + j * right : j * down + i * right);
      let sum = 0;
      for (let k = 0; k < offsets.length; k += 1) sum += data[corner + offsets[k]!]!;
      grey[i * toOuter + j * toInner] = scale * sum + 0.5;
    }
  }
  return { grey, widthPx, heightPx };
}
