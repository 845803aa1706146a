import type { Estimate } from '../core/estimate.js';
import type { DampingRatio, Hz } from '../core/units.js';
import { residualSize } from '../physics/residual.js';
import { shaperImpulses } from '../physics/shapers.js';
import type { PrintSettings } from '../print/settle.js';
import { minimiseSquares } from '../signal/gaussNewton.js';
import { jackknifeBlocks, jackknifeSd } from '../signal/jackknife.js';
import { invertSymmetric, solveSymmetric } from '../signal/leastSquares.js';
import { median } from '../signal/median.js';
import { minimise, minimise1d } from '../signal/simplex.js';
import { clamp } from '../core/vector.js';
import {
  GAIN_ORDER,
  GainProblem,
  RIVAL_ORDER,
  STRAIGHT_GAIN,
  type GainModel,
  type GainQuestion,
  type SignedAmplitude,
  type TimeOrigin,
  type Trial,
} from './gainProblem.js';

/** Where the signed amplitudes vanish along the ladder. */
export interface NullFit {
  /** Natural frequency and damping ratio of the axis that explain the amplitudes. */
  readonly naturalHz: Hz;
  readonly dampingRatio: DampingRatio;
  /** Ladder frequency at which the model's ringing is least. */
  readonly nullHz: Hz;
  /** Type A standard uncertainty of `nullHz`. */
  readonly nullSdHz: Hz;
  readonly timeOrigin: TimeOrigin;
  /**
   * F of the null against a rival with the same delay and lean that does not turn over (or, of a shaper of even
   * order, does not dip), 2 degrees of freedom.
   */
  readonly reversalF: number;
  /** Median fitted amplitude ÷ noise on the lower and the upper side of the null. */
  readonly signalBelow: number;
  readonly signalAbove: number;
  /** Weighted cost, to compare fits of the same amplitudes. */
  readonly cost: number;
  readonly reducedChiSquare: number;
  /** Fitted signed amplitude along the common phase at each height, same order as the input. */
  readonly path: Float64Array;
  /** Measured amplitudes turned to the common phase, same order. */
  readonly turned: Float64Array;
}

/** Chi-square by which a wall start other than the told one must win: three standard deviations and some. */
export const ORIGIN_CHI_SQUARE = 10;
/**
 * Scatter that neither Hessian nor jackknife sees: makes 95 % intervals of the null hold (drawn faces, tuning seeds;
 * the method study has 1.3 for a null whose corner may not lean).
 */
const TYPE_A_FACTOR = 1.1;
/** Scatter of the study's nulls that no photo shows by itself, Hz. */
export const NULL_FLOOR_HZ: Hz = 0.1;
/** How far from the ripples' own frequency the null is looked for. */
const GATE = 1.4;
const GRID_STEP_HZ = 0.5;
/** Heights within this factor of the null show its two sides, where at least so much of the ringing is left: a
 * ZV shaper leaves it 10 % off, 2- and 3-hump EI only below 0.7 and above 1.7 to 2.1 times the frequency. */
const SIDE_REACH = 1.6;
const HUMPED_REACH = 2.5;
const LEAST_LEFT = 0.14;
/** Fewer heights have more parameters than they can fix. */
export const LEAST_HEIGHTS = 8;
/** Heights of one frequency have no path along the ladder. */
const LEAST_SPAN_HZ = 1;
/** How far the corner may lean at the start of a search, in standard uncertainties at the ladder's ends. */
const LEANS = [0, -2, 2] as const;
const DAMPING_RANGE = [0.007, 0.4] as const;
const NATURAL_RANGE_HZ = [8, 200] as const;

