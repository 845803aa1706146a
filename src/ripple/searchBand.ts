import type { DampingRatio, Hz } from '../core/units.js';

/** Where ringing is looked for: printers ring there (common practice, no source). */
export const SEARCH_HZ: { readonly low: Hz; readonly high: Hz } = { low: 12, high: 150 };

/** Below this damping ratio a line is a pattern of fixed pitch, not ringing: DESIGN 5.4. */
export const LEAST_DAMPING: DampingRatio = 0.016;
/** From this damping ratio on what decays is the corner's bulge or a shadow, not ringing: DESIGN 5.7. */
export const MOST_DAMPING: DampingRatio = 0.28;
/**
 * Relative 95 % half-width of a damping ratio beyond which nobody can tell whether it decays at all: no ringing for certain,
 * since a scratch or an edge imitates it.
 */
export const MOST_DECAY_U95 = 1.5;
