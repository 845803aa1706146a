/** Below this the series of the error function is quick and exact, above it the continued fraction. */
const SERIES_UP_TO = 3;
/** More terms than either needs to full precision on its side of the boundary. */
const MOST_TERMS = 200;

/**
 * Cumulative distribution function of the standard normal distribution.
 * @param z - Deviate, in standard deviations.
 * @returns Probability of a smaller one, 0 to 1.
 * @throws {RangeError} When `z` is NaN.
 * @see Abramowitz & Stegun, Handbook of Mathematical Functions, 26.2.11 (series) and 26.2.14 (continued fraction).
 */
export function normalBelow(z: number): number {
  if (Number.isNaN(z)) throw new RangeError('Expected a number for z but received NaN.');
  const size = Math.abs(z);
  const density = Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
  if (size < SERIES_UP_TO) {
    let term = z;
    let sum = z;
    for (let n = 1; n < MOST_TERMS && Math.abs(term) > Number.EPSILON * Math.abs(sum); n += 1) {
      term *= (z * z) / (2 * n + 1);
      sum += term;
    }
    return 0.5 + density * sum;
  }
  let fraction = size;
  for (let n = MOST_TERMS; n >= 1; n -= 1) fraction = size + n / fraction;
  const beyond = density / fraction;
  return z < 0 ? beyond : 1 - beyond;
}
