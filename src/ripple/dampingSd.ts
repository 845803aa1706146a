import { combineSd } from '../core/estimate.js';
import type { DampingRatio } from '../core/units.js';
import type { Ripples } from './measureRipples.js';

/**
 * Light that changes along the wall imitates or hides decay, alike on all of it. Relative standard uncertainty of
 * the damping ratio for that, beside what its early and late parts show: a contrast that changes evenly by a
 * third from end to end of three decay lengths (drawn faces scatter by 5 to 10 %).
 */
export const LIGHT_ON_DAMPING = 0.1;

/**
 * Standard uncertainty of the damping ratio with all its causes.
 * @param ripples - Damping ratio of the whole wall and of its late part.
 * @returns Scatter, light, and how far early and late wall differ, combined.
 */
export function dampingSd({
  dampingRatio,
  lateDampingRatio = dampingRatio.value,
}: Pick<Ripples, 'dampingRatio' | 'lateDampingRatio'>): DampingRatio {
  return combineSd(
    dampingRatio.sd,
    LIGHT_ON_DAMPING * dampingRatio.value,
    // A decay that is not the same early and late is no better known than the two agree.
    lateDampingRatio - dampingRatio.value,
  );
}
