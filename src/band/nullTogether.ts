import { minimiseSquares } from '../signal/gaussNewton.js';
import type { SignedAmplitude } from './gainProblem.js';
import {
  nullSdHz,
  reducedChiSquareOf,
  searchNull,
  shaperNullHz,
  signalBeside,
  stepsOf,
  trialAt,
  withoutBlocks,
  type NullFit,
  type NullQuestion,
  type OriginFit,
} from './nullFit.js';

/** The signed amplitudes of one photo or wall, with how well its corner's place is known. */
export interface AmplitudeSet {
  readonly amplitudes: readonly SignedAmplitude[];
  /** Standard uncertainty as a phase of the ripples, radians. */
  readonly cornerPhaseRad: number;
}

/** One null of several sets of amplitudes; what is drawn over the height belongs to each set alone. */
export type SharedNull = Omit<NullFit, 'path' | 'turned'>;

/** A step of natural frequency and ln ζ that matters, as for one set alone. */
const STEPS = [0.4, 0.2] as const;
const TOLERANCE = 1e-3;

/**
 * Fits one axis to several sets of signed amplitudes: photos of one face, or walls of one axis. Frequency and damping
 * ratio are shared; gain, phase and the corner's tilt and bow belong to each set, whose misfit alone is the unit of its
 * cost, so that a poor photo has no more to say than a good one.
 * @param sets - Amplitudes over the height.
 * @param question - Shaper, ripples, and where to look; the sets have their own corner.
 * @returns The null, or undefined where no set can be fitted.
 */
export function fitNullTogether(
  sets: readonly AmplitudeSet[],
  question: Omit<NullQuestion, 'cornerPhaseRad'>,
): SharedNull | undefined {
  const parts = sets.flatMap(({ amplitudes, cornerPhaseRad }): Part[] => {
    const asked = { ...question, cornerPhaseRad };
    const fit = searchNull(amplitudes, asked);
    if (fit === undefined) return [];
    return [{ amplitudes, asked, fit, unit: reducedChiSquareOf(fit.cost, amplitudes.length) }];
  });
  const [first] = parts;
  if (first === undefined) return undefined;
  // Each set's own axis is tried for all.
  const starts = parts.map(({ fit }) => [
    ...fit.point.slice(0, 2),
    ...parts.flatMap((part) => part.fit.point.slice(2)),
  ]);
  const squares = (p: readonly number[]) => residuals(parts, p).reduce((sum, x) => sum + x * x, 0);
  const start = starts.reduce((best, one) => (squares(one) < squares(best) ? one : best));
  const phaseSds = parts.map(({ fit }) => fit.phaseSd);
  const steps = [...STEPS, ...phaseSds.flatMap((sd) => [sd / 2, sd / 2])];
  const { point } = minimiseSquares((p) => residuals(parts, p), start, steps, TOLERANCE);
  const { naturalHz, zeta } = trialAt(at(point, 0));
  const weightings = parts.map(({ fit }) => [fit.problem.weights, ...withoutBlocks(fit.problem.weights)]);
  const fewest = Math.min(...weightings.map((one) => one.length));
  // What is known of ln ζ beforehand counts once, though it stands in the cost of each set.
  const again = (p: readonly number[]) => (parts.length - 1) * priorOf(first, p) ** 2;
  const costs = (p: readonly number[]): Float64Array => {
    const all = new Float64Array(fewest).fill(-again(p));
    parts.forEach(({ fit, unit }, k) => {
      const own = fit.targets(at(p, k), (weightings[k] ?? []).slice(0, fewest));
      for (let i = 0; i < fewest; i += 1) all[i] = (all[i] ?? 0) + (own[i] ?? 0) / unit;
    });
    return all;
  };
  const beside = parts.map(({ amplitudes, asked, fit }, k) => {
    const trial = trialAt(at(point, k));
    return signalBeside(amplitudes, asked, trial, fit.problem.paths(trial, fit.model).path, fit.problem);
  });
  const targets = parts.map(({ fit }, k) => fit.target(at(point, k)));
  return {
    naturalHz,
    dampingRatio: zeta,
    nullHz: shaperNullHz(question.shaper, naturalHz, zeta),
    nullSdHz: nullSdHz(first.asked, point, stepsOf(...phaseSds), costs, 1),
    timeOrigin: first.fit.origin,
    reversalF: parts.reduce((sum, { fit, unit }, k) => sum + (fit.rival() - (targets[k] ?? 0)) / 2 / unit, 0),
    signalBelow: Math.hypot(...beside.map(({ signalBelow }) => signalBelow)),
    signalAbove: Math.hypot(...beside.map(({ signalAbove }) => signalAbove)),
    cost: parts.reduce((sum, { unit }, k) => sum + (targets[k] ?? 0) / unit, 0),
    reducedChiSquare: 1,
  };
}

/** One set with its own best fit. */
interface Part {
  readonly amplitudes: readonly SignedAmplitude[];
  readonly asked: NullQuestion;
  readonly fit: OriginFit;
  /** One unit of chi-square, in units of the set's cost. */
  readonly unit: number;
}

/** The variables of one set: the shared axis, and the set's own tilt and bow. */
function at(p: readonly number[], set: number): readonly number[] {
  return [...p.slice(0, 2), ...p.slice(2 + 2 * set, 4 + 2 * set)];
}

/** ln ζ against what is known of it beforehand, in standard uncertainties. */
function priorOf({ fit }: Part, p: readonly number[]): number {
  return ((p[1] ?? 0) - fit.lnZeta.value) / fit.lnZeta.sd;
}

/** What is left of all sets, in standard deviations, then of what is known beforehand. */
function residuals(parts: readonly Part[], p: readonly number[]): Float64Array {
  const all = parts.map(({ fit, unit }, k) => {
    const own = at(p, k);
    const priors = own.slice(2).map((phase) => (phase / fit.phaseSd) * Math.sqrt(unit));
    const left = fit.problem.residuals(fit.problem.path(trialAt(own)), fit.model, priors);
    return left.map((value) => value / Math.sqrt(unit));
  });
  const [first] = parts;
  return Float64Array.from([...all.flatMap((one) => [...one]), ...(first ? [priorOf(first, p)] : [])]);
}
