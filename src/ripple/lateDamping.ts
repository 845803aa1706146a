import type { DampingRatio } from '../core/units.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import { minimise1d } from '../signal/simplex.js';
import { decayPerS, jointCost, setUpJoint, type JointFit, type JointOptions } from './jointFit.js';

/** How far from the whole wall's damping the late wall's is looked for, as a factor. */
const REACH = 4;

/**
 * Damping ratio of the wall beyond one decay length. A free oscillation decays alike everywhere; where light,
 * gloss or the corner's bulge change the contrast along the wall, the two differ, and neither is to be trusted
 * by more than that.
 * @param profiles - Profiles of the face without outliers, at the resolution to work with.
 * @param settings - The print's settings.
 * @param wall - The wall that was fitted.
 * @param options - Background and patterns, as in the fit.
 * @param fit - The fit over the whole wall.
 * @returns The damping ratio at the fit's frequency, or undefined when too little of the wall is left.
 */
export function lateDamping(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
  fit: JointFit,
): DampingRatio | undefined {
  const decayMm = settings.speedMmPerS.value / decayPerS(fit.frequencyHz, fit.dampingRatio);
  const late = { ...wall, startMm: wall.startMm + decayMm };
  const problem = setUpJoint(profiles, settings, late, options);
  if (problem.groups.length === 0) return undefined;
  const cost = (ln: number) => jointCost(problem, fit.frequencyHz, Math.exp(ln), fit.weights);
  const middle = Math.log(fit.dampingRatio);
  const reach = Math.log(REACH);
  return Math.exp(minimise1d(cost, middle - reach, middle + reach, 0.02).point);
}
