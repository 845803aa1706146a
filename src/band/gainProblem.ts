import { dot, dots } from '../core/vector.js';
import type { DampingRatio, Hz, Mm } from '../core/units.js';
import { meanDelayS, residualFactor, residualSize } from '../physics/residual.js';
import { shaperImpulses, type Impulses } from '../physics/shapers.js';
import type { PrintSettings } from '../print/settle.js';
import { chebyshevRows } from '../signal/chebyshev.js';
import type { Complex } from '../signal/complex.js';
import { choleskyFactor, solveLower, solveUpper } from '../signal/leastSquares.js';
import { percentile } from '../signal/median.js';

/** Signed amplitude of one height, with the ladder's frequency there. */
export interface SignedAmplitude {
  /** Above the bed: gain and corner change smoothly with it, however the ladder climbs. */
  readonly heightMm: Mm;
  /** Of several ladders, which; they share axis, gain and corner. @default 0 */
  readonly ladder?: number;
  readonly ladderHz: Hz;
  readonly re: number;
  readonly im: number;
  readonly sd: number;
}

/** Which instant a wall starts at, relative to the travel map: 0 as told, ±1 one mean delay off. */
export type TimeOrigin = -1 | 0 | 1;

/** Which model the amplitudes are held against. */
export interface GainQuestion {
  readonly shaper: PrintSettings['shaper'];
  /** Speed error as a share, which acts like a shift of the time origin (DESIGN 5.5). @default 0 */
  readonly timeOriginShift?: number;
  /** The amplitudes are those of ripples seen doubled: of the slope's square, at twice the frequency. @default false */
  readonly squared?: boolean;
}

/** An axis that may explain the amplitudes. */
export interface Axis {
  readonly naturalHz: Hz;
  readonly zeta: DampingRatio;
}

/** Phase error of the corner at the ladder's ends, radians: odd and even part over the height. */
export interface Lean {
  readonly tilt: number;
  readonly bow: number;
}

/** What the null fit varies: the axis, and where the corner is over the height. */
export interface Trial extends Axis, Lean {}

/** A complex factor at every height. */
export interface Path {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** The shaper's own path, or one of its rivals. */
export type PathKind = 'null' | 'dip' | 'flat';

/** How the gain may change over the height. */
export interface GainModel {
  /** Highest order of the Chebyshev polynomials. */
  readonly order: number;
  /** Ridge for each coefficient; undefined: none. */
  readonly prior: Float64Array | undefined;
}

/** A gain that changes evenly, without a prior. */
export const STRAIGHT_GAIN: GainModel = { order: 1, prior: undefined };

/** Order of the smooth gain over the height (Chebyshev): lighting drifts with height. */
export const GAIN_ORDER = 6;
/** A rival without a dip may bend so much more, to imitate one. */
export const RIVAL_ORDER = GAIN_ORDER + 2;
/** Prior standard deviation of coefficient k relative to the mean gain: 0.5 / k^1.5 (method study). */
export const GAIN_PRIOR = 0.5;
const PRIOR_ROUNDS = 4;
/**
 * Relative error of the model itself, in quadrature with the noise. The method study has 0.02; light that is not
 * Lambert's leaves more (drawn faces, tuning seeds).
 */
const MODEL_ERROR = 0.05;

/**
 * Real smooth gain with one global phase: everything that is linear once (f_n, ζ, κ) is chosen. The gain's
 * polynomials are kept as rows over the heights, so that sums over the heights are scalar products.
 */
export class GainProblem {
  /** Weight of each height's square. */
  readonly weights: Float64Array;
  private readonly impulses: readonly Impulses[];
  /** The same with their times κτ earlier: their residual factor is R e^{λκτ}. */
  private readonly earlier: readonly Impulses[];
  private readonly delays: Float64Array;
  /** T_k(u) of the height u, from −1 to 1; the product of any two of a gain is a sum of two others. */
  private readonly chebyshev: readonly Float64Array[];
  private readonly amplitudes: Path;
  private readonly kappa: number;
  private readonly squared: boolean;
  /** Overwritten by each trial: thousands of small arrays cost as much as the sums in them. */
  private readonly scratch: {
    readonly upright: Path;
    readonly turn: Path;
    readonly turned: Path;
    readonly overHeights: Path;
  };
  private readonly equations = new Map<number, NormalEquations>();

  constructor(amplitudes: readonly SignedAmplitude[], question: GainQuestion, origin: TimeOrigin) {
    const kappa = origin + (question.timeOriginShift ?? 0);
    this.kappa = kappa;
    this.squared = question.squared ?? false;
    this.impulses = amplitudes.map((a) => shaperImpulses({ ...question.shaper, hz: a.ladderHz }));
    this.delays = Float64Array.from(this.impulses, (impulses) => meanDelayS(impulses));
    this.earlier = this.impulses.map((impulses, i) => ({
      ...impulses,
      timesS: impulses.timesS.map((t) => t - kappa * this.delays[i]!),
    }));
    const heights = Float64Array.from(amplitudes, (a) => a.heightMm);
    const low = Math.min(...heights);
    const span = Math.max(...heights) - low;
    this.chebyshev = chebyshevRows(
      heights.map((mm) => (2 * (mm - low)) / span - 1),
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
      upright: emptyPath(heights.length),
      turn: emptyPath(heights.length),
      turned: emptyPath(heights.length),
      overHeights: emptyPath(heights.length),
    };
  }

