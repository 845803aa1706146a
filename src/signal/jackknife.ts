/** Blocks that are left out one at a time; the method study used ten. */
const BLOCKS = 10;

/**
 * Splits places into up to ten consecutive blocks of even size, to leave out one at a time.
 * @param count - Number of places, ≥ 1.
 * @returns First place and the place after the last of each block.
 */
export function jackknifeBlocks(count: number): readonly (readonly [from: number, to: number])[] {
  const blocks = Math.min(BLOCKS, count);
  return Array.from({ length: blocks }, (_, block) => [
    Math.floor((block * count) / blocks),
    Math.floor(((block + 1) * count) / blocks),
  ]);
}

/**
 * Jackknife standard deviation of an estimate from its values with one block left out each.
 * @param values - Estimates, shape (blocks,).
 * @returns √((n − 1)/n · Σ(x − x̄)²).
 * @see Efron, "The Jackknife, the Bootstrap and Other Resampling Plans", SIAM 1982 (from memory).
 */
export function jackknifeSd(values: readonly number[]): number {
  const n = values.length;
  if (n < 2) return 0;
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return Math.sqrt(((n - 1) / n) * squares);
}
