import type { PointPx } from '../core/image.js';
import type { Step } from './blurredSteps.js';
import type { EdgeLine } from './edgeLine.js';
import { bendAt, lineAt, type View, type ViewLine } from './edgeView.js';

/** What the method itself may err by on a clean edge, px: the test's bound. */
const METHOD_SD_PX = 0.01;
/** Fewer steps tell no line. */
export const LEAST_FITTED = 3;

/**
 * The straight edge that steps tell, as the photo has it.
 * @param view - The view that the steps are in.
 * @param fitted - The line through its steps, and the weight of each: 0 for those that were left out.
 * @param steps - Its steps.
 * @param seen - Its spread, px; where it was asked for, photo px; how many columns each step stands for.
 * @returns The edge; undefined when too few steps agree on one.
 */
export function edgeOfSteps(
  view: View,
  { line, weights }: { readonly line: ViewLine; readonly weights: Float64Array },
  steps: readonly Step[],
  seen: { readonly sigmaPx: number; readonly from: PointPx; readonly to: PointPx; readonly blockPx: number },
): EdgeLine | undefined {
  const kept = steps.filter((_, i) => weights[i]! > 0);
  if (kept.length < LEAST_FITTED) return undefined;
  const cosine = 1 / Math.hypot(1, line.slope);
  const residuals = Float64Array.from(kept, ({ u, v }) => (v - lineAt(view, line, u)) * cosine);
  const residualPx = Math.sqrt(residuals.reduce((sum, r) => sum + r * r, 0) / kept.length);
  const points = kept.map(({ u, v }): PointPx => {
    const straight = v - bendAt(view, line, u) + 0.5;
    return view.alongX ? [u + 0.5, straight] : [straight, u + 0.5];
  });
  const [u, v] = view.alongX ? ([0, 1] as const) : ([1, 0] as const);
  const backwards = seen.to[u] < seen.from[u];
  if (backwards) points.reverse();
  const direction: [number, number] = [0, 0];
  direction[u] = (backwards ? -1 : 1) * cosine;
  direction[v] = direction[u] * line.slope;
  const normal = [direction[1], -direction[0]] as const;
  const onLine: [number, number] = [0, 0];
  onLine[u] = 0.5;
  onLine[v] = line.v0 + 0.5;
  return {
    normal,
    offsetPx: normal[0] * onLine[0] + normal[1] * onLine[1],
    points,
    residualPx,
    sdPx: Math.hypot(METHOD_SD_PX, sdOfMean(residuals)),
    blurPx: seen.sigmaPx,
    support: kept.length / Math.floor((view.u1 - view.u0 + 1) / seen.blockPx),
    bendsPx: line.bends,
  };
}

/**
 * Standard uncertainty of the mean of values whose neighbours are alike.
 * @see Newey & West, "A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance
 * matrix", Econometrica 55(3), 1987 (from memory): triangular weights over lags.
 */
function sdOfMean(residuals: Float64Array): number {
  const n = residuals.length;
  const lags = Math.min(n - 1, Math.ceil(1.5 * Math.sqrt(n)));
  let sum = 0;
  for (let lag = 0; lag <= lags; lag += 1) {
    let product = 0;
    for (let i = lag; i < n; i += 1) product += residuals[i]! * residuals[i - lag]!;
    sum += (lag === 0 ? 1 : 2) * (1 - lag / (lags + 1)) * product;
  }
  // Two unknowns were fitted, and what is alike over the lags' width hides as many more.
  return Math.sqrt(Math.max(sum, 0) / n / Math.max(1, n - 2 - lags));
}
