import type { DampingRatio, Hz } from '../core/units.js';

/**
 * Frequency at which a mode swings freely.
 * @param naturalHz - Natural (undamped) frequency.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns f_d = f √(1 − ζ²).
 */
export function dampedHz(naturalHz: Hz, dampingRatio: DampingRatio): Hz {
  return naturalHz * Math.sqrt(1 - dampingRatio * dampingRatio);
}

/**
 * Natural (undamped) frequency of a mode that swings freely at a given frequency.
 * @param dampedHz - Damped frequency.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns f = f_d / √(1 − ζ²).
 */
export function naturalHz(dampedHz: Hz, dampingRatio: DampingRatio): Hz {
  return dampedHz / Math.sqrt(1 - dampingRatio * dampingRatio);
}