/** What the null fit needs besides the amplitudes. */
export interface NullQuestion extends GainQuestion {
  /** Damped frequency and damping ratio of the ripples, from the joint fit. */
  readonly frequencyHz: Hz;
  readonly dampingRatio: DampingRatio;
  readonly dampingSd: DampingRatio;
  /** The told one first. */
  readonly timeOrigins: readonly TimeOrigin[];
  /** Look only within 1.4 times the ripples' frequency, or over the whole ladder. */
  readonly gated: boolean;
  /**
   * Standard uncertainty of where the corner is at each height, as a phase of the ripples, radians: corners
   * put by hand tilt it, a lens bows it.
   */
  readonly cornerPhaseRad: number;
}

/**
 * Fits z_h = e^{jψ} G(h) R(f_s(h); f_n, ζ) e^{λκτ} with a real smooth gain G.
 * @param amplitudes - Signed amplitudes over the height; where the shaper was on.
 * @param question - Shaper, ripples, and where to look.
 * @returns The fit, or undefined with fewer than 8 heights, less than 1 Hz between them, or no trial frequency inside
 * the gate.
 */
export function fitNull(amplitudes: readonly SignedAmplitude[], question: NullQuestion): NullFit | undefined {
  const found = searchNull(amplitudes, question);
  return found && describe(amplitudes, question, found);
}

/** Where a null lies and how well it fits, without its uncertainty. */
export interface NullTrial {
  readonly nullHz: Hz;
  /** Weighted cost, to compare fits of amplitudes that differ only in their order. */
  readonly cost: number;
  readonly reducedChiSquare: number;
}

/**
 * A null without its uncertainty: for trying what a changed setting does to it.
 * @param amplitudes - Signed amplitudes over the height.
 * @param question - Shaper, ripples, and where to look.
 * @returns Null and cost, or undefined as `fitNull`.
 */
export function tryNull(
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
): NullTrial | undefined {
  const found = searchNull(amplitudes, question);
  if (found === undefined) return undefined;
  const { naturalHz, zeta } = trialAt(found.point);
  return {
    nullHz: shaperNullHz(question.shaper, naturalHz, zeta),
    cost: found.cost,
    reducedChiSquare: reducedChiSquareOf(found.cost, amplitudes.length),
  };
}

/**
 * The best minimum over the time origins.
 * @param amplitudes - Signed amplitudes over the height.
 * @param question - Shaper, ripples, and where to look.
 * @returns The minimum, or undefined as `fitNull`.
 */
export function searchNull(
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
): OriginFit | undefined {
  const hz = amplitudes.map((a) => a.ladderHz);
  if (amplitudes.length < LEAST_HEIGHTS || Math.max(...hz) - Math.min(...hz) < LEAST_SPAN_HZ)
    return undefined;
  const grid = trialFrequencies(amplitudes, question);
  if (grid.length < 3) return undefined;
  const fits = question.timeOrigins.map((origin) => searchOrigin(amplitudes, question, grid, origin));
  // Another instant than the told one must be better by more than chance.
  const handicap = (ORIGIN_CHI_SQUARE * fits[0]!.cost) / (2 * amplitudes.length);
  const cost = (fit: OriginFit) => fit.cost + (fit.origin === question.timeOrigins[0] ? 0 : handicap);
  return fits.reduce((best, fit) => (cost(fit) < cost(best) ? fit : best));
}

/** The minimum for one time origin. */
export interface OriginFit {
  readonly problem: GainProblem;
  readonly model: GainModel;
  readonly origin: TimeOrigin;
  readonly target: Target;
  readonly targets: Targets;
  /** Natural frequency, ln ζ, tilt, bow. */
  readonly point: readonly number[];
  readonly phaseSd: number;
  /** What is known of ln ζ beforehand. */
  readonly lnZeta: Estimate;
  readonly cost: number;
  /** Least cost of the rival, priors included. */
  readonly rival: () => number;
}

/**
 * The ladder frequency at which an axis rings least: the shaper's main null; or, of EI and its kin, whose residual has
 * two to four zeros with small humps between, the middle, where they tolerate most on both sides.
 * @param shaper - Family, damping setting and what its Hz mean.
 * @param naturalHz - Natural frequency of the axis.
 * @param dampingRatio - Damping ratio of the axis.
 * @returns The shaper frequency with the smallest |R| between naturalHz/1.6 and 1.6·naturalHz; of EI and its
 * kin, the one that the shaper is built for.
 */
