import { minimiseSquares } from '../signal/gaussNewton.js';
import type { SignedAmplitude, TimeOrigin } from './gainProblem.js';
import {
  nullSdHz,
  ORIGIN_CHI_SQUARE,
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
/** What noise alone is fitted with, in units of itself: more sets must not make a signal of it. */
const NOISE_SIGNAL = 1;

/**
 * Fits one axis to several sets of signed amplitudes: photos of one face, or walls of one axis. Frequency, damping ratio
 * and time origin are shared; gain, phase and the corner's tilt and bow belong to each set, whose misfit alone is the unit
 * of its cost, so that a poor photo has no more to say than a good one.
 * @param sets - Amplitudes over the height.
 * @param question - Shaper, ripples, and where to look; the sets have their own corner.
 * @returns The null, or undefined where no set can be fitted.
 */
export function fitNullTogether(
  sets: readonly AmplitudeSet[],
  question: Omit<NullQuestion, 'cornerPhaseRad'>,
): SharedNull | undefined {
  const byOrigin = question.timeOrigins.map((origin) => partsAt(sets, question, origin));
  // One unit for each set whatever the origin, or their costs could not be compared.
  const units = sets.map((_, i) => Math.min(...byOrigin.map((parts) => parts[i]?.ownUnit ?? Infinity)));
  const fits = byOrigin.flatMap((parts): JointFit[] => {
    const some = parts.flatMap((part, i) => (part === undefined ? [] : [{ ...part, unit: units[i] ?? 1 }]));
    const fit = fitParts(some);
    return fit === undefined ? [] : [fit];
  });
  const [told] = fits;
  if (told === undefined) return undefined;
  // Another instant than the told one must be better by more than chance.
  const cost = (fit: JointFit) => fit.cost + (fit === told ? 0 : ORIGIN_CHI_SQUARE);
  return describe(
    fits.reduce((best, fit) => (cost(fit) < cost(best) ? fit : best)),
    question,
  );
}

/** One set with its own best fit for one time origin. */
interface Part {
  readonly amplitudes: readonly SignedAmplitude[];
  readonly asked: NullQuestion;
  readonly fit: OriginFit;
  /** One unit of chi-square, in units of the set's cost. */
  readonly unit: number;
}

/** The minimum of all sets for one time origin. */
interface JointFit {
  readonly parts: readonly Part[];
  readonly first: Part;
  /** Natural frequency, ln ζ, then tilt and bow of each set. */
  readonly point: readonly number[];
  /** Chi-square, with what is known beforehand. */
  readonly cost: number;
}

function partsAt(
  sets: readonly AmplitudeSet[],
  question: Omit<NullQuestion, 'cornerPhaseRad'>,
  origin: TimeOrigin,
): readonly ((Omit<Part, 'unit'> & { readonly ownUnit: number }) | undefined)[] {
  return sets.map(({ amplitudes, cornerPhaseRad }) => {
    const asked = { ...question, cornerPhaseRad, timeOrigins: [origin] };
    const fit = searchNull(amplitudes, asked);
    return fit && { amplitudes, asked, fit, ownUnit: reducedChiSquareOf(fit.cost, amplitudes.length) };
  });
}

function fitParts(parts: readonly Part[]): JointFit | undefined {
  const [first] = parts;
  if (first === undefined) return undefined;
  // Each set's own axis is tried for all.
  const leans = parts.flatMap(({ fit }) => fit.point.slice(2));
  const starts = parts.map(({ fit }) => [...fit.point.slice(0, 2), ...leans]);
  const squares = (p: readonly number[]) => residuals(parts, first, p).reduce((sum, x) => sum + x * x, 0);
  const start = starts.reduce((best, one) => (squares(one) < squares(best) ? one : best));
  const steps = [...STEPS, ...parts.flatMap(({ fit }) => [fit.phaseSd / 2, fit.phaseSd / 2])];
  const { point, cost } = minimiseSquares((p) => residuals(parts, first, p), start, steps, TOLERANCE);
  return { parts, first, point, cost };
}

function describe(
  { parts, first, point, cost }: JointFit,
  question: Omit<NullQuestion, 'cornerPhaseRad'>,
): SharedNull {
  const { naturalHz, zeta } = trialAt(at(point, 0));
  const weightings = parts.map(({ fit }) => [fit.problem.weights, ...withoutBlocks(fit.problem.weights)]);
  const count = Math.min(...weightings.map((one) => one.length));
  const costs = (p: readonly number[]) =>
    Float64Array.from({ length: count }, (_, k) =>
      parts.reduce(
        (sum, { fit, unit }, i) => {
          const path = fit.problem.path(trialAt(at(p, i)));
          return sum + fit.problem.cost(path, fit.model, weightings[i]?.[k]) / unit;
        },
        sumOfSquares(priors(parts, first, p)),
      ),
    );
  const beside = parts.map(({ amplitudes, asked, fit }, i) => {
    const trial = trialAt(at(point, i));
    return signalBeside(amplitudes, asked, trial, fit.problem.paths(trial, fit.model).path, fit.problem);
  });
  return {
    naturalHz,
    dampingRatio: zeta,
    nullHz: shaperNullHz(question.shaper, naturalHz, zeta),
    nullSdHz: nullSdHz(first.asked, point, stepsOf(...parts.map(({ fit }) => fit.phaseSd)), costs, 1),
    timeOrigin: first.fit.origin,
    reversalF: parts.reduce(
      (sum, { fit, unit }, i) => sum + (fit.rival() - fit.target(at(point, i))) / 2 / unit,
      0,
    ),
    signalBelow: togetherAbove(
      beside.map(({ signalBelow }) => signalBelow),
      NOISE_SIGNAL,
    ),
    signalAbove: togetherAbove(
      beside.map(({ signalAbove }) => signalAbove),
      NOISE_SIGNAL,
    ),
    cost,
    reducedChiSquare: 1,
  };
}

/**
 * How far signals stand out of the noise together, each in units of its own noise.
 * @param signals - Each by itself.
 * @param noise - What noise alone would show by itself.
 * @returns Root of the sum of their squares, that of the noise counted once; noise alone stays noise however often.
 */
export function togetherAbove(signals: readonly number[], noise: number): number {
  return Math.sqrt(signals.reduce((sum, s) => sum + Math.max(0, s * s - noise * noise), noise * noise));
}

/** The variables of one set: the shared axis, and the set's own tilt and bow. */
function at(p: readonly number[], set: number): readonly number[] {
  return [...p.slice(0, 2), ...p.slice(2 + 2 * set, 4 + 2 * set)];
}

/** What is known beforehand, in standard uncertainties: ln ζ once, tilt and bow of each set. */
function priors(parts: readonly Part[], { fit }: Part, p: readonly number[]): readonly number[] {
  const ownLeans = parts.flatMap((part, i) =>
    at(p, i)
      .slice(2)
      .map((phase) => phase / part.fit.phaseSd),
  );
  return [((p[1] ?? 0) - fit.lnZeta.value) / fit.lnZeta.sd, ...ownLeans];
}

/** What is left of all sets, in standard deviations, and what is known beforehand. */
function residuals(parts: readonly Part[], first: Part, p: readonly number[]): Float64Array {
  const left = parts.flatMap(({ fit, unit }, i) => {
    const own = fit.problem.residuals(fit.problem.path(trialAt(at(p, i))), fit.model, []);
    return [...own].map((value) => value / Math.sqrt(unit));
  });
  return Float64Array.from([...left, ...priors(parts, first, p)]);
}

function sumOfSquares(values: readonly number[]): number {
  return values.reduce((sum, x) => sum + x * x, 0);
}
