/** 1.4826: median absolute deviation to standard deviation for a normal distribution, 1 ÷ its quantile at 3/4. */
export const MAD_TO_SD = 1.4826;

/**
 * Median: the middle value, or the mean of the two middle ones.
 * @param values - Numbers, shape (n,), n ≥ 1; not modified.
 * @returns The median.
 * @throws {RangeError} When there are no values or one is not a number.
 */
export function median(values: ArrayLike<number>): number {
  return percentile(values, 50);
}

/**
 * Percentile by linear interpolation between ordered values.
 * @param values - Numbers, shape (n,), n ≥ 1; not modified.
 * @param p - Percentage, 0 to 100.
 * @returns The value at rank p/100 · (n − 1), counted from 0.
 * @throws {RangeError} When there are no values, one is not a number, or p is outside 0 to 100.
 * @see numpy.percentile, method 'linear' (its default); Hyndman & Fan's definition 7 (from memory).
 */
export function percentile(values: ArrayLike<number>, p: number): number {
  if (values.length === 0) throw new RangeError('Expected at least one value but received none.');
  if (!(p >= 0 && p <= 100)) throw new RangeError(`Expected a percentage from 0 to 100 but received ${p}.`);
  const own = new Float64Array(values);
  for (const value of own) {
    if (Number.isNaN(value)) throw new RangeError('Expected numbers but received NaN.');
  }
  const rank = (p / 100) * (own.length - 1);
  const below = Math.floor(rank);
  partition(own, below);
  const low = own[below]!;
  if (rank === below) return low;
  let next = Infinity;
  for (let i = below + 1; i < own.length; i += 1) if (own[i]! < next) next = own[i]!;
  // Between equals there is nothing to interpolate, and infinities have no difference.
  return next === low ? low : low + (rank - below) * (next - low);
}

/**
 * Puts the value of a rank in its place, smaller ones before it and larger ones behind it: all that a percentile
 * needs, at a fraction of a full sort.
 * @see Hoare, "Algorithm 65: find", Comm. ACM 4, 1961 (from memory).
 */
function partition(values: Float64Array, rank: number): void {
  let low = 0;
  let high = values.length - 1;
  while (low < high) {
    const pivot = values[rank]!;
    let i = low;
    let j = high;
    // Both sides stop at values equal to the pivot, so that equals are shared out evenly.
    while (i <= j) {
      while (values[i]! < pivot) i += 1;
      while (values[j]! > pivot) j -= 1;
      if (i > j) break;
      const swapped = values[i]!;
      values[i] = values[j]!;
      values[j] = swapped;
      i += 1;
      j -= 1;
    }
    if (j < rank) low = i;
    if (rank < i) high = j;
  }
}

/**
 * Median of each value and its neighbours on both sides. Beyond an end the end's own value is repeated.
 * @param values - Numbers, none NaN, shape (n,); not modified.
 * @param halfWidth - Neighbours on each side, ≥ 0.
 * @returns Shape (n,).
 * @throws {RangeError} When `halfWidth` is not a whole number ≥ 0, or a value is not a number.
 * @see scipy.ndimage.median_filter, size 2·halfWidth + 1, mode 'nearest'.
 */
export function runningMedian(values: Float64Array, halfWidth: number): Float64Array {
  if (!Number.isInteger(halfWidth) || halfWidth < 0) {
    throw new RangeError(`Expected a whole number of neighbours ≥ 0 but received ${halfWidth}.`);
  }
  if (values.some((value) => Number.isNaN(value))) throw new RangeError('Expected numbers but received NaN.');
  const n = values.length;
  if (n === 0) return new Float64Array(0);
  const at = (i: number): number => values[Math.min(n - 1, Math.max(0, i))]!;
  // The window is kept sorted: each step takes one value out and puts one in.
  const window = Float64Array.from({ length: 2 * halfWidth + 1 }, (_, k) => at(k - halfWidth)).sort();
  const result = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    result[i] = window[halfWidth]!;
    replaceSorted(window, at(i - halfWidth), at(i + halfWidth + 1));
  }
  return result;
}

/** Replaces one value of an ascending array by another and keeps the order. */
function replaceSorted(sorted: Float64Array, old: number, fresh: number): void {
  let i = 0;
  let high = sorted.length - 1;
  while (i < high) {
    const middle = (i + high) >> 1;
    if (sorted[middle]! < old) i = middle + 1;
    else high = middle;
  }
  for (; i < sorted.length - 1 && sorted[i + 1]! < fresh; i += 1) sorted[i] = sorted[i + 1]!;
  for (; i > 0 && sorted[i - 1]! > fresh; i -= 1) sorted[i] = sorted[i - 1]!;
  sorted[i] = fresh;
}
