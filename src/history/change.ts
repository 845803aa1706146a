import { combineSd, interval95, type Estimate, type Interval } from '../core/estimate.js';
import { normalBelow } from '../signal/normal.js';

/** How much one value lies above an earlier one. */
export interface Change {
  readonly before: Estimate;
  readonly after: Estimate;
  /** After less before. */
  readonly by: Interval;
  /** The change is more than both uncertainties allow: its 95 % interval leaves zero out. */
  readonly changed: boolean;
  /** How likely so large a difference is where nothing has changed, 0 to 1. */
  readonly chance: number;
}

/**
 * Holds a value against an earlier one; both are taken as independent.
 * @param before - The earlier value.
 * @param after - The later one, same unit.
 * @returns The change with its 95 % interval; `chance` is the two-sided tail of the normal distribution.
 */
export function changeOf(before: Estimate, after: Estimate): Change {
  const by = interval95({ value: after.value - before.value, sd: combineSd(before.sd, after.sd) });
  const apart = Math.abs(by.value) / by.sd;
  return {
    before,
    after,
    by,
    changed: by.low95 > 0 || by.high95 < 0,
    // Two exact values that are equal have not moved, and two that differ have.
    chance: by.sd > 0 ? 2 * normalBelow(-apart) : by.value === 0 ? 1 : 0,
  };
}

/**
 * Mean of values by 1 ÷ variance.
 * @param values - At least one, same unit, independent of each other.
 * @returns The mean; where they scatter more than they say, as uncertain as they scatter. Exact values outweigh all others.
 * @throws {RangeError} When there is none.
 * @see Particle Data Group, Review of Particle Physics, scale factor (Birge ratio; from memory).
 */
export function meanOf(values: readonly Estimate[]): Estimate {
  if (values.length === 0) throw new RangeError('Expected at least one value but received none.');
  const exact = values.some(({ sd }) => sd === 0);
  const weights = values.map(({ sd }) => (exact ? (sd === 0 ? 1 : 0) : 1 / sd ** 2));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const weighted = (of: (one: Estimate) => number) =>
    values.reduce((sum, one, i) => sum + (weights[i] ?? 0) * of(one), 0);
  const value = weighted((one) => one.value) / total;
  const excess = values.length < 2 ? 0 : weighted((one) => (one.value - value) ** 2) / (values.length - 1);
  const variance = exact ? excess / total : Math.max(1, excess) / total;
  return { value, sd: Math.sqrt(variance) };
}
