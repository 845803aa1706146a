import { combineSd, type Estimate } from '../core/estimate.js';

/** Mean moving range of two normal values ÷ their standard deviation: d2 for n = 2, 2 ÷ √π. */
const MOVING_RANGE = 2 / Math.sqrt(Math.PI);
/** Limits of a control chart, standard deviations: W. A. Shewhart's, NIST/SEMATECH e-Handbook 6.3.1. */
export const CHART_LIMIT = 3;
/** Weight of the newest value: 0.2 to 0.3 are usual, NIST/SEMATECH e-Handbook 6.3.2.4 (from memory). */
const NEWEST_SHARE = 0.3;

/**
 * Standard deviation of single values from the mean moving range, which slow drifts hardly widen.
 * @param values - Values in their order, shape (n,), n ≥ 2; not modified.
 * @returns Mean |difference of neighbours| ÷ d2.
 * @throws {RangeError} When there are fewer than two values.
 * @see NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2, individuals control charts.
 */
export function movingRangeSd(values: readonly number[]): number {
  if (values.length < 2) {
    throw new RangeError(`Expected at least two values but received ${values.length}.`);
  }
  let sum = 0;
  for (let i = 1; i < values.length; i += 1) sum += Math.abs(values[i]! - values[i - 1]!);
  return sum / (values.length - 1) / MOVING_RANGE;
}

/** Where an exponentially weighted moving average stands. */
export interface MovingAverage {
  readonly value: number;
  /** Standard deviation of its distance from the target, where nothing has moved. */
  readonly sd: number;
}

/**
 * Exponentially weighted moving average E_i = λ x_i + (1 − λ) E_(i−1), begun at the target.
 * @param values - Values with their standard uncertainties, independent of each other, shape (n,).
 * @param target - What they are held against; its uncertainty is common to all distances.
 * @param share - λ, above 0 up to 1. @default 0.3
 * @returns The average after each value. Its variance is λ² Σ (1 − λ)^(2(i−j)) σ_j² + (1 − (1 − λ)^i)² u²; with equal σ and
 * an exact target that is the published σ² λ ÷ (2 − λ) · (1 − (1 − λ)^(2i)).
 * @see S. W. Roberts, Control chart tests based on geometric moving averages, Technometrics 1 (1959) 239–250 (from memory);
 * NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4.
 */
export function movingAverage(
  values: readonly Estimate[],
  target: Estimate,
  share = NEWEST_SHARE,
): readonly MovingAverage[] {
  let value = target.value;
  let own = 0;
  return values.map((one, i) => {
    value = share * one.value + (1 - share) * value;
    own = Math.hypot(share * one.sd, (1 - share) * own);
    return { value, sd: combineSd(own, (1 - (1 - share) ** (i + 1)) * target.sd) };
  });
}
