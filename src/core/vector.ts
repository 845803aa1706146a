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
 * Scalar products of rows with columns. Three rows and two columns go side by side: one product alone waits for
 * each of its additions to end, and loads two numbers where a block loads five for six.
 * @param rows - Each shape (n,).
 * @param columns - Each shape (n,).
 * @returns Σ aᵢ bᵢ of each row and column, each summed in order; row-major, shape (rows · columns,).
 */
export function dots(rows: readonly Float64Array[], columns: readonly Float64Array[]): Float64Array {
  const width = columns.length;
  const products = new Float64Array(rows.length * width);
  for (let j0 = 0; j0 < width; j0 += 2) {
    // Where a block reaches beyond the end, its last row or column is counted again.
    const j1 = Math.min(j0 + 1, width - 1);
    const c0 = columns[j0]!;
    const c1 = columns[j1]!;
    for (let i0 = 0; i0 < rows.length; i0 += 3) {
      const i1 = Math.min(i0 + 1, rows.length - 1);
      const i2 = Math.min(i0 + 2, rows.length - 1);
      const r0 = rows[i0]!;
      const r1 = rows[i1]!;
      const r2 = rows[i2]!;
      let [p00, p01, p10, p11, p20, p21] = [0, 0, 0, 0, 0, 0];
      for (let k = 0; k < c0.length; k += 1) {
        const x0 = c0[k]!;
        const x1 = c1[k]!;
        const y0 = r0[k]!;
        const y1 = r1[k]!;
        const y2 = r2[k]!;
        p00 += y0 * x0;
        p01 += y0 * x1;
        p10 += y1 * x0;
        p11 += y1 * x1;
        p20 += y2 * x0;
        p21 += y2 * x1;
      }
      products[i0 * width + j0] = p00;
      products[i0 * width + j1] = p01;
      products[i1 * width + j0] = p10;
      products[i1 * width + j1] = p11;
      products[i2 * width + j0] = p20;
      products[i2 * width + j1] = p21;
    }
  }
  return products;
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