export function shaperNullHz(shaper: PrintSettings['shaper'], naturalHz: Hz, dampingRatio: DampingRatio): Hz {
  if (shaper.family === 'EI' || isHumped(shaper.family)) {
    return shaper.hzMeans === 'natural' ? naturalHz : naturalHz * Math.sqrt(1 - shaper.dampingRatio ** 2);
  }
  // A shaper's times go with the inverse of its frequency: one is enough, with the mode's frequency changed instead.
  const impulses = shaperImpulses({ ...shaper, hz: naturalHz });
  const size = (hz: Hz) => residualSize(impulses, (naturalHz * naturalHz) / hz, dampingRatio);
  const step = 1.01;
  const grid: Hz[] = [];
  for (let hz = naturalHz / 1.6; hz < naturalHz * 1.6; hz *= step) grid.push(hz);
  const best = leastOf(grid, size).item;
  return minimise1d(size, best / step, best * step, 1e-6 * naturalHz).point;
}

/** Whether ringing turns over from one side of a shaper's band to the other: it has an odd number of zeros there. */
const TURNS_OVER: Readonly<Record<PrintSettings['shaper']['family'], boolean>> = {
  ZV: true,
  ZVD: false,
  ZVDD: true,
  EI: false,
  '2-hump EI': true,
  '3-hump EI': false,
};

/**
 * Whether ringing turns over where a shaper lets it vanish: an odd number of zeros lie there, all told. With an even
 * number it comes back as it was: a double zero touches only.
 * @param family - The shaper's family.
 * @returns True for ZV, ZVDD and 2-hump EI, which have one, three in one place and three apart.
 */
export function turnsOver(family: PrintSettings['shaper']['family']): boolean {
  return TURNS_OVER[family];
}

/**
 * Whether a shaper has three zeros or more apart, and so wide a band that only a wide ladder shows both its sides.
 * @param family - The shaper's family.
 * @returns True for 2-hump and 3-hump EI.
 */
export function isHumped(family: PrintSettings['shaper']['family']): boolean {
  return family === '2-hump EI' || family === '3-hump EI';
}