  /**
   * R e^{λκτ} at every height. The rivals of a null have the same delay: `dip` keeps the size of R but never turns
   * over, `flat` has no size of its own.
   * @param axis - Natural frequency and damping ratio.
   * @param kind - The shaper's own path or a rival.
   * @param path - Receives the factors; made anew where it is left out.
   * @returns Complex factors, shape (heights,).
   */
  upright(axis: Axis, kind: PathKind = 'null', path = emptyPath(this.delays.length)): Path {
    const { naturalHz, zeta } = axis;
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
      if (this.squared) {
        const [re, im] = [path.re[i]!, path.im[i]!];
        path.re[i] = re * re - im * im;
        path.im[i] = 2 * re * im;
      }
    }
    return path;
  }

  /**
   * What the corner's tilt and bow turn every height by.
   * @param lean - Phases at the ladder's ends, radians.
   * @param path - Receives the factors; made anew where it is left out.
   * @returns Complex numbers of size 1, shape (heights,).
   */
  turn(lean: Lean, path = emptyPath(this.delays.length)): Path {
    const { tilt, bow } = lean;
    const [, tilting, bowing] = this.chebyshev;
    for (let i = 0; i < this.delays.length; i += 1) {
      const angle = (this.squared ? 2 : 1) * (tilt * tilting![i]! + bow * bowing![i]!);
      path.re[i] = Math.cos(angle);
      path.im[i] = Math.sin(angle);
    }
    return path;
  }

  /**
   * A path turned at every height.
   * @param upright - The path.
   * @param turn - What to turn it by.
   * @returns The turned path, shape (heights,); overwritten by the next one.
   */
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

  /**
   * The path of a trial.
   * @param trial - Axis and corner.
   * @param kind - The shaper's own path or a rival.
   * @returns The path, shape (heights,); overwritten by the next one.
   */
  path(trial: Trial, kind?: PathKind): Path {
    const { upright, turn } = this.scratch;
    return this.turned(this.upright(trial, kind, upright), this.turn(trial, turn));
  }

  /**
   * Cholesky factor of the gain's normal matrix. It does not change when the path is turned.
   * @param path - What the gain multiplies.
   * @param model - Order and prior of the gain.
   * @param weights - Weight of each height's square, shape (heights,); the noise's own where they are left out.
   * @returns Lower triangle, row-major, undefined where the matrix is not positive definite; overwritten by the next one.
   */
  factor(path: Path, model: GainModel, weights: Float64Array = this.weights): Float64Array | undefined {
    const { re, im } = path;
    const { order, prior } = model;
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

  /**
   * Least cost over gain and phase.
   * @param path - What the gain multiplies.
   * @param model - Order and prior of the gain.
   * @param weights - Weight of each height's square, shape (heights,); the noise's own where they are left out.
   * @param factor - Of the normal matrix with these weights, where it is known already.
   * @returns Weighted sum of squares that is left, the gain's prior included.
   */
  cost(
    path: Path,
    model: GainModel,
    weights: Float64Array = this.weights,
    factor: Float64Array | undefined = this.factor(path, model, weights),
  ): number {
    return this.energy(weights) - this.explained(path, model, factor, weights).energy;
  }

  /**
   * What the best gain and phase leave of the amplitudes, and the gain's prior: their squares add up to the cost, but
   * for the 1e-10 of the matrix that keeps it regular.
   * @param path - What the gain multiplies.
   * @param model - Order and prior of the gain.
   * @param others - Residuals of other priors, put behind them.
   * @returns Residuals, both parts of each height first.
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

  /**
   * Least cost with its gain.
   * @param path - What the gain multiplies.
   * @param model - Order and prior of the gain.
   * @returns Cost, Chebyshev coefficients of the gain, and the common phase as a number of size 1.
   */
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

  /**
   * Size of R at every height: share of the unshaped ringing that is left.
   * @param axis - Natural frequency and damping ratio.
   * @returns |R|, shape (heights,).
   */
  sizes(axis: Axis): readonly number[] {
    const { naturalHz, zeta } = axis;
    return this.impulses.map((impulses) => residualSize(impulses, naturalHz, zeta));
  }

  /**
   * Fitted path and measured amplitudes turned to its phase.
   * @param trial - Axis and corner.
   * @param model - Order and prior of the gain.
   * @returns Size of the path, and the amplitudes along it, each shape (heights,).
   */
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
   * @param path - What the gain multiplies.
   * @returns Order and prior of the gain.
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

function emptyPath(heights: number): Path {
  return { re: new Float64Array(heights), im: new Float64Array(heights) };
}
