import type { DampingRatio, Hz } from '../core/units.js';

/**
 * Natural (undamped) frequency of a mode that swings freely at a given frequency.
 * @param dampedHz - Damped frequency.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns f = f_d / √(1 − ζ²).
 */
export function naturalHz(dampedHz: Hz, dampingRatio: DampingRatio): Hz {
  return dampedHz / Math.sqrt(1 - dampingRatio * dampingRatio);
}
