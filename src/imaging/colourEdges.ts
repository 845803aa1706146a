import type { ColourImage } from '../core/image.js';

/** Edges of a colour picture, each array one value a pixel, row by row. */
export interface EdgeMap {
  /** 255 on the ridge of an edge, 0 elsewhere. */
  readonly ridge: Uint8Array;
  /** Sobel gradient of the channel where it is strongest: 8 times the difference of codes from px to px. */
  readonly gradientX: Int16Array;
  readonly gradientY: Int16Array;
}

/** The gradients of a picture, and their squared lengths with a frame of zeros round them, one px wide. */
interface Gradients extends Omit<EdgeMap, 'ridge'> {
  readonly squares: Int32Array;
}

/**
 * Edges of a colour picture: at each pixel the channel with the strongest gradient counts.
 * @param image - The picture; not modified.
 * @param thresholds - Gradients (of Sobel's scale) above which an edge goes on, and above which it begins.
 * @returns Ridges and gradients.
 * @throws {RangeError} When the picture has no px.
 * @see Canny, "A computational approach to edge detection", IEEE PAMI 8(6), 1986 (from memory).
 */
export function colourEdges(image: ColourImage, [low, high]: readonly [low: number, high: number]): EdgeMap {
  const { widthPx, heightPx } = image;
  if (!(widthPx >= 1 && heightPx >= 1)) {
    throw new RangeError(`Expected a picture but received ${widthPx} × ${heightPx} px.`);
  }
  const { gradientX, gradientY, squares } = strongestGradients(image);
  const ridge = new Uint8Array(widthPx * heightPx);
  const begun: number[] = [];
  // First what may be a ridge is marked, then what hangs together with a beginning is kept.
  for (let y = 0, at = 0; y < heightPx; y += 1) {
    for (let x = 0, framed = (y + 1) * (widthPx + 2) + 1; x < widthPx; x += 1, at += 1, framed += 1) {
      const square = squares[framed]!;
      if (square <= low * low || !isRidge(squares, framed, widthPx + 2, gradientX[at]!, gradientY[at]!))
        continue;
      ridge[at] = MAYBE;
      if (square > high * high) begun.push(at);
    }
  }
  keepConnected(ridge, begun, widthPx, heightPx);
  return { ridge, gradientX, gradientY };
}

