/** Places of the integral over the floor's distribution: ample for a smooth bell. */
const PLACES = 200;

/**
 * How often the highest line of pure white noise stands so far out of the median amplitude of its neighbours.
 *
 * At one frequency the power of noise is exponentially distributed. Over a band the spectrum is a smooth random
 * process, and its maximum exceeds z times the mean power with probability 1 − exp(−(1 + 2√π Bτ √z) e^{−z}):
 * B is the width of the band and τ the standard deviation of time under the squared window. The neighbours'
 * median is itself uncertain: the median of n independent powers is −ln(1 − U) with U ~ Beta((n + 1)/2, (n + 1)/2).
 * @param ratio - Highest amplitude ÷ median amplitude of the neighbours, ≥ 0.
 * @param bandTimesSpread - Bτ, cycles.
 * @param neighbours - Independent amplitudes behind the median, > 0.
 * @returns The probability.
 * @see Davies, "Hypothesis testing when a nuisance parameter is present only under the alternative", Biometrika
 * 74, 1987, for the maximum; Baluev, MNRAS 385, 2008, in this form; David & Nagaraja, *Order Statistics*, for the
 * median (all from memory).
 */
export function noisePeakChance(ratio: number, bandTimesSpread: number, neighbours: number): number {
  const upcrossings = 2 * Math.sqrt(Math.PI) * bandTimesSpread;
  let sum = 0;
  let weights = 0;
  for (let place = 0; place < PLACES; place += 1) {
    const u = (place + 0.5) / PLACES;
    const weight = (4 * u * (1 - u)) ** ((neighbours - 1) / 2);
    const z = -ratio * ratio * Math.log1p(-u);
    weights += weight;
    sum += weight * -Math.expm1(-(1 + upcrossings * Math.sqrt(z)) * Math.exp(-z));
  }
  return sum / weights;
}
