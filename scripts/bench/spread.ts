import { percentile } from '../../src/signal/median.js';

/** Middle of many values and how far they scatter. */
export interface Spread {
  readonly median: number;
  /** First and third quartile: half of all values lie between. */
  readonly quartiles: readonly [number, number];
}

/**
 * Median and quartiles.
 * @param values - Numbers, shape (n,), n ≥ 1; not modified.
 * @throws {RangeError} When there are no values or one is not a number.
 */
export function spreadOf(values: readonly number[]): Spread {
  return { median: percentile(values, 50), quartiles: [percentile(values, 25), percentile(values, 75)] };
}

/**
 * Median and quartiles of ratios, each within its own round, so that a slow spell of the machine cancels.
 * @param values - What is held against the unit, one for each round; not modified.
 * @param units - The unit in the same rounds; not modified.
 * @throws {RangeError} When the rounds are not the same, there are none, or a unit is not positive.
 */
export function ratioSpread(values: readonly number[], units: readonly number[]): Spread {
  if (values.length !== units.length) {
    throw new RangeError(`Expected as many units as values, ${values.length}, but received ${units.length}.`);
  }
  return spreadOf(
    values.map((value, round) => {
      const unit = units[round]!;
      if (!(unit > 0)) throw new RangeError(`Expected a unit above 0 but received ${unit}.`);
      return value / unit;
    }),
  );
}
