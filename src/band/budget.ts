import { combineSd, COVERAGE_95, type Estimate } from '../core/estimate.js';
import type { Hz } from '../core/units.js';
import { clamp } from '../core/vector.js';
import type { OtherReading } from '../ripple/measureRipples.js';

/**
 * One cause of uncertainty with what one standard deviation of it does to each route, signed: where both
 * routes move the same way they are not independent.
 */
export interface BudgetLine {
  readonly cause:
    | 'scatter-null'
    | 'scatter-spacing'
    | 'scale-along-wall'
    | 'scale-along-height'
    | 'scale-from-reference'
    | 'speed'
    | 'layer-rounding'
    | 'layer-origin'
    | OtherReading['cause']
    | 'axis-damping'
    | 'shaper-damping';
  readonly type: 'A' | 'B';
  /** 0 in all lines where no null was looked for. */
  readonly nullHz: Hz;
  readonly spacingHz: Hz;
}

/** Both routes to the ladder frequency of the null, and the best of the two together. */
export interface CombinedRoutes {
  readonly fromNull: Estimate;
  readonly fromSpacing: Estimate;
  readonly covariance: number;
  readonly combined: Estimate;
  /** Share of the null in it, 0 to 1; the spacing has the rest. */
  readonly weight: number;
  /** How far the routes lie apart, in standard uncertainties of their difference. */
  readonly strain: number;
}

/**
 * Combines the two routes by their covariance. Where they lie further apart than their uncertainties let
 * expect, some cause is larger than told, and the combination is made less certain by as much.
 * @param nullHz - Ladder frequency of the null that was found.
 * @param spacingHz - Ladder frequency of the null that the spacing predicts.
 * @param budget - Every cause of uncertainty.
 * @returns Both with their standard uncertainties, and the best linear unbiased combination.
 * @see GUM (JCGM 100:2008) equation 13 for correlated inputs; weights minimise the combined variance and
 * are kept within 0 … 1, so that the value never leaves the span of the two. The widening is the scale factor
 * of the Particle Data Group (Birge ratio), here |difference| ÷ its standard deviation (from memory); beyond 1.96 of
 * it, the 95 % interval reaches to both values.
 */
export function combineRoutes(nullHz: Hz, spacingHz: Hz, budget: readonly BudgetLine[]): CombinedRoutes {
  const fromNull = { value: nullHz, sd: combineSd(...budget.map((line) => line.nullHz)) };
  const fromSpacing = { value: spacingHz, sd: combineSd(...budget.map((line) => line.spacingHz)) };
  const covariance = budget.reduce((sum, line) => sum + line.nullHz * line.spacingHz, 0);
  const difference = fromNull.sd ** 2 + fromSpacing.sd ** 2 - 2 * covariance;
  const share = difference <= 0 ? 0.5 : (fromSpacing.sd ** 2 - covariance) / difference;
  const weight = clamp(share, [0, 1]);
  const own = combineSd(...budget.map((line) => weight * line.nullHz + (1 - weight) * line.spacingHz));
  const strain = difference <= 0 ? 1 : Math.abs(nullHz - spacingHz) / Math.sqrt(difference);
  const value = weight * nullHz + (1 - weight) * spacingHz;
  // Beyond what chance allows, the interval takes in both: neither is known to be the wrong one.
  const both = strain > COVERAGE_95 ? Math.max(Math.abs(value - nullHz), Math.abs(value - spacingHz)) : 0;
  const sd = Math.max(own * Math.max(1, strain), both / COVERAGE_95);
  return {
    fromNull,
    fromSpacing,
    covariance,
    combined: { value, sd },
    weight,
    strain,
  };
}
