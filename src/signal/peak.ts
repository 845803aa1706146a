/**
 * Where the top of a spectral peak lies between bins: a parabola through the logarithms of three bins.
 * @param power - Power or amplitude spectrum (the offset is the same for both), shape (bins,).
 * @param index - The highest bin.
 * @returns Offset from `index`, bins, within ±0.5; 0 at an end of the spectrum, where a neighbour is not
 * positive, and where the three bins have no top.
 * @throws {RangeError} When `index` is not a bin.
 * @see Bias for a Hann window at most 0.016 bin: test/reference/peak_interpolation_bias.csv.
 */
export function interpolatePeak(power: ArrayLike<number>, index: number): number {
  if (!Number.isInteger(index) || index < 0 || index >= power.length) {
    throw new RangeError(`Expected a bin from 0 to ${power.length - 1} but received ${index}.`);
  }
  if (index === 0 || index === power.length - 1) return 0;
  const left = Math.log(power[index - 1]!);
  const right = Math.log(power[index + 1]!);
  const curvature = left - 2 * Math.log(power[index]!) + right;
  // Written so that NaN and −∞ (bins that are zero or negative) give 0 as well.
  if (!(curvature < 0 && curvature > -Infinity)) return 0;
  return Math.min(0.5, Math.max(-0.5, (0.5 * (left - right)) / curvature));
}
