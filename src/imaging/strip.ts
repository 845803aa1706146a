import type { CodeImage, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';

/** Axes of a strip of the photo: `along` it, and `across` it 90° clockwise on screen; both of unit length. */
export interface StripFrame {
  readonly origin: PointPx;
  readonly along: PointPx;
  readonly across: PointPx;
}

/**
 * Axes of a strip from one point to another.
 * @param from - Where it begins, photo px.
 * @param to - Where it ends.
 * @returns Its axes, with the origin where it begins.
 * @throws {RangeError} When the points are the same.
 */
export function stripFrame(from: PointPx, to: PointPx): StripFrame {
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  const length = Math.hypot(dx, dy);
  if (!(length > 0)) throw new RangeError('Expected two points that differ but they are the same.');
  return { origin: from, along: [dx / length, dy / length], across: [-dy / length, dx / length] };
}

/**
 * A place of a strip in the photo.
 * @param frame - The strip's axes.
 * @param x - Distance along, px.
 * @param s - Distance across, px.
 * @returns Photo px.
 */
export function pointInStrip(frame: StripFrame, x: Px, s: Px): PointPx {
  return [
    frame.origin[0] + x * frame.along[0] + s * frame.across[0],
    frame.origin[1] + x * frame.along[1] + s * frame.across[1],
  ];
}

/**
 * Brightness along a strip, averaged over its width.
 * @param codes - Grey codes, any strides; not modified.
 * @param lut - Linear light of each code.
 * @param frame - The strip's axes.
 * @param count - Samples, one for each px along: sample i lies at i + 0.5.
 * @param halfWidthPx - Half of the width; samples across are at most 2 px apart.
 * @returns Linear light, shape (count,); beyond the photo its border goes on.
 */
export function stripProfile(
  codes: CodeImage,
  lut: Float32Array,
  frame: StripFrame,
  count: number,
  halfWidthPx: Px,
): Float64Array {
  const read = lightReader(codes, lut);
  const lines = Math.max(1, Math.ceil(halfWidthPx));
  const profile = new Float64Array(count);
  for (let j = 0; j < lines; j += 1) {
    const s = lines === 1 ? 0 : halfWidthPx * ((2 * j) / (lines - 1) - 1);
    let [x, y] = pointInStrip(frame, 0.5, s);
    for (let i = 0; i < count; i += 1) {
      profile[i] = profile[i]! + read(x, y) / lines;
      x += frame.along[0];
      y += frame.along[1];
    }
  }
  return profile;
}

/**
 * Reads linear light between px by bilinear interpolation.
 * @param codes - Grey codes, any strides; not modified.
 * @param lut - Linear light of each code.
 * @returns A function of photo px; beyond the photo its border goes on.
 */
export function lightReader(codes: CodeImage, lut: Float32Array): (x: Px, y: Px) => number {
  const { data, offset } = codes;
  const [rows, columns] = codes.shape as [number, number];
  const [down, right] = codes.stride as [number, number];
  const lastRow = rows - 1;
  const lastColumn = columns - 1;
  return (x, y) => {
    const u = Math.min(lastColumn, Math.max(0, x - 0.5));
    const v = Math.min(lastRow, Math.max(0, y - 0.5));
    const i = Math.min(Math.max(0, lastColumn - 1), Math.floor(u));
    const j = Math.min(Math.max(0, lastRow - 1), Math.floor(v));
    const at = offset + j * down + i * right;
    const toRight = lastColumn > 0 ? right : 0;
    const toBelow = lastRow > 0 ? down : 0;
    const top = (1 - u + i) * lut[data[at]!]! + (u - i) * lut[data[at + toRight]!]!;
    const bottom = (1 - u + i) * lut[data[at + toBelow]!]! + (u - i) * lut[data[at + toBelow + toRight]!]!;
    return (1 - v + j) * top + (v - j) * bottom;
  };
}
