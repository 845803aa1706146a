import type { Estimate } from '../core/estimate.js';
import { combineColumns, invertSymmetric, normalMatrix } from './leastSquares.js';
import { minimise1d } from './simplex.js';

/** A sine of constant amplitude on a straight line: y = A cos(2πfx + φ) + offset + slope (x − mean of x). */
export interface SineFit {
  /** Frequency f; the uncertainty takes the residual as white noise. */
  readonly cyclesPerUnit: Estimate;
  /** Amplitude A ≥ 0, unit of y. */
  readonly amplitude: Estimate;
  /** Phase φ at x = 0, −π to π. */
  readonly phaseRad: number;
  /** The line's value at the mean of x, unit of y. */
  readonly offset: number;
  /** The line's slope, unit of y for each unit of x. */
  readonly slopePerUnit: number;
  /** Residual standard deviation with n − 5 degrees of freedom, unit of y. */
  readonly residualSd: number;
}

/** Offset, slope, cosine, sine, frequency. */
const PARAMETERS = 5;
/** The search goes this many resolved bins (1 ÷ length of the record) to each side of the guess. */
const SEARCH_BINS = 1;
const STEPS_PER_BIN = 8;
const MAX_REFINEMENTS = 8;

/**
 * Fits an undamped sine with offset and slope to evenly or unevenly spaced data: the linear parameters are
 * eliminated, the sum of squares is searched over frequency, and Gauss–Newton steps finish.
 * @param x - Positions, shape (n,), n ≥ 6; not modified.
 * @param y - Values, shape (n,); not modified.
 * @param guessCyclesPerUnit - Approximate frequency, > 0; the answer lies within 1 ÷ (longest distance in x)
 * of it, and above half of it.
 * @returns The fit. Where the data hold no sine at all, the frequency's uncertainty is that of a frequency
 * known to lie in the range searched (rectangular distribution, GUM 4.3.7).
 * @throws {RangeError} When there are fewer than 6 values, the lengths differ, a value is not finite, the
 * positions do not differ, or the guess is not positive.
 * @see IEEE Std 1057, four-parameter sine fit (from memory), with a slope; the search over the concentrated
 * sum of squares is Händel's advice, IEEE Trans. Instrum. Meas. 49(6), 2000.
 */
export function fitSine(x: ArrayLike<number>, y: ArrayLike<number>, guessCyclesPerUnit: number): SineFit {
  const { positions, meanX, span } = centred(x, y, guessCyclesPerUnit);
  const values = Float64Array.from(y);
  const ones = new Float64Array(values.length).fill(1);
  const columnsAt = (f: number): Columns => {
    const angle = positions.map((p) => 2 * Math.PI * f * p);
    return [ones, positions, angle.map(Math.cos), angle.map(Math.sin)];
  };
  const cost = (f: number): number => {
    const columns = columnsAt(f);
    const solution = combineColumns(columns, values);
    return solution === undefined ? Infinity : squaresLeft(columns, solution, values);
  };

  const step = 1 / (STEPS_PER_BIN * span);
  const reach = STEPS_PER_BIN * SEARCH_BINS;
  const lowest = guessCyclesPerUnit / 2;
  const grid: number[] = [];
  for (let k = -reach; k <= reach; k += 1) grid.push(Math.max(lowest, guessCyclesPerUnit + k * step));
  const costs = grid.map(cost);
  const best = grid[costs.indexOf(Math.min(...costs))]!;
  let f = minimise1d(cost, Math.max(lowest, best - step), best + step, 1e-6 / span).point;

  // The sum of squares is flat at its minimum, so a search stops at half the digits: Gauss–Newton has the rest.
  for (let round = 0; round < MAX_REFINEMENTS; round += 1) {
    const columns = columnsAt(f);
    const linear = combineColumns(columns, values);
    if (linear === undefined) break;
    const all = combineColumns([...columns, slopeOverFrequency(columns, linear, positions)], values);
    const shift = all?.[4] ?? 0;
    if (!(Math.abs(shift) < 1e-3 / span)) break;
    f += shift;
    if (Math.abs(shift) < 1e-15 / span) break;
  }
  return report(columnsAt(f), values, positions, f, meanX, span);
}

