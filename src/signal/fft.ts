import FFT from 'fft.js';

/** The tables of one size and a buffer for the interleaved result. */
interface Plan {
  readonly tables: FFT;
  readonly interleaved: Float64Array;
}

/**
 * Tables by size. One measurement uses one or two sizes; the oldest goes when a ninth comes, so that a
 * long-running process does not keep every size it ever met.
 */
const plans = new Map<number, Plan>();
const MAX_PLANS = 8;

/**
 * One-sided spectrum of evenly sampled real numbers, X_k = Σ x_i e^{−2πj ik/n}, not scaled.
 * @param samples - Real samples, shape (n,), n a power of two ≥ 4; not modified.
 * @returns Real and imaginary parts, each shape (n/2 + 1,): bin k lies at k/n cycles per sample, the last one
 * at half the sampling rate.
 * @throws {RangeError} When n is not a power of two ≥ 4.
 */
export function realSpectrum(samples: Float64Array): { re: Float64Array; im: Float64Array } {
  const n = samples.length;
  if (n < 4 || !isPowerOfTwo(n)) {
    throw new RangeError(`Expected a power of two of at least 4 samples but received ${n}.`);
  }
  const { tables, interleaved } = planFor(n);
  tables.realTransform(interleaved, samples);
  const bins = n / 2 + 1;
  const re = new Float64Array(bins);
  const im = new Float64Array(bins);
  for (let k = 0; k < bins; k += 1) {
    re[k] = interleaved[2 * k]!;
    im[k] = interleaved[2 * k + 1]!;
  }
  return { re, im };
}

/**
 * The smallest power of two that is not smaller than n.
 * @param n - A count, 1 to 2³⁰.
 * @returns The power of two.
 * @throws {RangeError} When n is outside 1 to 2³⁰.
 */
export function nextPowerOfTwo(n: number): number {
  if (!(n >= 1 && n <= 2 ** 30)) throw new RangeError(`Expected a count from 1 to 2^30 but received ${n}.`);
  let power = 1;
  while (power < n) power *= 2;
  return power;
}

function isPowerOfTwo(n: number): boolean {
  return (n & (n - 1)) === 0;
}

function planFor(n: number): Plan {
  const known = plans.get(n);
  if (known !== undefined) return known;
  const plan = { tables: new FFT(n), interleaved: new Float64Array(2 * n) };
  const oldest = plans.keys().next();
  if (plans.size >= MAX_PLANS && oldest.done !== true) plans.delete(oldest.value);
  plans.set(n, plan);
  return plan;
}
