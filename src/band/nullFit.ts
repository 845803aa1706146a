import type { DampingRatio, Hz } from '../core/units.js';
import { meanDelayS, residualFactor, residualSize } from '../physics/residual.js';
import { shaperImpulses, type Impulses } from '../physics/shapers.js';
import type { PrintSettings } from '../print/settle.js';
import { jackknifeBlocks, jackknifeSd } from '../signal/jackknife.js';
import { invertSymmetric, solveSymmetric } from '../signal/leastSquares.js';
import { median, percentile } from '../signal/median.js';
import { minimise, minimise1d } from '../signal/simplex.js';
import { clamp, dot } from '../core/vector.js';

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

/** Order of the smooth gain over the height (Chebyshev), and its prior: lighting drifts with height. */
const GAIN_ORDER = 6;
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
  /** The amplitudes are those of ripples seen doubled: of the slope's square, at twice the frequency. @default false */
  readonly squared?: boolean;
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
  const size = (hz: Hz) => residualSize(shaperImpulses({ ...shaper, hz }), naturalHz, dampingRatio);
  let best = naturalHz / 1.6;
  const step = 1.01;
  for (let hz = best; hz < naturalHz * 1.6; hz *= step) if (size(hz) < size(best)) best = hz;
  return minimise1d(size, best / step, best * step, 1e-6 * naturalHz).point;
}

/**
 * Real smooth gain with one global phase: everything that is linear once (f_n, ζ, κ) is chosen.
 * @internal
 */
export class GainProblem {
  private readonly impulses: readonly Impulses[];
  private readonly delays: Float64Array;
  private readonly chebyshev: readonly Float64Array[];
  private readonly weights: Float64Array;
  private readonly amplitudes: readonly SignedAmplitude[];
  private readonly kappa: number;
  private readonly squared: boolean;

  constructor(amplitudes: readonly SignedAmplitude[], question: NullQuestion, origin: TimeOrigin) {
    this.amplitudes = amplitudes;
    this.kappa = origin + (question.timeOriginShift ?? 0);
    this.squared = question.squared ?? false;
    this.impulses = amplitudes.map((a) => shaperImpulses({ ...question.shaper, hz: a.ladderHz }));
    this.delays = Float64Array.from(this.impulses, (impulses) => meanDelayS(impulses));
    const fs = amplitudes.map((a) => a.ladderHz);
    const low = Math.min(...fs);
    const span = Math.max(...fs) - low;
    this.chebyshev = fs.map((f) => chebyshevRow((2 * (f - low)) / span - 1, GAIN_ORDER + 2));
    const sizes = amplitudes.map((a) => Math.hypot(a.re, a.im));
    const model = (MODEL_ERROR * percentile(sizes, 80)) ** 2;
    this.weights = Float64Array.from(amplitudes, (a) => 1 / Math.sqrt(a.sd * a.sd + model));
  }

  /**
   * R e^{λκτ} at every height, turned by the corner's tilt and bow (radians at the ladder's ends). The rivals of a
   * null have the same delay and lean: `dip` keeps the size of R but never turns over, `flat` has no size of its own.
   * @param trial - Axis and corner.
   * @param kind - The shaper's own path or a rival.
   * @returns Complex factors, shape (heights,).
   */
  factors(trial: Trial, kind: PathKind = 'null'): Path {
    const { naturalHz, zeta, tilt, bow } = trial;
    const count = this.amplitudes.length;
    const re = new Float64Array(count);
    const im = new Float64Array(count);
    const omega = 2 * Math.PI * naturalHz;
    const damped = omega * Math.sqrt(1 - zeta * zeta);
    for (let i = 0; i < count; i += 1) {
      const full = residualFactor(this.impulses[i]!, naturalHz, zeta);
      const r = kind === 'null' ? full : { re: kind === 'dip' ? Math.hypot(full.re, full.im) : 1, im: 0 };
      const shift = this.kappa * this.delays[i]!;
      const grow = Math.exp(-zeta * omega * shift);
      const u = this.chebyshev[i]!;
      // R itself lags by its mean delay, which its size alone does not.
      const lag = kind === 'null' ? 0 : -damped * this.delays[i]!;
      const turn = damped * shift + lag + tilt * u[1]! + bow * u[2]!;
      const cos = grow * Math.cos(turn);
      const sin = grow * Math.sin(turn);
      const once = { re: r.re * cos - r.im * sin, im: r.re * sin + r.im * cos };
      re[i] = this.squared ? once.re ** 2 - once.im ** 2 : once.re;
      im[i] = this.squared ? 2 * once.re * once.im : once.im;
    }
    return { re, im };
  }