/** Ones, centred positions, cosine, sine; each shape (n,). */
type Columns = readonly [Float64Array, Float64Array, Float64Array, Float64Array];

function report(
  columns: Columns,
  values: Float64Array,
  positions: Float64Array,
  f: number,
  meanX: number,
  span: number,
): SineFit {
  const linear = combineColumns(columns, values);
  if (linear === undefined) {
    throw new RangeError('Expected positions that tell a sine from a straight line but they do not.');
  }
  const [offset, slopePerUnit, cosine, sine] = linear as unknown as [number, number, number, number];
  const amplitude = Math.hypot(cosine, sine);
  const residualSd = Math.sqrt(squaresLeft(columns, linear, values) / (values.length - PARAMETERS));
  const all = [...columns, slopeOverFrequency(columns, linear, positions)];
  const covariance = invertSymmetric(normalMatrix(all), PARAMETERS);
  const element = (i: number, j: number): number => (covariance?.[i * PARAMETERS + j] ?? 0) * residualSd ** 2;
  const alongAmplitude =
    cosine * cosine * element(2, 2) + 2 * cosine * sine * element(2, 3) + sine * sine * element(3, 3);
  const phase = Math.atan2(-sine, cosine) - 2 * Math.PI * f * meanX;
  return {
    cyclesPerUnit: {
      value: f,
      sd: covariance === undefined ? SEARCH_BINS / span / Math.sqrt(3) : Math.sqrt(element(4, 4)),
    },
    amplitude: {
      value: amplitude,
      sd: covariance === undefined ? residualSd : Math.sqrt(alongAmplitude) / amplitude,
    },
    phaseRad: phase - 2 * Math.PI * Math.round(phase / (2 * Math.PI)),
    offset,
    slopePerUnit,
    residualSd,
  };
}

function centred(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  guess: number,
): { positions: Float64Array; meanX: number; span: number } {
  const n = x.length;
  if (n <= PARAMETERS || y.length !== n) {
    throw new RangeError(`Expected at least 6 pairs of values but received ${n} and ${y.length} values.`);
  }
  if (!(guess > 0 && guess < Infinity)) {
    throw new RangeError(`Expected a guess > 0 cycles per unit but received ${guess}.`);
  }
  let meanX = 0;
  let [low, high] = [Infinity, -Infinity];
  for (let i = 0; i < n; i += 1) {
    if (!Number.isFinite(x[i]!) || !Number.isFinite(y[i]!)) {
      throw new RangeError(`Expected finite values but received ${x[i]!}, ${y[i]!} at index ${i}.`);
    }
    meanX += x[i]! / n;
    low = Math.min(low, x[i]!);
    high = Math.max(high, x[i]!);
  }
  if (!(high > low)) throw new RangeError('Expected positions that differ but they are all the same.');
  return { positions: Float64Array.from(x).map((value) => value - meanX), meanX, span: high - low };
}

/** Derivative of the fitted sine by frequency: 2πx (sine · cos − cosine · sin). */
function slopeOverFrequency(columns: Columns, linear: Float64Array, positions: Float64Array): Float64Array {
  const [, , cos, sin] = columns;
  return positions.map((p, i) => 2 * Math.PI * p * (linear[3]! * cos[i]! - linear[2]! * sin[i]!));
}

/** Sum of squared residuals, from the residuals themselves: a difference of energies would cancel. */
function squaresLeft(columns: readonly Float64Array[], linear: Float64Array, values: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < values.length; i += 1) {
    let rest = values[i]!;
    for (let k = 0; k < columns.length; k += 1) rest -= linear[k]! * columns[k]![i]!;
    sum += rest * rest;
  }
  return sum;
}