function searchOrigin(
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  grid: readonly Hz[],
  origin: TimeOrigin,
): OriginFit {
  const problem = new GainProblem(amplitudes, question, origin);
  const zeta = clamp(question.dampingRatio, [0.015, 0.3]);
  const zetaSd = clamp(question.dampingSd / question.dampingRatio, [0.12, 0.5]);
  const paths = grid.map((naturalHz) => problem.upright({ naturalHz, zeta }));
  const coarse = leastOf(paths, (path) => problem.cost(path, STRAIGHT_GAIN));
  const firstGain = problem.bentGain(coarse.item);
  const phaseSd = Math.max(1e-3, question.cornerPhaseRad);
  // A face that leans in the photo hides the best start from a search that takes it as upright.
  const leans = LEANS.map((lean) => ({ tilt: lean * phaseSd, bow: 0 }));
  const turns = leans.map((lean) => problem.turn(lean));
  const atLeans = paths.map((path) => {
    const factor = problem.factor(path, firstGain);
    return leastOf(turns, (turn) =>
      problem.cost(problem.turned(path, turn), firstGain, problem.weights, factor),
    );
  });
  const { item: leaning, index } = leastOf(atLeans, (best) => best.cost);
  const start: Trial = { naturalHz: grid[index]!, zeta, ...leans[leaning.index]! };
  const startPath = problem.turned(paths[index]!, leaning.item);
  const model = problem.bentGain(startPath);
  // One unit of chi-square, in units of the cost: priors are told in standard deviations.
  const unit = Math.max(1, problem.cost(startPath, model) / (2 * amplitudes.length));
  const priorResiduals = (p: readonly number[]) =>
    [(p[1]! - Math.log(zeta)) / zetaSd, p[2]! / phaseSd, p[3]! / phaseSd].map((x) => x * Math.sqrt(unit));
  const priors = (p: readonly number[]) => priorResiduals(p).reduce((sum, x) => sum + x * x, 0);
  const target: Target = (p) => problem.cost(problem.path(trialAt(p)), model) + priors(p);
  const targets: Targets = (p, weightings) => {
    const path = problem.path(trialAt(p));
    const prior = priors(p);
    return Float64Array.from(weightings, (weights) => {
      return problem.cost(path, model, weights) + prior;
    });
  };
  const steps = [0.4, 0.2, phaseSd / 2, phaseSd / 2];
  const residuals = (p: readonly number[]) =>
    problem.residuals(problem.path(trialAt(p)), model, priorResiduals(p));
  const found = minimiseSquares(residuals, [start.naturalHz, Math.log(zeta), start.tilt, 0], steps, 1e-3);
  const cost = problem.cost(problem.path(trialAt(found.point)), model);
  // A shaper of even order touches zero without turning over: there the rival is a path without any dip.
  const kind = turnsOver(question.shaper.family) ? 'dip' : 'flat';
  const free = kind === 'dip' ? model : { ...model, order: RIVAL_ORDER };
  // A simplex leaves a poor place more easily than steps downhill do, and a rival that is missed would make a null.
  const rival = () =>
    minimise((p) => problem.cost(problem.path(trialAt(p), kind), free) + priors(p), found.point, steps, {
      maxEvaluations: 400,
      tolerance: 1e-7,
    }).cost;
  const lnZeta = { value: Math.log(zeta), sd: zetaSd };
  return { problem, model, origin, target, targets, rival, point: found.point, phaseSd, lnZeta, cost };
}

/**
 * Cost for each degree of freedom: two parts at each height, less gain, phase and the four that are searched.
 * @param cost - Weighted cost.
 * @param heights - Number of heights.
 * @returns The reduced chi-square, at least 1e-12.
 */
export function reducedChiSquareOf(cost: number, heights: number): number {
  return Math.max(1e-12, cost / Math.max(1, 2 * heights - (GAIN_ORDER + 2) - 4));
}

function describe(amplitudes: readonly SignedAmplitude[], question: NullQuestion, fit: OriginFit): NullFit {
  const { problem, model, origin, target, targets, rival, point, phaseSd, cost } = fit;
  const trial = trialAt(point);
  const weightings = [problem.weights, ...withoutBlocks(problem.weights)];
  const costs = (p: readonly number[]) => targets(p, weightings);
  const { naturalHz, zeta: dampingRatio } = trial;
  const reducedChiSquare = reducedChiSquareOf(cost, amplitudes.length);
  const nullHz = shaperNullHz(question.shaper, naturalHz, dampingRatio);
  const { path, turned } = problem.paths(trial, model);
  const flips = turnsOver(question.shaper.family);
  const sign = amplitudes.map((a) => (flips && a.ladderHz < nullHz ? -1 : 1));
  return {
    naturalHz,
    dampingRatio,
    nullHz,
    nullSdHz: nullSdHz(question, fit.point, stepsOf(phaseSd), costs, reducedChiSquare),
    timeOrigin: origin,
    reversalF: (rival() - target(point)) / 2 / reducedChiSquare,
    ...signalBeside(amplitudes, question, trial, path, problem),
    cost,
    reducedChiSquare,
    path: path.map((size, i) => sign[i]! * size),
    turned: turned.map((value, i) => sign[i]! * value),
  };
}

/** How far the ripples stand out of the noise on both sides of a null. */
type SignalBeside = Pick<NullFit, 'signalBelow' | 'signalAbove'>;

