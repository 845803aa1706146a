/** A measured value with its standard uncertainty (JCGM 100:2008, "GUM": one standard deviation). */
export interface Estimate {
  readonly value: number;
  /** Standard uncertainty, same unit as `value`, ≥ 0. */
  readonly sd: number;
}

/** An estimate with its 95 % interval. */
export interface Interval extends Estimate {
  readonly low95: number;
  readonly high95: number;
}

/**
 * Coverage factor of a 95 % interval for a normal distribution.
 * Source: GUM (JCGM 100:2008) table G.1, 1.960.
 */
export const COVERAGE_95 = 1.96;

/** Standard uncertainty of a rectangular distribution ÷ its full width: GUM (JCGM 100:2008) 4.3.7. */
export const RECTANGULAR = 1 / Math.sqrt(12);

/**
 * The symmetric 95 % interval of an estimate.
 * @param estimate - Value and standard uncertainty, any one unit.
 * @returns The same estimate with value ± 1.96 sd.
 */
export function interval95(estimate: Estimate): Interval {
  const half = COVERAGE_95 * estimate.sd;
  return {
    value: estimate.value,
    sd: estimate.sd,
    low95: estimate.value - half,
    high95: estimate.value + half,
  };
}

/**
 * How wide a 95 % interval is beside its value.
 * @param estimate - Value > 0 and standard uncertainty.
 * @returns Half-width ÷ value.
 */
export function relativeU95(estimate: Estimate): number {
  return (COVERAGE_95 * estimate.sd) / estimate.value;
}

/**
 * Combines independent standard uncertainties: the root of the sum of squares.
 * @param parts - Standard uncertainties, all of one unit.
 * @returns The combined standard uncertainty, same unit.
 * @see GUM (JCGM 100:2008) equation 10, sensitivity coefficients already applied.
 */
export function combineSd(...parts: readonly number[]): number {
  return Math.hypot(...parts);
}