/** Sobel's gradient of the strongest channel at each px; beyond the border the picture is mirrored about its last px. */
function strongestGradients({ data, widthPx, heightPx }: ColourImage): Gradients {
  const gradientX = new Int16Array(widthPx * heightPx);
  const gradientY = new Int16Array(widthPx * heightPx);
  const squares = new Int32Array((widthPx + 2) * (heightPx + 2));
  const rowLength = 3 * widthPx;
  for (let y = 0; y < heightPx; y += 1) {
    const row = y * rowLength;
    const up = mirrored(y - 1, heightPx) * rowLength - row;
    const down = mirrored(y + 1, heightPx) * rowLength - row;
    // Down a column, in each channel: its px weighted 1-2-1, and the lower less the upper one. Plain variables for the
    // columns before, here and next: with arrays it takes half as long again.
    let sumBefore0 = 0;
    let sumBefore1 = 0;
    let sumBefore2 = 0;
    let downBefore0 = 0;
    let downBefore1 = 0;
    let downBefore2 = 0;
    let sum0 = 0;
    let sum1 = 0;
    let sum2 = 0;
    let down0 = 0;
    let down1 = 0;
    let down2 = 0;
    for (let x = -2; x < widthPx; x += 1) {
      const k = row + 3 * mirrored(x + 1, widthPx);
      const above0 = data[k + up]!;
      const above1 = data[k + up + 1]!;
      const above2 = data[k + up + 2]!;
      const below0 = data[k + down]!;
      const below1 = data[k + down + 1]!;
      const below2 = data[k + down + 2]!;
      const sumNext0 = above0 + 2 * data[k]! + below0;
      const sumNext1 = above1 + 2 * data[k + 1]! + below1;
      const sumNext2 = above2 + 2 * data[k + 2]! + below2;
      const downNext0 = below0 - above0;
      const downNext1 = below1 - above1;
      const downNext2 = below2 - above2;
      if (x >= 0) {
        const x0 = sumNext0 - sumBefore0;
        const x1 = sumNext1 - sumBefore1;
        const x2 = sumNext2 - sumBefore2;
        const y0 = downBefore0 + 2 * down0 + downNext0;
        const y1 = downBefore1 + 2 * down1 + downNext1;
        const y2 = downBefore2 + 2 * down2 + downNext2;
        const first = Math.imul(x0, x0) + Math.imul(y0, y0);
        const second = Math.imul(x1, x1) + Math.imul(y1, y1);
        const third = Math.imul(x2, x2) + Math.imul(y2, y2);
        // All ones where the later channel is stronger: no processor can guess that from pixel to pixel.
        const stronger = Math.max(first, second);
        const bySecond = (first - second) >> 31;
        const byThird = (stronger - third) >> 31;
        const gx = x0 ^ ((x0 ^ x1) & bySecond);
        const gy = y0 ^ ((y0 ^ y1) & bySecond);
        const at = y * widthPx + x;
        gradientX[at] = gx ^ ((gx ^ x2) & byThird);
        gradientY[at] = gy ^ ((gy ^ y2) & byThird);
        squares[at + widthPx + 3 + 2 * y] = Math.max(stronger, third);
      }
      sumBefore0 = sum0;
      sumBefore1 = sum1;
      sumBefore2 = sum2;
      downBefore0 = down0;
      downBefore1 = down1;
      downBefore2 = down2;
      sum0 = sumNext0;
      sum1 = sumNext1;
      sum2 = sumNext2;
      down0 = downNext0;
      down1 = downNext1;
      down2 = downNext2;
    }
  }
  return { gradientX, gradientY, squares };
}

/** An index that may lie one beyond either end, mirrored about the last px. */
function mirrored(index: number, count: number): number {
  if (index < 0) return Math.min(1, count - 1);
  return index < count ? index : Math.max(0, count - 2);
}

/** The tangent of 22.5°: gradients nearer to an axis than that are compared along it, others along a diagonal. */
const NEAR_AXIS = Math.tan(Math.PI / 8);

/** Whether a gradient is the largest across its edge; of two that are equal, level or upright, the latter one. */
function isRidge(squares: Int32Array, at: number, stride: number, gx: number, gy: number): boolean {
  const square = squares[at]!;
  const [x, y] = [Math.abs(gx), Math.abs(gy)];
  if (y < NEAR_AXIS * x) return square > squares[at - 1]! && square >= squares[at + 1]!;
  if (x < NEAR_AXIS * y) return square > squares[at - stride]! && square >= squares[at + stride]!;
  const aside = (gx ^ gy) < 0 ? -1 : 1;
  return square > squares[at - stride - aside]! && square > squares[at + stride + aside]!;
}

/** Values of what may be a ridge, and of what is one. */
const MAYBE = 1;
const RIDGE = 255;

/** Makes ridges of what hangs together, by any of eight neighbours, with the px of a list, and takes all else away. */
function keepConnected(ridge: Uint8Array, begun: readonly number[], widthPx: number, heightPx: number): void {
  const left = [...begun];
  for (const at of left) ridge[at] = RIDGE;
  for (let at = left.pop(); at !== undefined; at = left.pop()) {
    const y = (at / widthPx) | 0;
    const x = at - y * widthPx;
    for (let ny = Math.max(0, y - 1); ny <= Math.min(heightPx - 1, y + 1); ny += 1) {
      for (let nx = Math.max(0, x - 1); nx <= Math.min(widthPx - 1, x + 1); nx += 1) {
        const next = ny * widthPx + nx;
        if (ridge[next] !== MAYBE) continue;
        ridge[next] = RIDGE;
        left.push(next);
      }
    }
  }
  for (let i = 0; i < ridge.length; i += 1) if (ridge[i] === MAYBE) ridge[i] = 0;
}
