import { combineSd, COVERAGE_95, interval95, type Estimate, type Interval } from '../core/estimate.js';
import type { DampingRatio, Hz } from '../core/units.js';
import { SHAPER_TOLERANCE } from '../core/outcome.js';
import { naturalHz } from '../physics/oscillator.js';
import { normalBelow } from '../signal/normal.js';

/** A frequency of the axis from before. */
export interface EarlierHz {
  readonly hz: Hz;
  /** Its 95 % half-width, as reports print it; absent where none is known. */
  readonly plusMinusHz?: Hz;
}

/** Whether the frequency has moved since. */
export interface SinceThen {
  readonly wasHz: Estimate;
  /** No uncertainty was told of the earlier frequency, and it is taken as exact. */
  readonly wasExact: boolean;
  /** How much higher the frequency is now. */
  readonly changeHz: Interval;
  /** The change is more than both uncertainties allow. */
  readonly moved: boolean;
  /** How likely the frequency still lies where a ZV shaper set to the earlier one cancels it, 0 to 1. */
  readonly withinZv: number;
}

/**
 * Holds a frequency by spacing against an earlier one. Both are taken as independent: a speed that is wrong in the same way
 * both times would cancel, but nobody knows that it was.
 * @param was - The earlier frequency: by spacing, or what a ladder proposed to enter.
 * @param now - Damped frequency by spacing, with all causes of uncertainty.
 * @param dampingRatio - Damping ratio measured with it.
 * @returns The change. What a ladder proposes may be the natural frequency, so the two may differ by as much as that and the
 * damped one do: a rectangular distribution of that half-width, GUM 4.3.7. The probability is that of a normal distribution about
 * the change, nothing being known of it before (GUM 4.3.6 reads an interval so).
 */
export function sinceThen(was: EarlierHz, now: Estimate, dampingRatio: DampingRatio): SinceThen {
  const wasHz: Estimate = { value: was.hz, sd: (was.plusMinusHz ?? 0) / COVERAGE_95 };
  const kindSd = (naturalHz(now.value, dampingRatio) - now.value) / Math.sqrt(3);
  const changeHz = interval95({ value: now.value - was.hz, sd: combineSd(now.sd, wasHz.sd, kindSd) });
  const zvHz = SHAPER_TOLERANCE.ZV * was.hz;
  const below = (hz: Hz) =>
    changeHz.sd > 0 ? normalBelow((hz - changeHz.value) / changeHz.sd) : hz < changeHz.value ? 0 : 1;
  return {
    wasHz,
    wasExact: was.plusMinusHz === undefined,
    changeHz,
    moved: changeHz.low95 > 0 || changeHz.high95 < 0,
    withinZv: below(zvHz) - below(-zvHz),
  };
}
