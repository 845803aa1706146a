import type { Mm } from '../core/units.js';
import { clamp } from '../core/vector.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import { minimise } from '../signal/simplex.js';
import {
  changedAlong,
  CORNER_MM,
  DAMPING_RANGE,
  decayPerS,
  fitsSquares,
  freedomOf,
  jointCost,
  setUpJoint,
  withSquares,
  type JointFit,
  type JointOptions,
  type JointProblem,
} from './jointFit.js';

/** A place of the wall beyond which ripples show the other way round. */
export interface PhaseTurn {
  /** From the leading corner. */
  readonly atMm: Mm;
  /** How many decay lengths of the ripples it lies behind where the wall is read from. */
  readonly decays: number;
  /**
   * How much worse ripples fit that do not turn over, whether they decay evenly, grow with the distance from the
   * corner, end at such a place or begin there: chi-square of the best of them less that of ripples that do.
   */
  readonly chiSquare: number;
}

/** How strongly the light shows the slope, by how far behind such a place it is. */
const TURNED = (mm: Mm) => mm;
const ENDED = (mm: Mm) => Math.min(0, mm);
const BEGUN = (mm: Mm) => Math.max(0, mm);

/** A turn that is overlooked changes the frequency by less than this, natural logarithm (drawn faces: 0.13). */
const FREQUENCY_REACH = 0.15;
/** It makes ripples look as if they decayed up to five times as fast, or a quarter as fast (drawn faces). */
const DAMPING_REACH = [0.15, 5] as const;
/**
 * What is tried first: damping ratio ÷ the fit's, and where the turn lies, in decay lengths of the fit. Most turns make
 * the fit's ripples decay twice as fast; one close to the corner leaves those beyond it, which grow at first.
 */
const TRIALS = [
  [4, 0.12],
  [4, 0.25],
  [0.5, 0.3],
  [0.5, 0.6],
  [0.5, 1],
  [0.5, 1.5],
  [0.5, 2.2],
  [0.5, 3.2],
  [0.5, 4.5],
  [0.5, 6.5],
] as const;
/** By this share more than even ripples leave, a trial may leave at most, or the way from it leads nowhere. */
const HOPELESS = 0.02;
/** Decay lengths beyond which nothing is left to turn over. */
const DECAYED = 4;
const EVALUATIONS = 60;
const TOLERANCE = 1e-6;

/**
 * Looks for a place where ripples turn over along the wall. A lamp near by shows a matt wall's slope in proportion to
 * how far a place is from the lamp's foot, and gloss in the same way by its reflection: beyond it, what was bright is
 * dark. Ripples that shrink towards such a place look as if they decayed faster.
 * @param profiles - Profiles of the face, at the resolution to work with.
 * @param settings - The print's settings.
 * @param wall - The wall that was fitted.
 * @param options - Background and patterns, as in the fit.
 * @param fit - The fit over the whole wall.
 * @returns The place that fits best, or undefined where ripples that turn over fit no better than others, or too little
 * of the wall is left.
 */
export function phaseTurn(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: JointOptions,
  fit: JointFit,
): PhaseTurn | undefined {
  const bare = setUpJoint(profiles, settings, wall, options);
  const freedom = freedomOf(bare);
  if (freedom === 0) return undefined;
  const problem = withSquares(bare, fitsSquares(fit.problem));
  const fromMm = wall.startMm + CORNER_MM;
  const decayMm = (frequencyHz: number, dampingRatio: number): Mm =>
    settings.speedMmPerS.value / decayPerS(frequencyHz, dampingRatio);
  const unitMm = decayMm(fit.frequencyHz, fit.dampingRatio);
  // Variables: logarithms of frequency and damping ratio against the fit's, and of the place's distance in its decay lengths.
  const atMm = (p: Trial) => fromMm + Math.exp(p[2]!) * unitMm;
  const changed = (factor: (mm: Mm) => number, mm: Mm) =>
    changedAlong(problem, (xMm) => factor((xMm - mm) / unitMm));
  const least = (problemAt: (p: Trial) => JointProblem, start: Trial) =>
    minimise((p) => costAt(fit, problemAt(p), p), start, [0.02, 0.3, 0.3].slice(0, start.length), {
      maxEvaluations: EVALUATIONS,
      tolerance: TOLERANCE,
    });
  const even = costAt(fit, problem, [0, 0]);
  const trials = TRIALS.map(([damping, decays]) => [0, Math.log(damping), Math.log(decays)]);
  const costs = trials.map((p) => costAt(fit, changed(TURNED, atMm(p)), p));
  const best = costs.indexOf(Math.min(...costs));
  // The farther away, the nearer to even ripples: no turn on the wall.
  if (best === costs.length - 1 || costs[best]! > (1 + HOPELESS) * even) return undefined;
  const turned = least((p) => changed(TURNED, atMm(p)), trials[best]!);
  const { frequencyHz, dampingRatio } = trialAt(fit, turned.point);
  const decays = (atMm(turned.point) - fromMm) / decayMm(frequencyHz, dampingRatio);
  if (turned.cost >= even || decays > DECAYED) return undefined;
  const grown = changed(TURNED, fromMm);
  const smooth = [least(() => problem, [0, 0]), least(() => grown, [0, 0])];
  if (smooth.some(({ cost }) => cost <= turned.cost)) return undefined;
  const broken = [ENDED, BEGUN].map((factor) => least((p) => changed(factor, atMm(p)), turned.point));
  const rival = Math.min(...[...smooth, ...broken].map(({ cost }) => cost));
  return {
    atMm: atMm(turned.point),
    decays,
    chiSquare: ((rival - turned.cost) / turned.cost) * freedom,
  };
}

type Trial = readonly number[];

function trialAt(fit: JointFit, p: Trial): Pick<JointFit, 'frequencyHz' | 'dampingRatio'> {
  const [slowest, fastest] = DAMPING_REACH;
  return {
    frequencyHz: fit.frequencyHz * Math.exp(clamp(p[0]!, [-FREQUENCY_REACH, FREQUENCY_REACH])),
    dampingRatio: clamp(
      fit.dampingRatio * Math.exp(clamp(p[1]!, [Math.log(slowest), Math.log(fastest)])),
      DAMPING_RANGE,
    ),
  };
}

function costAt(fit: JointFit, problem: JointProblem, p: Trial): number {
  const { frequencyHz, dampingRatio } = trialAt(fit, p);
  // Outside the limits the cost keeps rising, so that the simplex comes back.
  const outside =
    Math.abs(p[0]! - Math.log(frequencyHz / fit.frequencyHz)) +
    Math.abs(p[1]! - Math.log(dampingRatio / fit.dampingRatio));
  return jointCost(problem, frequencyHz, dampingRatio, fit.weights) * (1 + outside);
}