  /**
   * Least squares over gain and phase.
   * @param factors - What the gain multiplies.
   * @param model - Order and prior of the gain.
   * @param keep - 0 switches a height off (jackknife), shape (heights,).
   * @returns Weighted cost, Chebyshev coefficients of the gain, and the common phase as a number of size 1.
   */
  solve(
    factors: Path,
    model: GainModel,
    keep?: Uint8Array,
  ): { cost: number; gain: Float64Array; phase: { re: number; im: number } } {
    const { order, prior } = model;
    const terms = order + 1;
    const m = new Float64Array(terms * terms);
    const qRe = new Float64Array(terms);
    const qIm = new Float64Array(terms);
    let energy = 0;
    for (let i = 0; i < this.amplitudes.length; i += 1) {
      if (keep?.[i] === 0) continue;
      const { re, im } = this.amplitudes[i]!;
      const w2 = this.weights[i]! ** 2;
      energy += w2 * (re * re + im * im);
      const size = w2 * (factors.re[i]! ** 2 + factors.im[i]! ** 2);
      const dotRe = w2 * (factors.re[i]! * re + factors.im[i]! * im);
      const dotIm = w2 * (factors.re[i]! * im - factors.im[i]! * re);
      const row = this.chebyshev[i]!;
      for (let a = 0; a < terms; a += 1) {
        qRe[a] = qRe[a]! + row[a]! * dotRe;
        qIm[a] = qIm[a]! + row[a]! * dotIm;
        for (let b = 0; b <= a; b += 1) m[a * terms + b] = m[a * terms + b]! + size * row[a]! * row[b]!;
      }
    }
    let trace = 0;
    for (let a = 0; a < terms; a += 1) {
      trace += m[a * terms + a]!;
      for (let b = 0; b < a; b += 1) m[b * terms + a] = m[a * terms + b]!;
    }
    for (let a = 0; a < terms; a += 1) {
      m[a * terms + a] = m[a * terms + a]! + 1e-10 * trace + Number.MIN_VALUE + (prior?.[a] ?? 0);
    }
    const solveFor = (rhs: Float64Array) => solveSymmetric(m, rhs) ?? new Float64Array(terms);
    const xRe = solveFor(qRe);
    const xIm = solveFor(qIm);
    // The best global phase is the leading eigenvector of a 2 × 2 matrix.
    const s00 = dot(qRe, xRe);
    const s01 = dot(qRe, xIm);
    const s11 = dot(qIm, xIm);
    const angle = 0.5 * Math.atan2(2 * s01, s00 - s11);
    const phase = { re: Math.cos(angle), im: Math.sin(angle) };
    const largest = s00 * phase.re ** 2 + 2 * s01 * phase.re * phase.im + s11 * phase.im ** 2;
    const gain = xRe.map((value, a) => value * phase.re + xIm[a]! * phase.im);
    return { cost: energy - largest, gain, phase };
  }

  /**
   * Weighted cost of `solve`.
   * @param trial - Axis and corner.
   * @param model - Order and prior of the gain.
   * @param keep - 0 switches a height off, shape (heights,).
   * @param kind - The shaper's own path or a rival.
   * @returns The cost.
   */
  cost(trial: Trial, model: GainModel, keep?: Uint8Array, kind?: PathKind): number {
    return this.solve(this.factors(trial, kind), model, keep).cost;
  }

  /**
   * Size of R at every height: share of the unshaped ringing that is left.
   * @param trial - Axis; the corner does not matter.
   * @returns |R|, shape (heights,).
   */
  sizes(trial: Trial): readonly number[] {
    const { naturalHz, zeta } = trial;
    return this.impulses.map((impulses) => residualSize(impulses, naturalHz, zeta));
  }

  /**
   * Fitted path and measured amplitudes turned to its phase.
   * @param trial - Axis and corner.
   * @param model - Order and prior of the gain.
   * @returns Size of the path, and the amplitudes along it, each shape (heights,).
   */
  paths(trial: Trial, model: GainModel): { path: Float64Array; turned: Float64Array } {
    const factors = this.factors(trial);
    const { gain, phase } = this.solve(factors, model);
    const path = new Float64Array(this.amplitudes.length);
    const turned = new Float64Array(this.amplitudes.length);
    this.amplitudes.forEach((a, i) => {
      const g = gain.reduce((sum, c, k) => sum + c * this.chebyshev[i]![k]!, 0);
      const re = g * (factors.re[i]! * phase.re - factors.im[i]! * phase.im);
      const im = g * (factors.re[i]! * phase.im + factors.im[i]! * phase.re);
      path[i] = Math.hypot(re, im);
      const size = Math.max(path[i], Number.MIN_VALUE);
      turned[i] = (a.re * re + a.im * im) / size;
    });
    return { path, turned };
  }

