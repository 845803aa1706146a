import type { MmPerS2 } from '../core/units.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import { jointCost, setUpJoint, type JointFit, type JointOptions, type JointProblem } from './jointFit.js';

/** Another acceleration held against the one that was told. */
export interface AccelerationCheck {
  /** The acceleration tried that leaves least. */
  readonly accelerationMmPerS2: MmPerS2;
  /** How much of what the ripples explain it explains more than the told one; ≤ 0 when the told one is best. */
  readonly gain: number;
}

/** The told acceleration is tried beside these multiples of it. */
const MULTIPLES = [0.25, 4] as const;
/** A wrong ramp moves the frequency that fits best, so all are tried: 12–150 Hz in steps of 5 %. */
const FREQUENCIES_HZ = Array.from({ length: 53 }, (_, i) => 12 * 1.05 ** i);
const DAMPINGS = [0.035, 0.1] as const;
/** A gain below this chi-square for each band is noise: it has two amplitudes to play with. */
const LEAST_CHI_SQUARE = 2;

/**
 * Holds the told acceleration against a quarter and four times as much: while the nozzle speeds up behind the
 * corner, ripples are squeezed by as much as the acceleration says, so a wrong one leaves more unexplained.
 * @param profiles - Profiles of the face, at the resolution to work with.
 * @param settings - The print's settings.
 * @param wall - The wall that was fitted.
 * @param options - Background and patterns, as in the fit.
 * @param fit - The fit at the told acceleration.
 * @returns The best multiple with its gain.
 */
export function checkAcceleration(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
  fit: JointFit,
): AccelerationCheck {
  const told = settings.accelerationMmPerS2;
  // The told one may choose among all frequencies as well, or it would lose for its want of choice.
  const own = leastCost(setUpJoint(profiles, settings, wall, options), fit);
  let best: AccelerationCheck = { accelerationMmPerS2: told, gain: 0 };
  if (own === undefined) return best;
  for (const multiple of MULTIPLES) {
    const accelerationMmPerS2 = multiple * told;
    const other = leastCost(setUpJoint(profiles, { ...settings, accelerationMmPerS2 }, wall, options), fit);
    if (other === undefined) continue;
    const gain = (own.left - other.left) / (own.energy - own.left);
    const chiSquare = ((own.left - other.left) / own.left) * own.freedom;
    if (gain > best.gain && chiSquare > LEAST_CHI_SQUARE * own.bands) best = { accelerationMmPerS2, gain };
  }
  return best;
}

/** Weighted energy for each degree of freedom, before and after the best ripples are taken out. */
function leastCost(
  problem: JointProblem,
  { weights, frequencyHz, dampingRatio }: JointFit,
): { left: number; energy: number; freedom: number; bands: number } | undefined {
  let energy = 0;
  let freedom = 0;
  let bands = 0;
  for (const group of problem.groups) {
    bands += group.bands.length;
    freedom += group.bands.length * group.degreesOfFreedom;
    group.bands.forEach((band, row) => (energy += weights[band]! * group.energies[row]!));
  }
  if (freedom === 0) return undefined;
  const trials = FREQUENCIES_HZ.flatMap((hz) => DAMPINGS.map((zeta) => [hz, zeta] as const));
  const costs = [[frequencyHz, dampingRatio] as const, ...trials].map(([hz, zeta]) =>
    jointCost(problem, hz, zeta, weights),
  );
  return { left: Math.min(...costs) / freedom, energy: energy / freedom, freedom, bands };
}
