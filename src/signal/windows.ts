/**
 * Hann window, periodic (DFT-even): ½(1 − cos(2πk/n)), k = 0 … n − 1.
 * @param n - Number of samples, ≥ 1.
 * @returns Weights from 0 at the first sample to 1 in the middle, shape (n,).
 * @throws {RangeError} When n is not a whole number ≥ 1.
 * @see Harris, "On the use of windows for harmonic analysis with the DFT", Proc. IEEE 66(1), 1978.
 */
export function hann(n: number): Float64Array {
  return raisedCosine(n, (k) => (2 * k) / n - 1);
}

/**
 * The falling half of a Hann window: ½(1 + cos(πk/n)), k = 0 … n − 1. It keeps the start of a record, where a
 * decaying oscillation is strongest, and takes away the step at its end.
 * @param n - Number of samples, ≥ 1.
 * @returns Weights from 1 at the first sample down to almost 0 at the last, shape (n,).
 * @throws {RangeError} When n is not a whole number ≥ 1.
 */
export function halfHann(n: number): Float64Array {
  return raisedCosine(n, (k) => k / n);
}

/** ½(1 + cos πu) at the place u of each sample, 1 at u = 0 and 0 at u = ±1. */
function raisedCosine(n: number, place: (k: number) => number): Float64Array {
  if (!Number.isInteger(n) || n < 1) {
    throw new RangeError(`Expected a whole number of samples ≥ 1 but received ${n}.`);
  }
  return Float64Array.from({ length: n }, (_, k) => 0.5 * (1 + Math.cos(Math.PI * place(k))));
}