  /**
   * The bent gain with a prior on its bends, in units of the cost. The misfit of the straight gain is a first
   * guess of those units; the bent gain's own misfit, known only under a prior, then replaces it. Taking
   * the first for good would forbid the very bends that the straight gain lacks.
   * @param trial - Axis and corner.
   * @returns Order and prior of the gain.
   */
  bentGain(trial: Trial): GainModel {
    const factors = this.factors(trial);
    let model: GainModel = STRAIGHT_GAIN;
    for (let round = 0; round < PRIOR_ROUNDS; round += 1) {
      const { cost, gain } = this.solve(factors, model);
      const freedom = Math.max(1, 2 * this.amplitudes.length - model.order - 3);
      const reduced = Math.max(cost / freedom, 1e-9);
      const mean = Math.max(Math.abs(gain[0]!), Number.MIN_VALUE);
      const prior = Float64Array.from({ length: GAIN_ORDER + 3 }, (_, k) =>
        k === 0 ? 0 : reduced / ((GAIN_PRIOR * mean) / k ** 1.5) ** 2,
      );
      model = { order: GAIN_ORDER, prior };
    }
    return model;
  }
}

/** A complex factor at every height. */
interface Path {
  readonly re: Float64Array;
  readonly im: Float64Array;
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
  const upright = grid.map((f) => straight(f, zeta));
  const coarse = bestOf(upright, (trial) => problem.cost(trial, STRAIGHT_GAIN));
  const firstGain = problem.bentGain(coarse);
  const phaseSd = Math.max(1e-3, question.cornerPhaseRad);
  // A face that leans in the photo hides the best start from a search that takes it as upright.
  const starts = LEANS.flatMap((lean) => upright.map((trial) => ({ ...trial, tilt: lean * phaseSd })));
  const start = bestOf(starts, (trial) => problem.cost(trial, firstGain));
  const model = problem.bentGain(start);
  // One unit of chi-square, in units of the cost: priors are told in standard deviations.
  const unit = Math.max(1, problem.cost(start, model) / (2 * amplitudes.length));
  const priors = (p: readonly number[]) =>
    unit * (((p[1]! - Math.log(zeta)) / zetaSd) ** 2 + (p[2]! / phaseSd) ** 2 + (p[3]! / phaseSd) ** 2);
  const target: Target = (p, keep) => problem.cost(trialAt(p), model, keep) + priors(p);
  const steps = [0.4, 0.2, phaseSd / 2, phaseSd / 2];
  const limits = { maxEvaluations: 400, tolerance: 1e-7 };
  const first = minimise(target, [start.naturalHz, Math.log(zeta), start.tilt, 0], steps, limits);
  // A simplex that has shrunk in the wrong place is made anew where it stopped.
  const found = first.converged ? first : minimise(target, first.point, steps, limits);
  const cost = problem.cost(trialAt(found.point), model);
  // A shaper of even order touches zero without turning over: there the rival is a path without any dip.
  const kind = turnsOver(question.shaper.family) ? 'dip' : 'flat';
  const free = kind === 'dip' ? model : { ...model, order: model.order + 2 };
  const rival = () =>
    minimise((p) => problem.cost(trialAt(p), free, undefined, kind) + priors(p), found.point, steps, limits)
      .cost;
  return { problem, model, origin, target, rival, point: found.point, phaseSd, cost };
}

/** Cost for each degree of freedom: two parts at each height, less gain, phase and the four that are searched. */
function reducedChiSquareOf(cost: number, heights: number): number {
  return Math.max(1e-12, cost / Math.max(1, 2 * heights - (GAIN_ORDER + 2) - 4));
}

