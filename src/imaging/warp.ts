import ndarray from 'ndarray';
import type { CodeImage, GreyImage } from '../core/image.js';
import { applyHomography } from './homography.js';
import { distortPoint, type Lens } from './lens.js';

/**
 * Flattens a part of a photo by bicubic interpolation in linear light. Beyond the picture its border is
 * repeated. Nothing is averaged: where an output step is longer than an input px, averaging first (or
 * rectifying at full resolution and averaging afterwards) is the caller's business.
 * @param codes - Grey codes, shape (input rows, input columns), any strides; not modified.
 * @param lut - Linear light of each code, shape (256,) or (65536,); not modified.
 * @param outToIn - Homography from output to input px coordinates, both with px centres at +0.5, 3 × 3
 * row-major; not modified.
 * @param rows - Rows of the output, ≥ 1.
 * @param columns - Columns of the output, ≥ 1.
 * @param lens - Lens that bent the input, about a centre in input px; the homography then goes to where points would
 * be without it.
 * @returns Linear light, shape (rows, columns), contiguous. The kernel overshoots at hard edges, so values
 * may leave the range of the input a little.
 * @throws {RangeError} When the output has no px, the table is too short for the codes, the line that the
 * homography sends to infinity crosses the output, or the lens folds the picture over within it.
 * @see Keys, "Cubic convolution interpolation for digital image processing", IEEE Trans. ASSP 29, 1981
 * (from memory), a = −0.5: exact for quadratics. Where every px falls on the same fraction, the kernel moves a
 * grating of P px by up to 0.65/P² px (0.003 px at 15); on the average over all fractions, not at all.
 */
export function rectify(
  codes: CodeImage,
  lut: Float32Array,
  outToIn: Float64Array,
  rows: number,
  columns: number,
  lens?: Lens,
): GreyImage {
  if (!(Number.isInteger(rows) && Number.isInteger(columns) && rows >= 1 && columns >= 1)) {
    throw new RangeError(`Expected at least one row and column but received ${rows} and ${columns}.`);
  }
  const codeCount = 2 ** (8 * codes.data.BYTES_PER_ELEMENT);
  if (lut.length < codeCount) {
    throw new RangeError(`Expected a table of ${codeCount} codes but received ${lut.length}.`);
  }
  checkHorizon(outToIn, rows, columns);
  if (lens !== undefined) checkFold(lens, outToIn, rows, columns);
  const output = new Float32Array(rows * columns);
  const source = sourceOf(codes);
  for (let row = 0; row < rows; row += 1) warpRow(source, lut, outToIn, row, columns, lens, output);
  return ndarray(output, [rows, columns]);
}

/** The strided view in plain numbers, read once: the inner loop looks nothing up. */
interface Source {
  readonly data: Uint8Array | Uint16Array;
  readonly offset: number;
  readonly rowStride: number;
  readonly columnStride: number;
  readonly rows: number;
  readonly columns: number;
}

function sourceOf(codes: CodeImage): Source {
  return {
    data: codes.data,
    offset: codes.offset,
    rowStride: codes.stride[0]!,
    columnStride: codes.stride[1]!,
    rows: codes.shape[0]!,
    columns: codes.shape[1]!,
  };
}

