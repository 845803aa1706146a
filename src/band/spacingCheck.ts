import { combineSd, type Estimate } from '../core/estimate.js';
import type { Hz, Mm, MmPerS } from '../core/units.js';

/** What the ripples' spacing says about the ladder frequency, without using the ladder. */
export interface SpacingCheck {
  readonly state: 'agrees' | 'disagrees' | 'not-measurable';
  /** Absent when no ripples stand out. */
  readonly spacingMm?: Estimate;
  /** Damped frequency: speed ÷ spacing. Absent when no ripples stand out. */
  readonly frequencyHz?: Estimate;
  /** The ladder frequency at which this axis should ring least, by the shaper's model. */
  readonly expectedNullHz?: Estimate;
  /** Present when it disagrees. */
  readonly explanation?: SpacingConflict;
}

/** What would have to be true for the two routes to agree, with its number. */
export interface SpacingConflict {
  readonly cause: 'speed' | 'reversed-ladder';
  /** Print speed that would reconcile null and spacing. */
  readonly impliedSpeedMmPerS: MmPerS;
  /** Where the null was found instead. */
  readonly nullHz: Hz;
  /** Absent where the null lies outside the ladder. */
  readonly nullHeightMm?: Mm;
}

/** Below this relative difference the two routes count as agreeing whatever their uncertainties: DESIGN 5.6. */
export const AGREEMENT = 0.025;

/**
 * Compares like with like: the null that was found with the null that the spacing predicts.
 * @param foundHz - Null found along the ladder.
 * @param expectedHz - Null that the ripples' frequency and damping predict for this shaper.
 * @param covariance - Covariance of the two, Hz² (a wrong speed moves both when the wall move is shaped).
 * @returns How far apart they are and may be: the larger of 2.5 % and three standard deviations of the difference.
 */
export function compareRoutes(foundHz: Estimate, expectedHz: Estimate, covariance: number): RoutesApart {
  const variance = combineSd(foundHz.sd, expectedHz.sd) ** 2 - 2 * covariance;
  const limitHz = Math.max(AGREEMENT * foundHz.value, 3 * Math.sqrt(Math.max(0, variance)));
  const apartHz = Math.abs(foundHz.value - expectedHz.value);
  return { apartHz, limitHz, agree: apartHz <= limitHz };
}

/** How far apart the two routes are, and how far they may be. */
export interface RoutesApart {
  readonly apartHz: Hz;
  readonly limitHz: Hz;
  readonly agree: boolean;
}