/**
 * Median fitted amplitude ÷ noise on either side of a null, where the shaper leaves enough of the ringing.
 * @param amplitudes - Signed amplitudes over the height.
 * @param question - Shaper and ripples.
 * @param trial - The axis that was found.
 * @param path - Fitted size at each height.
 * @param problem - The problem that it was fitted in.
 * @returns Both sides; 0 where no height shows one.
 */
export function signalBeside(
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  trial: Trial,
  path: Float64Array,
  problem: GainProblem,
): SignalBeside {
  const nullHz = shaperNullHz(question.shaper, trial.naturalHz, trial.zeta);
  const noise = median(amplitudes.map((a) => a.sd));
  const left = problem.sizes(trial);
  const reach = isHumped(question.shaper.family) ? HUMPED_REACH : SIDE_REACH;
  const side = (low: number, high: number) => {
    const there = amplitudes.flatMap(({ ladderHz }, i) => {
      const ratio = ladderHz / nullHz;
      return ratio > low && ratio < high && left[i]! >= LEAST_LEFT ? [path[i]!] : [];
    });
    return there.length === 0 ? 0 : median(there) / noise;
  };
  return { signalBelow: side(1 / reach, 1), signalAbove: side(1, reach) };
}

/**
 * Weights with one block of heights after the other left out, for the jackknife.
 * @param weights - Weight of each height, shape (heights,); not modified.
 * @returns Ten of them, or as many as there are heights.
 */
export function withoutBlocks(weights: Float64Array): readonly Float64Array[] {
  return jackknifeBlocks(weights.length).map(([from, to]) => weights.slice().fill(0, from, to));
}

/** Cost with priors at (f, ln ζ, tilt, bow). */
type Target = (p: readonly number[]) => number;

/** The same for several weightings of the heights. */
type Targets = (p: readonly number[], weightings: readonly Float64Array[]) => Float64Array;

const LOG_DAMPING = [Math.log(DAMPING_RANGE[0]), Math.log(DAMPING_RANGE[1])] as const;

/**
 * What a point of the search stands for.
 * @param p - Natural frequency, ln ζ, tilt, bow.
 * @returns The trial, inside what may be tried.
 */
export function trialAt(p: readonly number[]): Trial {
  return {
    naturalHz: clamp(p[0]!, NATURAL_RANGE_HZ),
    zeta: Math.exp(clamp(p[1]!, LOG_DAMPING)),
    tilt: p[2]!,
    bow: p[3]!,
  };
}

/**
 * Steps of the parabolas that the uncertainty is taken from: frequency, ln ζ, then tilt and bow.
 * @param phaseSds - Standard uncertainty of the corner's phase, one for each set of amplitudes.
 * @returns One step for each variable.
 */
export function stepsOf(...phaseSds: readonly number[]): readonly number[] {
  return [0.2, 0.1, ...phaseSds.flatMap((sd) => [sd / 4, sd / 4])];
}

/**
 * Type A standard uncertainty of a null: the larger of Hessian and jackknife, times 1.1, with a floor of 0.1 Hz.
 * @param question - Shaper and ripples.
 * @param point - The minimum: natural frequency, ln ζ, and others.
 * @param steps - A step of each variable for the parabolas.
 * @param costs - Costs at a point: with all heights, then with one block of them after the other left out.
 * @param chiSquare - What one unit of chi-square is in units of the cost.
 * @returns The standard uncertainty; the whole frequency where the cost has no minimum.
 */
