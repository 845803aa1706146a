import type { Estimate } from '../core/estimate.js';
import type { PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { dot, dots } from '../core/vector.js';
import { undistortPoint, type Lens } from '../imaging/lens.js';
import { normalMatrix, solveSymmetric } from '../signal/leastSquares.js';
import { median } from '../signal/median.js';

/** An edge that would be straight in a photo without distortion. */
export interface StraightEdge {
  /** Points of it, px, in order along it; at least 6. */
  readonly points: readonly PointPx[];
  /** How far the real edge strays from a straight line, rms, px: 0 where only its points scatter. */
  readonly wavinessPx: Px;
}

/** What straight edges say of a lens. */
export interface LensEstimate {
  /** Seen: what the edges show, apart from the prior. Not seen: 0, with what it still may be. */
  readonly k1: Estimate;
  /** They show that it is not 0, by more than three standard uncertainties. */
  readonly seen: boolean;
}

/** Fewer points leave nothing beside line and bow to tell their scatter. */
const LEAST_POINTS = 6;
/** Points are gathered along an edge: an edge's own roughness is no more independent than that. */
const MOST_KNOTS = 48;
/** No edge is known better than this (common practice, no source). */
const LEAST_SCATTER_PX = 1e-3;
/** Waves of an edge up to this many half-waves; what is shorter counts as scatter. */
const MOST_ORDER = 8;
const MAX_ROUNDS = 12;
/** Steps of k1 below this end the search: a thousandth of what any edge tells. */
const SETTLED = 1e-6;
const SEEN_SD = 3;
/** Share of the k1 at which the lens would fold the picture over within the edges. */
const BEFORE_FOLD = 0.9;

/**
 * Estimates k1 of r_d = r (1 + k1 r²) from edges that should be straight. Each edge is a line with waves of its own
 * (Legendre polynomials of order 2 to 8 with power ∝ 1/order², rms `wavinessPx`) and scatter, which the edges tell
 * themselves. A bow of one edge is told from the lens only as far as its waviness allows; the lens bows all edges by
 * one rule, and where they disagree the uncertainty grows by Birge's ratio.
 * @param edges - Edges of prints, cards, rulers; those with fewer than 6 points are left out.
 * @param centrePx - Where the lens's axis meets the photo: its middle, px.
 * @param focalPx - Focal length, px; k1 scales with its square.
 * @param priorSd - Standard uncertainty of k1 about 0 before anything is looked at, > 0.
 * @param others - What else tells k1, apart from the edges, such as layer lines.
 * @returns k1 with its standard uncertainty. Without edges: 0 ± `priorSd`, not seen.
 * @see The plumb-line method: Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8), 1971 (from
 * memory), with generalised least squares; Birge, Phys. Rev. 40, 1932 (from memory).
 */
export function estimateLens(
  edges: readonly StraightEdge[],
  centrePx: PointPx,
  focalPx: Px,
  priorSd: number,
  others: readonly Estimate[] = [],
): LensEstimate {
  const knotted = edges.filter(({ points }) => points.length >= LEAST_POINTS).map(knotsOf);
  const radius = Math.max(
    0,
    ...knotted.flatMap(({ points }) => points.map((p) => radiusOf(p, centrePx, focalPx))),
  );
  // The largest r_d that a lens draws is ⅔/√(−3 k1).
  const lowest = radius === 0 ? -Infinity : (-BEFORE_FOLD * 4) / 27 / radius ** 2;
  let shown: Estimate = { value: 0, sd: Infinity };
  for (let round = 0, k1 = 0; round < MAX_ROUNDS; round += 1) {
    shown = whatEdgesShow(knotted, { k1, centrePx, focalPx });
    const next = Math.max(lowest, shown.value);
    if (Math.abs(next - k1) < SETTLED) break;
    k1 = next;
  }
  shown = weightedMean([shown, ...others].filter(({ sd }) => sd < Infinity));
  if (Math.abs(shown.value) > SEEN_SD * shown.sd) return { k1: shown, seen: true };
  const weight = 1 / (1 + (shown.sd / priorSd) ** 2);
  // What is not shown is not used, but remains possible.
  return {
    k1: { value: 0, sd: Math.hypot(weight * shown.value, Math.sqrt(1 - weight) * priorSd) },
    seen: false,
  };
}

/** What disagrees widens the uncertainty by Birge's ratio. */
function weightedMean(estimates: readonly Estimate[]): Estimate {
  const precision = estimates.reduce((sum, { sd }) => sum + 1 / sd ** 2, 0);
  if (precision === 0) return { value: 0, sd: Infinity };
  const value = estimates.reduce((sum, one) => sum + one.value / one.sd ** 2, 0) / precision;
  const squares = estimates.reduce((sum, one) => sum + ((one.value - value) / one.sd) ** 2, 0);
  const birge = Math.sqrt(Math.max(1, squares / Math.max(1, estimates.length - 1)));
  return { value, sd: birge / Math.sqrt(precision) };
}

interface Knotted {
  readonly points: readonly PointPx[];
  readonly wavinessPx: Px;
}

function radiusOf([x, y]: PointPx, [cx, cy]: PointPx, focalPx: Px): number {
  return Math.hypot(x - cx, y - cy) / focalPx;
}

/** Medians of neighbouring points, across the edge; means along it. */
function knotsOf({ points, wavinessPx }: StraightEdge): Knotted {
  if (points.length <= MOST_KNOTS) return { points, wavinessPx };
  const [ax, ay] = points[0] ?? [0, 0];
  const [bx, by] = points.at(-1) ?? [0, 0];
  const length = Math.hypot(bx - ax, by - ay);
  const [ux, uy] = [(bx - ax) / length, (by - ay) / length];
  const knots = Array.from({ length: MOST_KNOTS }, (_, k): PointPx => {
    const some = points.slice(
      Math.floor((k * points.length) / MOST_KNOTS),
      Math.floor(((k + 1) * points.length) / MOST_KNOTS),
    );
    const along = some.reduce((sum, [x, y]) => sum + (x - ax) * ux + (y - ay) * uy, 0) / some.length;
    const across = median(some.map(([x, y]) => (y - ay) * ux - (x - ax) * uy));
    return [ax + along * ux - across * uy, ay + along * uy + across * ux];
  });
  return { points: knots, wavinessPx };
}

/** Offsets of an edge from its chord without distortion, and how they change with k1. */
interface Offsets {
  /** Place along the edge, −1 to 1. */
  readonly place: Float64Array;
  readonly offset: Float64Array;
  readonly slope: Float64Array;
}

function offsetsOf(points: readonly PointPx[], lens: Lens): Offsets {
  const flat = points.map((point) => undistortPoint(lens, point));
  const [ax, ay] = flat[0] ?? [0, 0];
  const [bx, by] = flat.at(-1) ?? [0, 0];
  const length = Math.hypot(bx - ax, by - ay);
  const [ux, uy] = [(bx - ax) / length, (by - ay) / length];
  const [cx, cy] = lens.centrePx;
  return {
    place: Float64Array.from(flat, ([x, y]) => (2 * ((x - ax) * ux + (y - ay) * uy)) / length - 1),
    offset: Float64Array.from(flat, ([x, y]) => (y - ay) * ux - (x - ax) * uy),
    // From r + k1 r³ = r_d: dr/dk1 = −r³/(1 + 3 k1 r²), along the radius.
    slope: Float64Array.from(flat, ([x, y]) => {
      const square = ((x - cx) ** 2 + (y - cy) ** 2) / lens.focalPx ** 2;
      return (-square / (1 + 3 * lens.k1 * square)) * ((y - cy) * ux - (x - cx) * uy);
    }),
  };
}

function whatEdgesShow(edges: readonly Knotted[], lens: Lens): Estimate {
  const all = edges.map(({ points, wavinessPx }) => ({ wavinessPx, ...offsetsOf(points, lens) }));
  const columns = all.map(({ place }) => legendreColumns(place, orderFor(place.length)));
  // The scatter of all edges, from what their own waves leave.
  let [squares, freedom] = [0, 0];
  all.forEach(({ offset }, i) => {
    const own = columns[i] ?? [];
    squares += project(own, undefined, offset, offset);
    freedom += offset.length - own.length;
  });
  const scatter = Math.max(squares / Math.max(1, freedom), LEAST_SCATTER_PX ** 2);
  const answers = all.map(({ offset, slope, wavinessPx }, i) => {
    const own = (columns[i] ?? []).slice(0, wavinessPx > 0 ? undefined : 2);
    const ridge = own.map((_, order) => (order < 2 ? 0 : scatter / waveVariance(order, wavinessPx)));
    const precision = project(own, ridge, slope, slope) / scatter;
    return { precision, change: -project(own, ridge, slope, offset) / scatter };
  });
  const precision = answers.reduce((sum, one) => sum + one.precision, 0);
  if (!(precision > 0)) return { value: 0, sd: Infinity };
  const change = answers.reduce((sum, one) => sum + one.change, 0) / precision;
  const disagreement = answers.reduce(
    (sum, one) => sum + (one.precision > 0 ? (one.change - one.precision * change) ** 2 / one.precision : 0),
    0,
  );
  const birge = Math.sqrt(Math.max(1, disagreement / Math.max(1, answers.length - 1)));
  return { value: lens.k1 + change, sd: birge / Math.sqrt(precision) };
}

/** With few points, few waves: two of three stay free to tell the scatter. */
function orderFor(points: number): number {
  return Math.min(MOST_ORDER, Math.max(2, Math.floor(points / 3)));
}

/** Legendre polynomials by their recurrence, order 0 to `order`. */
function legendreColumns(u: Float64Array, order: number): readonly Float64Array[] {
  const columns: Float64Array[] = [new Float64Array(u.length).fill(1), u.slice()];
  for (let n = 2; n <= order; n += 1) {
    const [last, before] = [columns[n - 1], columns[n - 2]];
    columns.push(u.map((x, i) => ((2 * n - 1) * x * (last?.[i] ?? 0) - (n - 1) * (before?.[i] ?? 0)) / n));
  }
  return columns;
}

/** Variance of the coefficient of a wave: mean square ∝ 1/order², together `rms`²; P_n has mean square 1/(2n + 1). */
function waveVariance(order: number, rms: Px): number {
  let sum = 0;
  for (let n = 2; n <= MOST_ORDER; n += 1) sum += 1 / n ** 2;
  return ((rms ** 2 / sum) * (2 * order + 1)) / order ** 2;
}

/** aᵀb less the part that columns explain; a ridge says how little each may. */
function project(
  columns: readonly Float64Array[],
  ridge: readonly number[] | undefined,
  a: Float64Array,
  b: Float64Array,
): number {
  const n = columns.length;
  const matrix = normalMatrix(columns);
  ridge?.forEach((value, i) => (matrix[i * n + i] = (matrix[i * n + i] ?? 0) + value));
  const [onA, onB] = [dots(columns, [a]), dots(columns, [b])];
  const solved = solveSymmetric(matrix, onB);
  return solved === undefined ? 0 : dot(a, b) - dot(onA, solved);
}