function describe(
  amplitudes: readonly SignedAmplitude[],
  question: NullQuestion,
  { problem, model, origin, target, rival, point, phaseSd, cost }: OriginFit,
): NullFit {
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
    nullSdHz: typeA(question, target, point, phaseSd, reducedChiSquare, amplitudes.length),
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

/** What the null fit varies: the axis, and where the corner is over the height. */
interface Trial {
  readonly naturalHz: Hz;
  readonly zeta: DampingRatio;
  /** Phase error of the corner at the ladder's ends, radians: odd and even part over the height. */
  readonly tilt: number;
  readonly bow: number;
}

/** Cost with priors at (f, ln ζ, tilt, bow); `keep` switches heights off. */
type Target = (p: readonly number[], keep?: Uint8Array) => number;

const LOG_DAMPING = [Math.log(DAMPING_RANGE[0]), Math.log(DAMPING_RANGE[1])] as const;

function trialAt(p: readonly number[]): Trial {
  return {
    naturalHz: clamp(p[0]!, NATURAL_RANGE_HZ),
    zeta: Math.exp(clamp(p[1]!, LOG_DAMPING)),
    tilt: p[2]!,
    bow: p[3]!,
  };
}

function straight(naturalHz: Hz, zeta: DampingRatio): Trial {
  return { naturalHz, zeta, tilt: 0, bow: 0 };
}

/** Larger of Hessian and jackknife (ten blocks of heights), times 1.1, with a floor of 0.1 Hz. */
function typeA(
  question: NullQuestion,
  target: Target,
  point: readonly number[],
  phaseSd: number,
  reducedChiSquare: number,
  heights: number,
): Hz {
  const nullAt = (f: Hz, ln: number) => shaperNullHz(question.shaper, f, Math.exp(clamp(ln, LOG_DAMPING)));
  const steps = [0.2, 0.1, phaseSd / 4, phaseSd / 4];
  const [f, ln] = [clamp(point[0]!, NATURAL_RANGE_HZ), clamp(point[1]!, LOG_DAMPING)];
  const full = parabola(target, point, steps);
  const covariance = invertSymmetric(full.hessian, steps.length);
  const perLn = (nullAt(f, ln + steps[1]!) - nullAt(f, ln - steps[1]!)) / 2 / steps[1]!;
  const variance =
    covariance === undefined
      ? Infinity
      : 2 * reducedChiSquare * (covariance[0]! + 2 * perLn * covariance[1]! + perLn ** 2 * covariance[5]!);
  const nulls: number[] = [];
  for (const [from, to] of jackknifeBlocks(heights)) {
    const keep = new Uint8Array(heights).fill(1).fill(0, from, to);
    const { gradient, hessian } = parabola((p) => target(p, keep), point, steps);
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

/** Gradient and Hessian (row-major) of a cost by central differences. */
function parabola(
  cost: (p: readonly number[]) => number,
  at: readonly number[],
  steps: readonly number[],
): { gradient: Float64Array; hessian: Float64Array } {
  const n = at.length;
  const moved = (i: number, si: number, j = i, sj = 0) => {
    const p = [...at];
    p[i] = p[i]! + si * steps[i]!;
    p[j] = p[j]! + sj * steps[j]!;
    return cost(p);
  };
  const centre = cost(at);
  const gradient = new Float64Array(n);
  const hessian = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    const [up, down] = [moved(i, 1), moved(i, -1)];
    gradient[i] = (up - down) / 2 / steps[i]!;
    hessian[i * n + i] = (up + down - 2 * centre) / steps[i]! ** 2;
    for (let j = 0; j < i; j += 1) {
      const mixed = moved(i, 1, j, 1) - moved(i, 1, j, -1) - moved(i, -1, j, 1) + moved(i, -1, j, -1);
      hessian[i * n + j] = mixed / 4 / steps[i]! / steps[j]!;
      hessian[j * n + i] = hessian[i * n + j]!;
    }
  }
  return { gradient, hessian };
}

function trialFrequencies(amplitudes: readonly SignedAmplitude[], question: NullQuestion): readonly Hz[] {
  const fs = amplitudes.map((a) => a.ladderHz);
  const low = Math.max(8, Math.min(...fs) * 0.85, question.gated ? question.frequencyHz / GATE : 0);
  const high = Math.min(Math.max(...fs) * 1.15, question.gated ? question.frequencyHz * GATE : Infinity);
  const grid: Hz[] = [];
  for (let f = low; f <= high; f += GRID_STEP_HZ) grid.push(f);
  return grid;
}

function bestOf(trials: readonly Trial[], cost: (trial: Trial) => number): Trial {
  let best = { trial: trials[0]!, cost: Infinity };
  for (const trial of trials) {
    const value = cost(trial);
    if (value < best.cost) best = { trial, cost: value };
  }
  return best.trial;
}

/** T₀(u) … T_order(u). */
function chebyshevRow(u: number, order: number): Float64Array {
  const row = new Float64Array(order + 1);
  row[0] = 1;
  row[1] = u;
  for (let k = 2; k <= order; k += 1) row[k] = 2 * u * row[k - 1]! - row[k - 2]!;
  return row;
}
