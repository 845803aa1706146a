import { dot, dots } from '../core/vector.js';
import { solveSymmetric } from './leastSquares.js';
import type { Minimum } from './simplex.js';

/** Differences are taken over this share of a variable's step: the best gradient lies where rounding is small too. */
const DIFFERENCE = 1e-5;
const MAX_ROUNDS = 40;
/** Damping at the start, and how it changes with each step that fails or succeeds. */
const DAMPING = { first: 1e-3, up: 8, down: 1 / 10, most: 1e9 };

/**
 * Finds a local minimum of a sum of squares by damped Gauss–Newton steps with differences for derivatives. It needs a
 * tenth of the evaluations of a simplex where the residuals bend little.
 * @param residuals - The residuals at a point, always as many; a new array each time.
 * @param start - Where to begin, shape (n,); not modified.
 * @param steps - A change of each variable that matters, none 0, shape (n,).
 * @param tolerance - Ends when a step changes no variable by more than this share of `steps`.
 * @returns The best point, its sum of squares, and whether the tolerance was reached.
 * @throws {RangeError} When the sum of squares at the start is not finite.
 * @see Levenberg, Quart. Appl. Math. 2, 1944; Marquardt, J. SIAM 11, 1963 (both from memory).
 */
export function minimiseSquares(
  residuals: (p: readonly number[]) => Float64Array,
  start: readonly number[],
  steps: readonly number[],
  tolerance: number,
): Minimum<number[]> {
  const n = start.length;
  let evaluations = 0;
  const at = (point: readonly number[]) => {
    evaluations += 1;
    const values = residuals(point);
    return { point: [...point], values, cost: dot(values, values) };
  };
  let best = at(start);
  if (!Number.isFinite(best.cost)) {
    throw new RangeError(`Expected a finite sum of squares at the start but received ${best.cost}.`);
  }
  let damping = DAMPING.first;
  let converged = false;
  for (let round = 0; round < MAX_ROUNDS && !converged; round += 1) {
    const { point, values, cost } = best;
    const columns = steps.map((step, axis) => {
      const slopeBy = (change: number) => {
        const moved = at(point.map((value, i) => (i === axis ? value + change : value)));
        return moved.values.map((value, i) => (value - values[i]!) / change);
      };
      const forward = slopeBy(DIFFERENCE * step);
      // At the edge of what can be computed the other side may still be.
      return forward.every(Number.isFinite) ? forward : slopeBy(-DIFFERENCE * step);
    });
    const normal = dots(columns, columns);
    const slope = dots(columns, [values]);
    while (damping < DAMPING.most) {
      const damped = normal.slice();
      // A variable without effect stays where it is.
      for (let i = 0; i < n; i += 1)
        damped[i * n + i] = (1 + damping) * normal[i * n + i]! + Number.MIN_VALUE;
      const step = solveSymmetric(damped, slope);
      const next = step && at(point.map((value, i) => value - step[i]!));
      if (step !== undefined && next !== undefined && next.cost <= cost) {
        best = next;
        damping *= DAMPING.down;
        converged = step.every((change, i) => Math.abs(change) <= tolerance * Math.abs(steps[i]!));
        break;
      }
      damping *= DAMPING.up;
    }
    // No step helps any more, however short: this is the minimum to rounding, if there were slopes to tell.
    if (damping >= DAMPING.most) {
      converged = slope.every(Number.isFinite);
      break;
    }
  }
  return { point: best.point, cost: best.cost, evaluations, converged };
}
