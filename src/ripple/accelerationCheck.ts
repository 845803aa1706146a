import type { DampingRatio, Hz, MmPerS2 } from '../core/units.js';
import { dot } from '../core/vector.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import {
  countBands,
  energies,
  freedomOf,
  jointCost,
  setUpJoint,
  type JointFit,
  type JointOptions,
  type JointProblem,
} from './jointFit.js';
import { SEARCH_HZ } from './searchBand.js';

/** Another acceleration held against the one that was told. */
export interface AccelerationCheck {
  /** The acceleration that was tried. */
  readonly accelerationMmPerS2: MmPerS2;
  /** How much of what the ripples explain it explains more than the told one; 0 when that makes no difference. */
  readonly gain: number;
}

/**
 * The told acceleration is tried beside this multiple of it. One told too high does little harm: the ramp is then
 * longer than believed, and most of what it squeezes lies in the 2 mm that are left out.
 */
const MULTIPLE = 4;
/** Below this change of the best frequency a wrong acceleration does no harm beyond the budget's speed. */
const HARMLESS = 0.03;
/** A wrong ramp moves the frequency that fits best, so all are tried: 12–150 Hz in steps of 5 %. */
const FREQUENCIES_HZ = Array.from({ length: 53 }, (_, i) => SEARCH_HZ.low * 1.05 ** i);
const DAMPINGS = [0.035, 0.1] as const;
/** A gain below this chi-square for each band is noise: it has two amplitudes to play with. */
const LEAST_CHI_SQUARE = 2;

/**
 * Holds the told acceleration against four times as much: while the nozzle speeds up behind the
 * corner, ripples are squeezed by as much as the acceleration says, so a wrong one leaves more unexplained.
 * @param profiles - Profiles of the face, at the resolution to work with.
 * @param settings - The print's settings.
 * @param wall - The wall that was fitted.
 * @param options - Background and patterns, as in the fit.
 * @param fit - The fit at the told acceleration.
 * @returns The other acceleration with its gain; 0 where it is harmless, no better, or cannot be compared.
 */
export function checkAcceleration(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
  fit: JointFit,
): AccelerationCheck {
  const told = settings.accelerationMmPerS2;
  const accelerationMmPerS2 = MULTIPLE * told;
  const none = { accelerationMmPerS2, gain: 0 };
  const otherProblem = setUpJoint(profiles, { ...settings, accelerationMmPerS2 }, wall, options);
  if (freedomOf(otherProblem) === 0) return none;
  const other = leastCost(otherProblem, fit, FREQUENCIES_HZ);
  if (Math.abs(other.frequencyHz / fit.frequencyHz - 1) < HARMLESS) return none;
  const problem = setUpJoint(profiles, settings, wall, options);
  if (freedomOf(problem) === 0) return none;
  const isNoise = (own: LeastCost): boolean =>
    ((own.left - other.left) / own.left) * own.freedom < LEAST_CHI_SQUARE * own.bands;
  if (isNoise(leastCost(problem, fit, []))) return none;
  // The told one may choose among all frequencies as well, or it would lose for its want of choice.
  const own = leastCost(problem, fit, FREQUENCIES_HZ);
  if (isNoise(own)) return none;
  return { accelerationMmPerS2, gain: Math.max(0, (own.left - other.left) / (own.energy - own.left)) };
}

/** The least that the ripples of the fit, or any of other frequencies, leave. */
function leastCost(
  problem: JointProblem,
  { weights, frequencyHz, dampingRatio }: JointFit,
  frequenciesHz: readonly Hz[],
): LeastCost {
  const freedom = freedomOf(problem);
  const energy = dot(energies(problem), weights);
  const bands = countBands(problem);
  let best = { left: Infinity, frequencyHz };
  const attempt = (hz: Hz, zeta: DampingRatio) => {
    const left = jointCost(problem, hz, zeta, weights) / freedom;
    if (left < best.left) best = { left, frequencyHz: hz };
  };
  attempt(frequencyHz, dampingRatio);
  for (const hz of frequenciesHz) for (const zeta of DAMPINGS) attempt(hz, zeta);
  return { ...best, energy: energy / freedom, freedom, bands };
}

/** The best ripples of one acceleration; energies are weighted, for each degree of freedom. */
interface LeastCost {
  readonly frequencyHz: Hz;
  readonly left: number;
  /** Before they are taken out. */
  readonly energy: number;
  readonly freedom: number;
  readonly bands: number;
}