export function nullSdHz(
  question: NullQuestion,
  point: readonly number[],
  steps: readonly number[],
  costs: (p: readonly number[]) => Float64Array,
  chiSquare: number,
): Hz {
  const nullAt = (f: Hz, ln: number) => shaperNullHz(question.shaper, f, Math.exp(clamp(ln, LOG_DAMPING)));
  const [f, ln] = [clamp(point[0]!, NATURAL_RANGE_HZ), clamp(point[1]!, LOG_DAMPING)];
  const [full, ...withoutBlock] = parabolas(costs, point, steps);
  const count = steps.length;
  const covariance = invertSymmetric(full!.hessian, count);
  const perLn = (nullAt(f, ln + steps[1]!) - nullAt(f, ln - steps[1]!)) / 2 / steps[1]!;
  const variance =
    covariance === undefined
      ? Infinity
      : 2 * chiSquare * (covariance[0]! + 2 * perLn * covariance[1]! + perLn ** 2 * covariance[count + 1]!);
  const nulls: number[] = [];
  for (const { gradient, hessian } of withoutBlock) {
    const move = solveSymmetric(hessian, gradient);
    if (move === undefined) continue;
    nulls.push(
      nullAt(clamp(f - clamp(move[0]!, [-3, 3]), NATURAL_RANGE_HZ), ln - clamp(move[1]!, [-0.6, 0.6])),
    );
  }
  // A cost without a minimum fixes nothing: the whole value is uncertain.
  const hessianSd = variance >= 0 && variance < Infinity ? Math.sqrt(variance) : f;
  return Math.hypot(TYPE_A_FACTOR * Math.max(hessianSd, jackknifeSd(nulls)), NULL_FLOOR_HZ);
}

/** Gradient and Hessian (row-major) of a cost. */
interface Parabola {
  readonly gradient: Float64Array;
  readonly hessian: Float64Array;
}

/** Parabolas through several costs of the same variables, by central differences. */
function parabolas(
  costs: (p: readonly number[]) => Float64Array,
  at: readonly number[],
  steps: readonly number[],
): readonly Parabola[] {
  const n = at.length;
  const moved = (i: number, si: number, j = i, sj = 0) => {
    const p = [...at];
    p[i] = p[i]! + si * steps[i]!;
    p[j] = p[j]! + sj * steps[j]!;
    return costs(p);
  };
  const centre = costs(at);
  const result = Array.from(centre, () => ({
    gradient: new Float64Array(n),
    hessian: new Float64Array(n * n),
  }));
  for (let i = 0; i < n; i += 1) {
    const [up, down] = [moved(i, 1), moved(i, -1)];
    result.forEach(({ gradient, hessian }, k) => {
      gradient[i] = (up[k]! - down[k]!) / 2 / steps[i]!;
      hessian[i * n + i] = (up[k]! + down[k]! - 2 * centre[k]!) / steps[i]! ** 2;
    });
    for (let j = 0; j < i; j += 1) {
      const [upUp, upDown] = [moved(i, 1, j, 1), moved(i, 1, j, -1)];
      const [downUp, downDown] = [moved(i, -1, j, 1), moved(i, -1, j, -1)];
      result.forEach(({ hessian }, k) => {
        const mixed = upUp[k]! - upDown[k]! - downUp[k]! + downDown[k]!;
        hessian[i * n + j] = mixed / 4 / steps[i]! / steps[j]!;
        hessian[j * n + i] = hessian[i * n + j]!;
      });
    }
  }
  return result;
}

function trialFrequencies(amplitudes: readonly SignedAmplitude[], question: NullQuestion): readonly Hz[] {
  const fs = amplitudes.map((a) => a.ladderHz);
  const low = Math.max(8, Math.min(...fs) * 0.85, question.gated ? question.frequencyHz / GATE : 0);
  const high = Math.min(Math.max(...fs) * 1.15, question.gated ? question.frequencyHz * GATE : Infinity);
  const grid: Hz[] = [];
  for (let f = low; f <= high; f += GRID_STEP_HZ) grid.push(f);
  return grid;
}

/** The first item of least cost. */
interface Least<Item> {
  readonly item: Item;
  readonly index: number;
  readonly cost: number;
}

function leastOf<Item>(items: readonly Item[], cost: (item: Item) => number): Least<Item> {
  let best: Least<Item> = { item: items[0]!, index: 0, cost: Infinity };
  for (const [index, item] of items.entries()) {
    const own = cost(item);
    if (own < best.cost) best = { item, index, cost: own };
  }
  return best;
}
