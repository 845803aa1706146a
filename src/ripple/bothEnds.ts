import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import {
  countBands,
  freedomOf,
  fromOneEnd,
  jointCost,
  moveFit,
  searchJoint,
  setUpJoint,
  type JointFit,
  type JointGrid,
  type JointOptions,
} from './jointFit.js';
import { LEAST_DAMPING, MOST_DAMPING, SEARCH_HZ } from './searchBand.js';

/** Below this energy at the far end ÷ at the leading corner nothing begins there. */
const LEAST_END_RATIO = 0.35;
/**
 * Chi-square for each band that ripples from either end must add to those from the other one. On drawn faces printed one
 * way it stays below 10, on those printed in alternating directions whose ripples show it lies above 100.
 */
const LEAST_CHI_SQUARE = 25;

/**
 * Whether ripples begin at both ends of a wall, as where its layers are printed in alternating directions.
 * @param profiles - Profiles of the face, at the resolution to search with.
 * @param settings - The print's settings.
 * @param wall - The wall.
 * @param options - Background and patterns.
 * @param grid - What to try, with decays of ringing.
 * @param search - What was found with ripples from the leading corner only.
 * @param endRatio - Energy at the far end ÷ at the leading corner.
 * @returns True where either end adds what the other one does not explain.
 */
export function beginsAtBothEnds(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
  grid: JointGrid,
  search: JointFit,
  endRatio: number,
): boolean {
  if (endRatio < LEAST_END_RATIO) return false;
  const problem = setUpJoint(profiles, { ...settings, direction: 'alternates' }, wall, options);
  const both = searchJoint(problem, grid);
  if (both === undefined || !isRinging(both)) return false;
  const { weights } = both;
  const bands = countBands(problem);
  const cost = (fit: JointFit) => jointCost(fit.problem, fit.frequencyHz, fit.dampingRatio, weights);
  const left = cost(both);
  const adds = (others: readonly JointFit[]) =>
    (Math.min(...others.map(cost)) / left - 1) * (freedomOf(problem) / bands) > LEAST_CHI_SQUARE;
  const near = fromOneEnd(problem, 'near');
  return (
    adds([moveFit(near, search), moveFit(near, both)]) && adds([moveFit(fromOneEnd(problem, 'far'), both)])
  );
}

/** Neither a pattern of the drive nor what the background leaves. */
function isRinging({ frequencyHz, dampingRatio }: JointFit): boolean {
  return frequencyHz > SEARCH_HZ.low && dampingRatio > LEAST_DAMPING && dampingRatio < MOST_DAMPING;
}
