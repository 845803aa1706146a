/** Where a search for a minimum ended. */
export interface Minimum<Point> {
  readonly point: Point;
  readonly cost: number;
  /** How often the cost was computed. */
  readonly evaluations: number;
  /** The tolerance was reached; false when the evaluations ran out first. */
  readonly converged: boolean;
}

/** One corner of the simplex. */
interface Vertex {
  readonly point: readonly number[];
  readonly cost: number;
}

/**
 * Finds a local minimum of a function of one to four variables without derivatives.
 * @param cost - The function; where it cannot be computed it may return Infinity or NaN.
 * @param start - First corner of the simplex, shape (n,); not modified.
 * @param steps - Size of the first simplex along each axis, none 0, shape (n,).
 * @param options - When to stop.
 * @param options.maxEvaluations - Most evaluations of the cost; 200 n unless given.
 * @param options.tolerance - Ends when the costs at the corners agree to this share of the cost and the
 * simplex has shrunk to the square root of this share of `steps`, or when it has shrunk to this share itself;
 * 1e-10 unless given.
 * @returns The best corner, its cost, and whether the tolerance was reached.
 * @throws {RangeError} When there are not one to four variables, or a step is 0 or missing.
 * @see Nelder & Mead, "A simplex method for function minimization", Computer Journal 7, 1965, 308–313 (from
 * memory): reflection 1, expansion 2, contraction ½, shrink ½.
 */
export function minimise(
  cost: (p: readonly number[]) => number,
  start: readonly number[],
  steps: readonly number[],
  options: { readonly maxEvaluations?: number; readonly tolerance?: number } = {},
): Minimum<number[]> {
  const n = start.length;
  if (n < 1 || n > 4 || steps.length !== n || steps.some((step) => step === 0 || !Number.isFinite(step))) {
    throw new RangeError(
      `Expected one to four variables with a step ≠ 0 each but received ${n} with steps ${steps.join(', ')}.`,
    );
  }
  const { maxEvaluations = 200 * n, tolerance = 1e-10 } = options;
  let evaluations = 0;
  const vertex = (point: readonly number[]): Vertex => {
    evaluations += 1;
    const value = cost(point);
    return { point, cost: Number.isNaN(value) ? Infinity : value };
  };
  const vertices = [
    vertex([...start]),
    ...steps.map((step, axis) => vertex(start.map((value, i) => (i === axis ? value + step : value)))),
  ];
  const sort = (): void => {
    vertices.sort((a, b) => a.cost - b.cost || 0);
  };
  const settled = (): boolean => {
    const best = vertices[0]!;
    let size = 0;
    for (const { point } of vertices) {
      for (let i = 0; i < n; i += 1) {
        size = Math.max(size, Math.abs((point[i]! - best.point[i]!) / steps[i]!));
      }
    }
    const agrees = vertices[n]!.cost - best.cost <= tolerance * Math.abs(best.cost);
    // A cost that goes to 0 never agrees to a share of itself: there the size alone decides.
    return size <= tolerance || (size <= Math.sqrt(tolerance) && agrees);
  };
  sort();
  let converged = settled();
  while (!converged && evaluations < maxEvaluations) {
    const best = vertices[0]!;
    const worst = vertices[n]!;
    const middle = start.map((_, i) => {
      let sum = 0;
      for (let k = 0; k < n; k += 1) sum += vertices[k]!.point[i]!;
      return sum / n;
    });
    const along = (factor: number): Vertex =>
      vertex(middle.map((value, i) => value + factor * (value - worst.point[i]!)));
    const reflected = along(1);
    let next: Vertex | undefined = reflected;
    if (reflected.cost < best.cost) {
      const expanded = along(2);
      if (expanded.cost < reflected.cost) next = expanded;
    } else if (!(reflected.cost < vertices[n - 1]!.cost)) {
      const outside = reflected.cost < worst.cost;
      const contracted = along(outside ? 0.5 : -0.5);
      next = contracted.cost < (outside ? reflected.cost : worst.cost) ? contracted : undefined;
    }
    if (next !== undefined) {
      vertices[n] = next;
    } else {
      for (let k = 1; k <= n; k += 1) {
        const old = vertices[k]!.point;
        vertices[k] = vertex(best.point.map((value, i) => (value + old[i]!) / 2));
      }
    }
    sort();
    converged = settled();
  }
  const { point, cost: least } = vertices[0]!;
  return { point: [...point], cost: least, evaluations, converged };
}

/** Share of the longer part that a golden-section step takes: (3 − √5)/2. */
const GOLDEN = (3 - Math.sqrt(5)) / 2;
const MAX_STEPS_1D = 200;

/**
 * Finds the minimum of a function of one variable in an interval: parabolic steps, golden sections where
 * they fail. With more than one minimum in the interval it finds one of them.
 * @param cost - The function.
 * @param low - Lower end of the interval.
 * @param high - Upper end, > `low`.
 * @param tolerance - Half-width, in the variable, to which the minimum is wanted, > 0. Smaller than about
 * 1.5e-8 of the variable it has no effect: the cost is flat there in rounding.
 * @returns The best point seen, its cost, and whether the tolerance was reached.
 * @throws {RangeError} When the interval is empty or the tolerance is not positive.
 * @see Brent, *Algorithms for Minimization without Derivatives*, 1973, ch. 5 (from memory).
 */
export function minimise1d(
  cost: (x: number) => number,
  low: number,
  high: number,
  tolerance: number,
): Minimum<number> {
  if (!(low < high && tolerance > 0)) {
    throw new RangeError(
      `Expected low < high and a tolerance > 0 but received ${low}, ${high} and ${tolerance}.`,
    );
  }
  let [a, b] = [low, high];
  // x is the best point, w the second best, v the one that was w before.
  let x = a + GOLDEN * (b - a);
  let [w, v] = [x, x];
  let fx = cost(x);
  let [fw, fv] = [fx, fx];
  let evaluations = 1;
  let step = 0;
  let before = 0;
  let converged = false;
  while (evaluations < MAX_STEPS_1D) {
    const middle = (a + b) / 2;
    const least = tolerance / 2 + Number.EPSILON * Math.abs(x);
    converged = Math.abs(x - middle) + (b - a) / 2 <= 2 * least;
    if (converged) break;
    const r = (x - w) * (fx - fv);
    const q = (x - v) * (fx - fw);
    const denominator = 2 * (q - r);
    const parabolic = ((x - w) * r - (x - v) * q) / denominator;
    const lands = x + parabolic > a && x + parabolic < b && Math.abs(parabolic) < Math.abs(before) / 2;
    if (Math.abs(before) > least && denominator !== 0 && lands) {
      before = step;
      step = parabolic;
      // A point too close to an end says nothing new.
      if (x + step - a < 2 * least || b - x - step < 2 * least) step = x < middle ? least : -least;
    } else {
      before = x < middle ? b - x : a - x;
      step = GOLDEN * before;
    }
    const u = x + (Math.abs(step) >= least ? step : Math.sign(step) * least);
    const fu = cost(u);
    evaluations += 1;
    if (fu <= fx) {
      if (u < x) b = x;
      else a = x;
      [v, fv, w, fw, x, fx] = [w, fw, x, fx, u, fu];
    } else {
      if (u < x) a = u;
      else b = u;
      if (fu <= fw || w === x) [v, fv, w, fw] = [w, fw, u, fu];
      else if (fu <= fv || v === x || v === w) [v, fv] = [u, fu];
    }
  }
  return { point: x, cost: fx, evaluations, converged };
}
