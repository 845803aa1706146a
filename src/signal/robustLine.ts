import { MAD_TO_SD, median } from './median.js';

/** A straight line y = offset + slope · x that stray points do not move. */
export interface RobustLine {
  readonly offset: number;
  readonly slope: number;
  /** Robust standard deviation of y about the line: 1.4826 times the median distance. */
  readonly sd: number;
}

/**
 * Fits a line through points of which up to a quarter may stray: the median slope of pairs that are half the points
 * apart, and the median offset.
 * @param x - Positions, ascending, shape (n,), n ≥ 2; not modified.
 * @param y - Values, shape (n,); not modified.
 * @returns The line.
 * @throws {RangeError} When there are fewer than two points, the counts differ, or the positions do not ascend.
 * @see Theil, "A rank-invariant method of linear and polynomial regression analysis", Proc. Kon. Ned. Akad. Wetensch. A
 * 53, 1950, the incomplete method (from memory).
 */
export function fitLineRobustly(x: ArrayLike<number>, y: ArrayLike<number>): RobustLine {
  const n = x.length;
  if (n < 2 || y.length !== n) {
    throw new RangeError(`Expected at least two points but received ${n} and ${y.length} values.`);
  }
  const half = Math.floor(n / 2);
  const slopes = Array.from({ length: n - half }, (_, i) => (y[i + half]! - y[i]!) / (x[i + half]! - x[i]!));
  if (!slopes.every(Number.isFinite))
    throw new RangeError('Expected positions that ascend but some are the same.');
  const slope = median(slopes);
  const offset = median(Array.from({ length: n }, (_, i) => y[i]! - slope * x[i]!));
  const sd =
    MAD_TO_SD * median(Array.from({ length: n }, (_, i) => Math.abs(y[i]! - offset - slope * x[i]!)));
  return { offset, slope, sd };
}
