/**
 * Chebyshev polynomials at many places by their recurrence. As T_k(cos x) = cos kx, it makes rows of cosines as well.
 * @param u - Places, −1 to 1, shape (n,); not modified.
 * @param order - Highest order, ≥ 1.
 * @returns T₀ … T_order, each shape (n,); rounding grows to about order² · 1e-16 at the ends.
 */
export function chebyshevRows(u: Float64Array, order: number): readonly Float64Array[] {
  const rows = [new Float64Array(u.length).fill(1), u.slice()];
  for (let k = 2; k <= order; k += 1) {
    const [last, before] = [rows[k - 1]!, rows[k - 2]!];
    const row = new Float64Array(u.length);
    for (let i = 0; i < row.length; i += 1) row[i] = 2 * u[i]! * last[i]! - before[i]!;
    rows.push(row);
  }
  return rows;
}
