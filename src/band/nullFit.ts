import type { DampingRatio, Hz } from '../core/units.js';
import { meanDelayS, residualFactor, residualSize } from '../physics/residual.js';
import { shaperImpulses, type Impulses } from '../physics/shapers.js';
import type { PrintSettings } from '../print/settle.js';
import { minimiseSquares } from '../signal/gaussNewton.js';
import { jackknifeBlocks, jackknifeSd } from '../signal/jackknife.js';
import { chebyshevRows } from '../signal/chebyshev.js';
import type { Complex } from '../signal/complex.js';
import {
  choleskyFactor,
  invertSymmetric,
  solveLower,
  solveSymmetric,
  solveUpper,
} from '../signal/leastSquares.js';
import { median, percentile } from '../signal/median.js';
import { minimise, minimise1d } from '../signal/simplex.js';
import { clamp, dot, dots } from '../core/vector.js';

/** Signed amplitude of one height, with the ladder's frequency there. */
export interface SignedAmplitude {
  readonly ladderHz: Hz;
  readonly re: number;
  readonly im: number;
  readonly sd: number;
}

/** Which instant a wall starts at, relative to the travel map: 0 as told, ±1 one mean delay off. */
export type TimeOrigin = -1 | 0 | 1;

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

/** Order of the smooth gain over the height (Chebyshev): lighting drifts with height. */
const GAIN_ORDER = 6;
/** A rival without a dip may bend so much more, to imitate one. */
const RIVAL_ORDER = GAIN_ORDER + 2;
/** Prior standard deviation of coefficient k relative to the mean gain: 0.5 / k^1.5 (method study). */
const GAIN_PRIOR = 0.5;
const PRIOR_ROUNDS = 4;
/**
 * Relative error of the model itself, in quadrature with the noise. The method study has 0.02; light that is not
 * Lambert's leaves more (drawn faces, tuning seeds).
 */
const MODEL_ERROR = 0.05;
/** Chi-square by which a wall start other than the told one must win: three standard deviations and some. */
const ORIGIN_CHI_SQUARE = 10;
/**
 * Scatter that neither Hessian nor jackknife sees: makes 95 % intervals of the null hold (drawn faces, tuning seeds;
 * the method study has 1.3 for a null whose corner may not lean).
 */
const TYPE_A_FACTOR = 1.1;
/** Scatter of the study's nulls that no photo shows by itself, Hz. */
const NULL_FLOOR_HZ = 0.1;
/** How far from the ripples' own frequency the null is looked for. */
const GATE = 1.4;
const GRID_STEP_HZ = 0.5;
/** Heights within this factor of the null show its two sides, where at least so much of the ringing is left: a
 * ZV shaper leaves it 10 % off. */