function warpRow(
  source: Source,
  lut: Float32Array,
  h: Float64Array,
  row: number,
  columns: number,
  lens: Lens | undefined,
  output: Float32Array,
): void {
  const { data, offset, rowStride, columnStride } = source;
  const columnStride2 = 2 * columnStride;
  const columnStride3 = 3 * columnStride;
  // The kernel of a px below these indices needs no px beyond the border.
  const lastX = source.columns - 2;
  const lastY = source.rows - 2;
  const y = row + 0.5;
  // Numerators and denominator are linear along a row.
  const [u0, uStep] = [h[1]! * y + h[2]!, h[0]!];
  const [v0, vStep] = [h[4]! * y + h[5]!, h[3]!];
  const [w0, wStep] = [h[7]! * y + h[8]!, h[6]!];
  const start = row * columns;
  // By how much the lens stretches a radius, per squared px of it; 0 leaves every point where it is.
  const bend = lens === undefined ? 0 : lens.k1 / lens.focalPx ** 2;
  const [centreX, centreY] = lens === undefined ? [0, 0] : lens.centrePx;
  for (let column = 0; column < columns; column += 1) {
    const x = column + 0.5;
    const reciprocal = 1 / (wStep * x + w0);
    // −0.5 goes from px coordinates to px indices.
    let inX = (uStep * x + u0) * reciprocal - 0.5;
    let inY = (vStep * x + v0) * reciprocal - 0.5;
    if (bend !== 0) {
      const dx = inX + 0.5 - centreX;
      const dy = inY + 0.5 - centreY;
      const stretch = bend * (dx * dx + dy * dy);
      inX += stretch * dx;
      inY += stretch * dy;
    }
    if (inX >= 1 && inY >= 1 && inX < lastX && inY < lastY) {
      // Whole numbers of 32 bits: the compiler then keeps indices out of floating point.
      const i = Math.floor(inX) | 0;
      const j = Math.floor(inY) | 0;
      // Computing the weights is quicker than a table, and exact.
      const s = inX - i;
      const xa = outerWeight(s);
      const xb = innerWeight(s);
      const xd = outerWeight(1 - s);
      const xc = 1 - xa - xb - xd;
      const t = inY - j;
      const ya = outerWeight(t);
      const yb = innerWeight(t);
      const yd = outerWeight(1 - t);
      const yc = 1 - ya - yb - yd;
      const a = (offset + Math.imul(j - 1, rowStride) + Math.imul(i - 1, columnStride)) | 0;
      const b = (a + rowStride) | 0;
      const c = (b + rowStride) | 0;
      const d = (c + rowStride) | 0;
      output[start + column] =
        ya *
          (xa * lut[data[a]!]! +
            xb * lut[data[a + columnStride]!]! +
            xc * lut[data[a + columnStride2]!]! +
            xd * lut[data[a + columnStride3]!]!) +
        yb *
          (xa * lut[data[b]!]! +
            xb * lut[data[b + columnStride]!]! +
            xc * lut[data[b + columnStride2]!]! +
            xd * lut[data[b + columnStride3]!]!) +
        yc *
          (xa * lut[data[c]!]! +
            xb * lut[data[c + columnStride]!]! +
            xc * lut[data[c + columnStride2]!]! +
            xd * lut[data[c + columnStride3]!]!) +
        yd *
          (xa * lut[data[d]!]! +
            xb * lut[data[d + columnStride]!]! +
            xc * lut[data[d + columnStride2]!]! +
            xd * lut[data[d + columnStride3]!]!);
    } else {
      output[start + column] = lightAtBorder(source, lut, inX, inY);
    }
  }
}

/** Keys' kernel, a = −0.5, at distance 1 + s, 0 ≤ s ≤ 1. */
function outerWeight(s: number): number {
  return -0.5 * s * (1 - s) * (1 - s);
}

/** Keys' kernel, a = −0.5, at distance s, 0 ≤ s ≤ 1. */
function innerWeight(s: number): number {
  return 1 + s * s * (1.5 * s - 2.5);
}

/** The same sum where the kernel reaches beyond the border; apart, to keep the inner loop small. */
function lightAtBorder(source: Source, lut: Float32Array, inX: number, inY: number): number {
  // Three px beyond the border the kernel sees nothing but the border's own light.
  const x = Math.min(source.columns + 2, Math.max(-3, inX));
  const y = Math.min(source.rows + 2, Math.max(-3, inY));
  const i = Math.floor(x);
  const j = Math.floor(y);
  const weights = (s: number): readonly number[] => [
    outerWeight(s),
    innerWeight(s),
    innerWeight(1 - s),
    outerWeight(1 - s),
  ];
  const weightsX = weights(x - i);
  const weightsY = weights(y - j);
  let sum = 0;
  for (let dy = 0; dy < 4; dy += 1) {
    for (let dx = 0; dx < 4; dx += 1) {
      sum += weightsY[dy]! * weightsX[dx]! * lightAt(source, lut, i - 1 + dx, j - 1 + dy);
    }
  }
  return sum;
}

/** Linear light of a px, of the nearest one beyond the border. */
function lightAt(source: Source, lut: Float32Array, column: number, row: number): number {
  const i = Math.min(source.columns - 1, Math.max(0, column));
  const j = Math.min(source.rows - 1, Math.max(0, row));
  return lut[source.data[source.offset + j * source.rowStride + i * source.columnStride]!]!;
}

/** The denominator is linear, so it keeps its sign over the output when it has one sign at its corners. */
function checkHorizon(h: Float64Array, rows: number, columns: number): void {
  const corners = [
    h[8]!,
    h[6]! * columns + h[8]!,
    h[7]! * rows + h[8]!,
    h[6]! * columns + h[7]! * rows + h[8]!,
  ];
  if (!corners.every((w) => w > 0) && !corners.every((w) => w < 0)) {
    throw new RangeError('Expected a homography that is finite over the output but its horizon crosses it.');
  }
}

/** The point furthest out is a corner of the output, as the homography keeps it convex. */
function checkFold(lens: Lens, h: Float64Array, rows: number, columns: number): void {
  for (const x of [0, columns]) for (const y of [0, rows]) distortPoint(lens, applyHomography(h, x, y));
}
