/** A damped wave at given times, as the parts of e^{(−σ + jω)t}. */
export interface DampedWave {
  /** e^{−σt} cos ωt, shape (n,). */
  readonly re: Float64Array;
  /** e^{−σt} sin ωt, shape (n,). */
  readonly im: Float64Array;
}

/** Samples that are turned on from one computed afresh, so that rounding adds up to 1e-14 at most. */
const STRETCH = 32;
/** Times that deviate by no more from an even grid count as even, s: a travel map promises no better. */
const EVEN_S = 1e-12;

/**
 * A damped wave at given times. Within a stretch of evenly spaced times each sample is the one before it times a
 * complex number; elsewhere exponential, cosine and sine are computed.
 * @param timeS - Times, s, in any order, shape (n,); not modified.
 * @param decayPerS - Decay rate σ.
 * @param omegaRadPerS - Angular frequency ω.
 * @param wave - Receives the wave, two arrays of shape (n,); made unless given.
 * @returns The wave, to 1e-12 ω.
 */
export function dampedWave(
  timeS: Float64Array,
  decayPerS: number,
  omegaRadPerS: number,
  wave: DampedWave = { re: new Float64Array(timeS.length), im: new Float64Array(timeS.length) },
): DampedWave {
  const n = timeS.length;
  const { re, im } = wave;
  for (let start = 0; start < n; start += STRETCH) {
    const end = Math.min(n, start + STRETCH);
    const firstS = timeS[start]!;
    const stepS = (timeS[end - 1]! - firstS) / Math.max(1, end - 1 - start);
    const shrink = Math.exp(-decayPerS * stepS);
    const turnRe = shrink * Math.cos(omegaRadPerS * stepS);
    const turnIm = shrink * Math.sin(omegaRadPerS * stepS);
    const size = Math.exp(-decayPerS * firstS);
    let x = size * Math.cos(omegaRadPerS * firstS);
    let y = size * Math.sin(omegaRadPerS * firstS);
    for (let i = start; i < end; i += 1) {
      const offS = timeS[i]! - (firstS + (i - start) * stepS);
      if (Math.abs(offS) <= EVEN_S) {
        re[i] = x;
        im[i] = y;
      } else {
        const own = Math.exp(-decayPerS * timeS[i]!);
        re[i] = own * Math.cos(omegaRadPerS * timeS[i]!);
        im[i] = own * Math.sin(omegaRadPerS * timeS[i]!);
      }
      const turned = x * turnRe - y * turnIm;
      y = x * turnIm + y * turnRe;
      x = turned;
    }
  }
  return wave;
}