const SIDE_REACH = 1.6;
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
export interface NullQuestion {
  readonly shaper: PrintSettings['shaper'];
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
  /** Speed error as a share, which acts like a shift of the time origin (DESIGN 5.5). @default 0 */
  readonly timeOriginShift?: number;
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

/** The best minimum over the time origins. */
function searchNull(amplitudes: readonly SignedAmplitude[], question: NullQuestion): OriginFit | undefined {
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
interface OriginFit {
  readonly problem: GainProblem;
  readonly model: GainModel;
  readonly origin: TimeOrigin;
  readonly target: Target;
  readonly targets: Targets;
  readonly point: readonly number[];
  readonly phaseSd: number;
  readonly cost: number;
  /** Least cost of the rival, priors included. */
  readonly rival: () => number;
}

/**
 * The ladder frequency at which an axis rings least: the shaper's main null; or, of EI, whose residual has zeros
 * on both sides of a small hump, the middle, where it tolerates most.
 * @param shaper - Family, damping setting and what its Hz mean.
 * @param naturalHz - Natural frequency of the axis.
 * @param dampingRatio - Damping ratio of the axis.
 * @returns The shaper frequency with the smallest |R| between naturalHz/1.6 and 1.6·naturalHz; of EI, the one that
 * the shaper is built for.
 */
export function shaperNullHz(shaper: PrintSettings['shaper'], naturalHz: Hz, dampingRatio: DampingRatio): Hz {
  if (shaper.family === 'EI') {
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

/**
 * Real smooth gain with one global phase: everything that is linear once (f_n, ζ, κ) is chosen. The gain's
 * polynomials are kept as rows over the heights, so that sums over the heights are scalar products.
 */
class GainProblem {
  /** Weight of each height's square. */
  readonly weights: Float64Array;
  private readonly impulses: readonly Impulses[];
  /** The same with their times κτ earlier: their residual factor is R e^{λκτ}. */
  private readonly earlier: readonly Impulses[];
  private readonly delays: Float64Array;
  /** T_k(u) of the ladder's frequency u at each height; the product of any two of a gain is a sum of two others. */
  private readonly chebyshev: readonly Float64Array[];
  private readonly amplitudes: Path;
  private readonly kappa: number;
  /** Overwritten by each trial: thousands of small arrays cost as much as the sums in them. */
  private readonly scratch: {
    readonly upright: Path;
    readonly turn: Path;
    readonly turned: Path;
    readonly overHeights: Path;
  };
  private readonly equations = new Map<number, NormalEquations>();

  constructor(amplitudes: readonly SignedAmplitude[], question: NullQuestion, origin: TimeOrigin) {
    const kappa = origin + (question.timeOriginShift ?? 0);
    this.kappa = kappa;
    this.impulses = amplitudes.map((a) => shaperImpulses({ ...question.shaper, hz: a.ladderHz }));
    this.delays = Float64Array.from(this.impulses, (impulses) => meanDelayS(impulses));
    this.earlier = this.impulses.map((impulses, i) => ({
      ...impulses,
      timesS: impulses.timesS.map((t) => t - kappa * this.delays[i]!),
    }));
    const fs = Float64Array.from(amplitudes, (a) => a.ladderHz);
    const low = Math.min(...fs);
    const span = Math.max(...fs) - low;
    this.chebyshev = chebyshevRows(
      fs.map((f) => (2 * (f - low)) / span - 1),
      2 * RIVAL_ORDER,
    );
    const sizes = amplitudes.map((a) => Math.hypot(a.re, a.im));
    const model = (MODEL_ERROR * percentile(sizes, 80)) ** 2;
    this.weights = Float64Array.from(amplitudes, (a) => 1 / (a.sd * a.sd + model));
    this.amplitudes = {
      re: Float64Array.from(amplitudes, (a) => a.re),
      im: Float64Array.from(amplitudes, (a) => a.im),
    };
    this.scratch = {
      upright: emptyPath(fs.length),
      turn: emptyPath(fs.length),
      turned: emptyPath(fs.length),
      overHeights: emptyPath(fs.length),
    };
  }

  /**
   * R e^{λκτ} at every height. The rivals of a null have the same delay: `dip` keeps the size of R but never turns
   * over, `flat` has no size of its own.
   */
  upright({ naturalHz, zeta }: Axis, kind: PathKind = 'null', path = emptyPath(this.delays.length)): Path {
    const omega = 2 * Math.PI * naturalHz;
    const damped = omega * Math.sqrt(1 - zeta * zeta);
    for (let i = 0; i < this.delays.length; i += 1) {
      const full = residualFactor(this.earlier[i]!, naturalHz, zeta);
      if (kind === 'null') {
        path.re[i] = full.re;
        path.im[i] = full.im;
      } else {
        const shift = this.kappa * this.delays[i]!;
        const size = kind === 'dip' ? Math.hypot(full.re, full.im) : Math.exp(-zeta * omega * shift);
        // R itself lags by its mean delay, which its size alone does not.
        const turn = damped * (shift - this.delays[i]!);
        path.re[i] = size * Math.cos(turn);
        path.im[i] = size * Math.sin(turn);
      }
    }
    return path;
  }

  /** What the corner's tilt and bow (radians at the ladder's ends) turn every height by. */
  turn({ tilt, bow }: Lean, path = emptyPath(this.delays.length)): Path {
    const [, tilting, bowing] = this.chebyshev;
    for (let i = 0; i < this.delays.length; i += 1) {
      const angle = tilt * tilting![i]! + bow * bowing![i]!;
      path.re[i] = Math.cos(angle);
      path.im[i] = Math.sin(angle);
    }
    return path;
  }

  /** A path turned at every height; overwritten by the next one. */
  turned(upright: Path, turn: Path): Path {
    const { turned } = this.scratch;
    for (let i = 0; i < this.delays.length; i += 1) {
      const re = upright.re[i]!;
      const im = upright.im[i]!;
      turned.re[i] = re * turn.re[i]! - im * turn.im[i]!;
      turned.im[i] = re * turn.im[i]! + im * turn.re[i]!;
    }
    return turned;
  }

  /** The path of a trial; overwritten by the next one. */
  path(trial: Trial, kind?: PathKind): Path {
    const { upright, turn } = this.scratch;
    return this.turned(this.upright(trial, kind, upright), this.turn(trial, turn));
  }

  /**
   * Cholesky factor of the gain's normal matrix, undefined where it is not positive definite; overwritten by the
   * next one. It does not change when the path is turned.
   */
  factor(
    { re, im }: Path,
    { order, prior }: GainModel,
    weights: Float64Array = this.weights,
  ): Float64Array | undefined {
    const { products, moments, matrix, factor } = this.equationsOf(order);
    const squares = this.scratch.overHeights.re;
    for (let i = 0; i < re.length; i += 1) squares[i] = weights[i]! * (re[i]! ** 2 + im[i]! ** 2);
    dots(products, [squares], moments);
    const terms = order + 1;
    let trace = 0;
    for (let a = 0; a < terms; a += 1) {
      // T_a T_b = (T_{a+b} + T_{a−b})/2.
      for (let b = 0; b <= a; b += 1) matrix[a * terms + b] = (moments[a + b]! + moments[a - b]!) / 2;
      trace += matrix[a * terms + a]!;
    }
    for (let a = 0; a < terms; a += 1) {
      const diagonal = a * terms + a;
      matrix[diagonal] = matrix[diagonal]! + 1e-10 * trace + Number.MIN_VALUE + (prior?.[a] ?? 0);
    }
    return choleskyFactor(matrix, terms, factor);
  }

  /** Least cost over gain and phase. */
  cost(
    path: Path,
    model: GainModel,
    factor: Float64Array | undefined = this.factor(path, model),
    weights: Float64Array = this.weights,
  ): number {
    return this.energy(weights) - this.explained(path, model, factor, weights).energy;
  }

  /**
   * What the best gain and phase leave of the amplitudes, and the gain's prior: their squares add up to the cost, but
   * for the 1e-10 of the matrix that keeps it regular. Residuals of other priors are put behind them.
   */
  residuals(path: Path, model: GainModel, others: readonly number[]): Float64Array {
    const { re, im } = this.amplitudes;
    const { gain, phase } = this.solve(path, model);
    const count = re.length;
    const result = new Float64Array(2 * count + gain.length + others.length);
    const size = this.gainOver(gain);
    for (let i = 0; i < count; i += 1) {
      const root = Math.sqrt(this.weights[i]!);
      const [x, y] = [path.re[i]!, path.im[i]!];
      result[i] = root * (re[i]! - size[i]! * (x * phase.re - y * phase.im));
      result[count + i] = root * (im[i]! - size[i]! * (x * phase.im + y * phase.re));
    }
    for (const [k, g] of gain.entries()) result[2 * count + k] = g * Math.sqrt(model.prior?.[k] ?? 0);
    result.set(others, 2 * count + gain.length);
    return result;
  }

  /** A gain at every height. */
  private gainOver(gain: Float64Array): Float64Array {
    const result = new Float64Array(this.delays.length);
    for (const [k, g] of gain.entries()) {
      const row = this.chebyshev[k]!;
      for (let i = 0; i < result.length; i += 1) result[i] = result[i]! + g * row[i]!;
    }
    return result;
  }

  /** Least cost with its gain. */
  solve(path: Path, model: GainModel): { cost: number; gain: Float64Array; phase: Complex } {
    const factor = this.factor(path, model);
    const { energy, phase, solution } = this.explained(path, model, factor, this.weights);
    const gain = solution.re.map((re, a) => re * phase.re + solution.im[a]! * phase.im);
    if (factor !== undefined) solveUpper(factor, gain);
    return { cost: this.energy(this.weights) - energy, gain, phase };
  }

  private equationsOf(order: number): NormalEquations {
    const known = this.equations.get(order);
    if (known !== undefined) return known;
    const terms = order + 1;
    const made = {
      gains: this.chebyshev.slice(0, terms),
      products: this.chebyshev.slice(0, 2 * order + 1),
      moments: new Float64Array(2 * order + 1),
      matrix: new Float64Array(terms * terms),
      factor: new Float64Array(terms * terms),
      solution: emptyPath(terms),
    };
    this.equations.set(order, made);
    return made;
  }

  private energy(weights: Float64Array): number {
    const { re, im } = this.amplitudes;
    let sum = 0;
    for (let i = 0; i < re.length; i += 1) sum += weights[i]! * (re[i]! * re[i]! + im[i]! * im[i]!);
    return sum;
  }

  /** What gain and phase explain at best, and the gain for either part as L⁻¹ times the right-hand side. */
  private explained(
    path: Path,
    { order }: GainModel,
    factor: Float64Array | undefined,
    weights: Float64Array,
  ): { energy: number; phase: Complex; solution: Path } {
    const { re, im } = this.amplitudes;
    const { overHeights } = this.scratch;
    for (let i = 0; i < re.length; i += 1) {
      overHeights.re[i] = weights[i]! * (path.re[i]! * re[i]! + path.im[i]! * im[i]!);
      overHeights.im[i] = weights[i]! * (path.re[i]! * im[i]! - path.im[i]! * re[i]!);
    }
    const { gains, solution } = this.equationsOf(order);
    for (const part of ['re', 'im'] as const) {
      if (factor === undefined) {
        solution[part].fill(0);
      } else {
        dots(gains, [overHeights[part]], solution[part]);
        solveLower(factor, solution[part]);
      }
    }
    // The best global phase is the leading eigenvector of a 2 × 2 matrix.
    const s00 = dot(solution.re, solution.re);
    const s01 = dot(solution.re, solution.im);
    const s11 = dot(solution.im, solution.im);
    const angle = 0.5 * Math.atan2(2 * s01, s00 - s11);
    const phase = { re: Math.cos(angle), im: Math.sin(angle) };
    const energy = s00 * phase.re ** 2 + 2 * s01 * phase.re * phase.im + s11 * phase.im ** 2;
    return { energy, phase, solution };
  }

  /** Size of R at every height: share of the unshaped ringing that is left. */
  sizes({ naturalHz, zeta }: Axis): readonly number[] {
    return this.impulses.map((impulses) => residualSize(impulses, naturalHz, zeta));
  }

  /** Signed fitted path and measured amplitudes turned to the common phase. */
  paths(trial: Trial, model: GainModel): { path: Float64Array; turned: Float64Array } {
    const factors = this.path(trial);
    const { gain, phase } = this.solve(factors, model);
    const path = new Float64Array(this.delays.length);
    const turned = new Float64Array(this.delays.length);
    const size = this.gainOver(gain);
    for (let i = 0; i < path.length; i += 1) {
      const g = size[i]!;
      const re = g * (factors.re[i]! * phase.re - factors.im[i]! * phase.im);
      const im = g * (factors.re[i]! * phase.im + factors.im[i]! * phase.re);
      path[i] = Math.hypot(re, im);
      turned[i] =
        (this.amplitudes.re[i]! * re + this.amplitudes.im[i]! * im) / Math.max(path[i]!, Number.MIN_VALUE);
    }
    return { path, turned };
  }

  /**
   * The bent gain with a prior on its bends, in units of the cost. The misfit of the straight gain is a first
   * guess of those units; the bent gain's own misfit, known only under a prior, then replaces it. Taking
   * the first for good would forbid the very bends that the straight gain lacks.
   */
  bentGain(path: Path): GainModel {
    let model: GainModel = STRAIGHT_GAIN;
    for (let round = 0; round < PRIOR_ROUNDS; round += 1) {
      const { cost, gain } = this.solve(path, model);
      const freedom = Math.max(1, 2 * this.delays.length - model.order - 3);
      const reduced = Math.max(cost / freedom, 1e-9);
      const mean = Math.max(Math.abs(gain[0]!), Number.MIN_VALUE);
      const prior = Float64Array.from({ length: RIVAL_ORDER + 1 }, (_, k) =>
        k === 0 ? 0 : reduced / ((GAIN_PRIOR * mean) / k ** 1.5) ** 2,
      );
      model = { order: GAIN_ORDER, prior };
    }
    return model;
  }
}

/** The normal equations of a gain of one order; overwritten by each trial. */
interface NormalEquations {
  /** Polynomials of the gain, and those that their products are made of: rows over the heights. */
  readonly gains: readonly Float64Array[];
  readonly products: readonly Float64Array[];
  /** Sums over the heights for each of the latter. */
  readonly moments: Float64Array;
  /** Shape (terms · terms,), row-major. */
  readonly matrix: Float64Array;
  readonly factor: Float64Array;
  /** For either part of the amplitudes, shape (terms,). */
  readonly solution: Path;
}

/** A complex factor at every height. */
interface Path {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

function emptyPath(heights: number): Path {
  return { re: new Float64Array(heights), im: new Float64Array(heights) };
}

/** The shaper's own path, or one of its rivals. */
type PathKind = 'null' | 'dip' | 'flat';

/**
 * Whether ringing turns over where a shaper's residual vanishes: its zero is simple or threefold there. A double
 * zero touches and goes back.
 * @param family - The shaper's family.
 * @returns True for ZV and ZVDD.
 */
export function turnsOver(family: PrintSettings['shaper']['family']): boolean {
  return family === 'ZV' || family === 'ZVDD';
}

/** How the gain may change over the height. */
interface GainModel {
  /** Highest order of the Chebyshev polynomials. */
  readonly order: number;
  /** Ridge for each coefficient; undefined: none. */
  readonly prior: Float64Array | undefined;
}

const STRAIGHT_GAIN: GainModel = { order: 1, prior: undefined };

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
    return leastOf(turns, (turn) => problem.cost(problem.turned(path, turn), firstGain, factor));
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
      const factor = problem.factor(path, model, weights);
      return problem.cost(path, model, factor, weights) + prior;
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
  return { problem, model, origin, target, targets, rival, point: found.point, phaseSd, cost };
}

/** Cost for each degree of freedom: two parts at each height, less gain, phase and the four that are searched. */
function reducedChiSquareOf(cost: number, heights: number): number {
  return Math.max(1e-12, cost / Math.max(1, 2 * heights - (GAIN_ORDER + 2) - 4));
}

function describe(amplitudes: readonly SignedAmplitude[], question: NullQuestion, fit: OriginFit): NullFit {
  const { problem, model, origin, target, rival, point, cost } = fit;
  const trial = trialAt(point);
  const { naturalHz, zeta: dampingRatio } = trial;
  const reducedChiSquare = reducedChiSquareOf(cost, amplitudes.length);
  const nullHz = shaperNullHz(question.shaper, naturalHz, dampingRatio);
  const { path, turned } = problem.paths(trial, model);
  const noise = median(amplitudes.map((a) => a.sd));
  const left = problem.sizes(trial);
  const side = (low: number, high: number) => {
    const there = amplitudes.flatMap(({ ladderHz }, i) => {
      const ratio = ladderHz / nullHz;
      return ratio > low && ratio < high && left[i]! >= LEAST_LEFT ? [path[i]!] : [];
    });
    return there.length === 0 ? 0 : median(there) / noise;
  };
  const flips = turnsOver(question.shaper.family);
  const sign = amplitudes.map((a) => (flips && a.ladderHz < nullHz ? -1 : 1));
  return {
    naturalHz,
    dampingRatio,
    nullHz,
    nullSdHz: typeA(question, fit, reducedChiSquare),
    timeOrigin: origin,
    reversalF: (rival() - target(point)) / 2 / reducedChiSquare,
    signalBelow: side(1 / SIDE_REACH, 1),
    signalAbove: side(1, SIDE_REACH),
    cost,
    reducedChiSquare,
    path: path.map((size, i) => sign[i]! * size),
    turned: turned.map((value, i) => sign[i]! * value),
  };
}

/** An axis that may explain the amplitudes. */
interface Axis {
  readonly naturalHz: Hz;
  readonly zeta: DampingRatio;
}

/** Phase error of the corner at the ladder's ends, radians: odd and even part over the height. */
interface Lean {
  readonly tilt: number;
  readonly bow: number;
}

/** What the null fit varies: the axis, and where the corner is over the height. */
interface Trial extends Axis, Lean {}

/** Cost with priors at (f, ln ζ, tilt, bow). */
type Target = (p: readonly number[]) => number;

/** The same for several weightings of the heights. */
type Targets = (p: readonly number[], weightings: readonly Float64Array[]) => Float64Array;

const LOG_DAMPING = [Math.log(DAMPING_RANGE[0]), Math.log(DAMPING_RANGE[1])] as const;

function trialAt(p: readonly number[]): Trial {
  return {
    naturalHz: clamp(p[0]!, NATURAL_RANGE_HZ),
    zeta: Math.exp(clamp(p[1]!, LOG_DAMPING)),
    tilt: p[2]!,
    bow: p[3]!,
  };
}

/** Larger of Hessian and jackknife (ten blocks of heights), times 1.1, with a floor of 0.1 Hz. */
function typeA(question: NullQuestion, fit: OriginFit, reducedChiSquare: number): Hz {
  const { problem, targets, point, phaseSd } = fit;
  const nullAt = (f: Hz, ln: number) => shaperNullHz(question.shaper, f, Math.exp(clamp(ln, LOG_DAMPING)));
  const steps = [0.2, 0.1, phaseSd / 4, phaseSd / 4];
  const [f, ln] = [clamp(point[0]!, NATURAL_RANGE_HZ), clamp(point[1]!, LOG_DAMPING)];
  const withoutBlocks = jackknifeBlocks(problem.weights.length).map(([from, to]) =>
    problem.weights.slice().fill(0, from, to),
  );
  const weightings = [problem.weights, ...withoutBlocks];
  const [full, ...withoutBlock] = parabolas((p) => targets(p, weightings), point, steps);
  const covariance = invertSymmetric(full!.hessian, steps.length);
  const perLn = (nullAt(f, ln + steps[1]!) - nullAt(f, ln - steps[1]!)) / 2 / steps[1]!;
  const variance =
    covariance === undefined
      ? Infinity
      : 2 * reducedChiSquare * (covariance[0]! + 2 * perLn * covariance[1]! + perLn ** 2 * covariance[5]!);
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
