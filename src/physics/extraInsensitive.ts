import type { DampingRatio } from '../core/units.js';
import { combineColumns } from '../signal/leastSquares.js';
import { residualFactor } from './residual.js';
import { spacedByHalfPeriods, TOLERATED_VIBRATION, type UnitShaper } from './unitShaper.js';

/**
 * Beyond this damping ratio the upper zero of EI runs away to many times the frequency, and there is nothing
 * left to be insensitive to.
 */
export const MOST_DAMPED: DampingRatio = 0.5;

/** Solved shapers by damping ratio: bands of one print share theirs, a fit over ζ visits many. */
const solved = new Map<DampingRatio, UnitShaper>();
const MAX_SOLVED = 64;

/**
 * The EI shaper, exact for damping: the residual vibration V of a mode at r times the shaper's frequency has
 * V(1) = 5 %, zero slope there, and one zero on each side.
 * @param dampingRatio - Damping ratio, 0 to 0.5.
 * @returns Amplitudes (sum 1) and times in natural periods.
 * @throws {RangeError} When the damping ratio is outside 0 to 0.5.
 * @see Singhose, Seering & Singer, J. Mech. Design 116, 1994, 654–659 (from memory). Their curve fit for
 * damping is not used: the equations are solved.
 */
export function extraInsensitive(dampingRatio: DampingRatio): UnitShaper {
  const known = solved.get(dampingRatio);
  if (known !== undefined) return known;
  if (!(dampingRatio >= 0 && dampingRatio <= MOST_DAMPED)) {
    throw new RangeError(
      `Expected a damping ratio from 0 to ${MOST_DAMPED} for EI but received ${dampingRatio}.`,
    );
  }
  const shaper = solve(dampingRatio);
  const oldest = solved.keys().next();
  if (solved.size >= MAX_SOLVED && oldest.done !== true) solved.delete(oldest.value);
  solved.set(dampingRatio, shaper);
  return shaper;
}

/** First and second amplitude, second and third time, the zeros below and above r = 1. */
type Unknowns = readonly [number, number, number, number, number, number];

/**
 * Newton's method from the shaper scaled by 1, K, K². A step that does not bring the equations nearer to zero
 * is halved: from a damping ratio of 0.4 up whole steps run away.
 */
function solve(dampingRatio: DampingRatio): UnitShaper {
  let unknowns = startOf(dampingRatio);
  let errors = equations(unknowns, dampingRatio);
  for (let share = 1; share > LEAST_SHARE;) {
    const step = newtonStep(unknowns, errors, dampingRatio);
    for (share = 1; share > LEAST_SHARE; share /= 2) {
      const trial = moved(unknowns, step, share);
      const trialErrors = equations(trial, dampingRatio);
      if (squareSum(trialErrors) < squareSum(errors)) {
        [unknowns, errors] = [trial, trialErrors];
        break;
      }
    }
  }
  const [first, second, middle, last] = unknowns;
  return { amplitudes: [first, second, 1 - first - second], periods: [0, middle, last] };
}

/** When a step this short does not help either, rounding is all that is left. */
const LEAST_SHARE = 1e-4;

function startOf(dampingRatio: DampingRatio): Unknowns {
  const outer = (1 + TOLERATED_VIBRATION) / 4;
  const { amplitudes, periods } = spacedByHalfPeriods([outer, 1 - 2 * outer, outer], dampingRatio);
  const [first = 0, second = 0] = amplitudes;
  const [, middle = 0, last = 0] = periods;
  // Without damping the zeros lie where (1 − V)/2 + (1 + V)/2 · cos πr vanishes.
  const below = Math.acos(-(1 - TOLERATED_VIBRATION) / (1 + TOLERATED_VIBRATION)) / Math.PI;
  return [first, second, middle, last, below, 2 - below];
}

/** What is left of the six equations: two at r = 1, real and imaginary part of R at each zero. */
function equations(unknowns: Unknowns, dampingRatio: DampingRatio): Float64Array {
  const [first, second, middle, last, below, above] = unknowns;
  const third = 1 - first - second;
  const timesS = [0, middle, last];
  const impulses = { amplitudes: [first, second, third], timesS };
  const decay = 2 * Math.PI * dampingRatio;
  const turn = 2 * Math.PI * Math.sqrt(1 - dampingRatio * dampingRatio);
  const middleR = residualFactor(impulses, 1, dampingRatio);
  const size = Math.hypot(middleR.re, middleR.im);
  // dR/dr = −μ Σ A t e^{−μt} at r = 1, with μ = 2π(−ζ + j√(1 − ζ²)).
  const timed = residualFactor({ amplitudes: [0, second * middle, third * last], timesS }, 1, dampingRatio);
  const slopeRe = decay * timed.re + turn * timed.im;
  const slopeIm = decay * timed.im - turn * timed.re;
  const belowR = residualFactor(impulses, below, dampingRatio);
  const aboveR = residualFactor(impulses, above, dampingRatio);
  return Float64Array.of(
    size * Math.exp(-decay * last) - TOLERATED_VIBRATION,
    // The slope of ln V is Re(R′/R) less the decay up to the last impulse.
    (middleR.re * slopeRe + middleR.im * slopeIm) / (size * size) - decay * last,
    belowR.re,
    belowR.im,
    aboveR.re,
    aboveR.im,
  );
}

/** Newton step from central differences. Normal equations do no harm: their condition is below 10⁶. */
function newtonStep(unknowns: Unknowns, errors: Float64Array, dampingRatio: DampingRatio): Float64Array {
  const columns = unknowns.map((_, j) => {
    const axis = Float64Array.from(unknowns, (__, i) => (i === j ? 1 : 0));
    const plus = equations(moved(unknowns, axis, DIFFERENCE), dampingRatio);
    const minus = equations(moved(unknowns, axis, -DIFFERENCE), dampingRatio);
    return plus.map((value, i) => (value - (minus[i] ?? 0)) / (2 * DIFFERENCE));
  });
  const step = combineColumns(
    columns,
    errors.map((value) => -value),
  );
  if (step === undefined)
    throw new RangeError('Expected independent equations for EI but they are singular.');
  return step;
}

const DIFFERENCE = 1e-6;

function moved(unknowns: Unknowns, step: Float64Array, share: number): Unknowns {
  return unknowns.map((value, i) => value + share * (step[i] ?? 0)) as unknown as Unknowns;
}

function squareSum(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value * value, 0);
}
