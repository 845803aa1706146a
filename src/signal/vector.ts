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
 * Keeps a number inside limits.
 * @param value - The number.
 * @param limits - Lowest and highest value, low ≤ high.
 * @returns The nearest number inside.
 */
export function clamp(value: number, limits: readonly [low: number, high: number]): number {
  return Math.min(limits[1], Math.max(limits[0], value));
}
