/**
 * Scalar product.
 * @param a - Shape (n,).
 * @param b - Shape (n,) or longer.
 * @returns Σ aᵢ bᵢ over the length of `a`.
 */
export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i]! * b[i]!;
  return sum;
}

/**
 * Scalar products of rows with columns. Four rows and two columns go side by side: one product alone waits for
 * each of its additions to end, and loads two numbers where a block loads six for eight.
 * @param rows - Each shape (n,).
 * @param columns - Each shape (n,).
 * @param products - Receives the result, shape (rows · columns,) or longer; made unless given.
 * @returns Σ aᵢ bᵢ of each row and column, each summed in order; row-major, shape (rows · columns,).
 */
export function dots(
  rows: readonly Float64Array[],
  columns: readonly Float64Array[],
  products: Float64Array = new Float64Array(rows.length * columns.length),
): Float64Array {
  const width = columns.length;
  for (let j = 0; j < width; j += 2) {
    if (j + 1 < width) dotsWithTwo(rows, columns[j]!, columns[j + 1]!, products, j, width);
    else dotsWithOne(rows, columns[j]!, products, j, width);
  }
  return products;
}

/** Products of all rows with two columns, into places `start` and `start` + 1 of each row of the result. */
function dotsWithTwo(
  rows: readonly Float64Array[],
  c0: Float64Array,
  c1: Float64Array,
  products: Float64Array,
  start: number,
  width: number,
): void {
  for (let i0 = 0; i0 < rows.length; i0 += 4) {
    // Where a block reaches beyond the end, its last row is counted again.
    const i1 = Math.min(i0 + 1, rows.length - 1);
    const i2 = Math.min(i0 + 2, rows.length - 1);
    const i3 = Math.min(i0 + 3, rows.length - 1);
    const r0 = rows[i0]!;
    const r1 = rows[i1]!;
    const r2 = rows[i2]!;
    const r3 = rows[i3]!;
    let [p00, p01, p10, p11, p20, p21, p30, p31] = [0, 0, 0, 0, 0, 0, 0, 0];
    for (let k = 0; k < c0.length; k += 1) {
      const x0 = c0[k]!;
      const x1 = c1[k]!;
      const y0 = r0[k]!;
      const y1 = r1[k]!;
      const y2 = r2[k]!;
      const y3 = r3[k]!;
      p00 += y0 * x0;
      p01 += y0 * x1;
      p10 += y1 * x0;
      p11 += y1 * x1;
      p20 += y2 * x0;
      p21 += y2 * x1;
      p30 += y3 * x0;
      p31 += y3 * x1;
    }
    products[i0 * width + start] = p00;
    products[i0 * width + start + 1] = p01;
    products[i1 * width + start] = p10;
    products[i1 * width + start + 1] = p11;
    products[i2 * width + start] = p20;
    products[i2 * width + start + 1] = p21;
    products[i3 * width + start] = p30;
    products[i3 * width + start + 1] = p31;
  }
}

/** The same with one column. */
function dotsWithOne(
  rows: readonly Float64Array[],
  c: Float64Array,
  products: Float64Array,
  start: number,
  width: number,
): void {
  for (let i0 = 0; i0 < rows.length; i0 += 4) {
    const i1 = Math.min(i0 + 1, rows.length - 1);
    const i2 = Math.min(i0 + 2, rows.length - 1);
    const i3 = Math.min(i0 + 3, rows.length - 1);
    const r0 = rows[i0]!;
    const r1 = rows[i1]!;
    const r2 = rows[i2]!;
    const r3 = rows[i3]!;
    let [p0, p1, p2, p3] = [0, 0, 0, 0];
    for (let k = 0; k < c.length; k += 1) {
      const x = c[k]!;
      p0 += r0[k]! * x;
      p1 += r1[k]! * x;
      p2 += r2[k]! * x;
      p3 += r3[k]! * x;
    }
    products[i0 * width + start] = p0;
    products[i1 * width + start] = p1;
    products[i2 * width + start] = p2;
    products[i3 * width + start] = p3;
  }
}

/**
 * Takes multiples of columns away from values, in place. Four columns go side by side: the values are then loaded and
 * stored once for four of them.
 * @param values - Shape (n,); modified.
 * @param columns - Each shape (n,).
 * @param multiples - One for each column.
 */
export function subtractMultiples(
  values: Float64Array,
  columns: readonly Float64Array[],
  multiples: Float64Array,
): void {
  const fours = columns.length - (columns.length % 4);
  for (let j = 0; j < fours; j += 4) {
    const [c0, c1, c2, c3] = [columns[j]!, columns[j + 1]!, columns[j + 2]!, columns[j + 3]!];
    const [m0, m1, m2, m3] = [multiples[j]!, multiples[j + 1]!, multiples[j + 2]!, multiples[j + 3]!];
    for (let i = 0; i < values.length; i += 1) {
      values[i] = values[i]! - m0 * c0[i]! - m1 * c1[i]! - m2 * c2[i]! - m3 * c3[i]!;
    }
  }
  for (let j = fours; j < columns.length; j += 1) {
    const column = columns[j]!;
    const multiple = multiples[j]!;
    for (let i = 0; i < values.length; i += 1) values[i] = values[i]! - multiple * column[i]!;
  }
}

/**
 * Keeps a number inside limits.
 * @param value - The number.
 * @param limits - Lowest and highest value, low ≤ high.
 * @returns The nearest number inside.
 */
export function clamp(value: number, limits: readonly [low: number, high: number]): number {
  return Math.min(limits[1], Math.max(limits[0], value));
}

/**
 * Distance of two points.
 * @param a - One point.
 * @param b - The other, same unit.
 * @returns Their distance, same unit.
 */
export function distanceOf(a: readonly [number, number], b: readonly [number, number]): number {
  return Math.hypot(b[0] - a[0], b[1] - a[1]);
}
