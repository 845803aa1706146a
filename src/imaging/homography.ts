import type { CornersPx, PointPx } from '../core/image.js';
import { dot } from '../core/vector.js';

/** Below this share of the largest singular value a point set leaves the homography open. */
const DEGENERATE = 1e-9;

/**
 * The homography that takes one plane's points to another's, by the normalised direct linear transform:
 * exact for four points, least algebraic squares for more.
 * @param from - Points of the first plane, at least four, no three of four on a line; any unit.
 * @param to - Their images in the second plane, same order; any unit.
 * @returns 3 × 3 row-major, shape (9,), scaled so that the last element is 1 (to unit length where the origin
 * goes to infinity).
 * @throws {RangeError} When there are fewer than four points, the counts differ, a coordinate is not finite,
 * or the points are degenerate.
 * @see Hartley & Zisserman, *Multiple View Geometry*, 2nd ed. 2003, algorithm 4.2 (from memory).
 */
export function homographyFromPoints(from: readonly PointPx[], to: readonly PointPx[]): Float64Array {
  const n = from.length;
  if (n < 4 || to.length !== n) {
    throw new RangeError(`Expected at least four pairs of points but received ${n} and ${to.length} points.`);
  }
  const source = normalising(from);
  const target = normalising(to);
  // Columns of the design matrix: one for each element of the homography, two rows for each pair.
  const columns = Array.from({ length: 9 }, () => new Float64Array(2 * n));
  for (let i = 0; i < n; i += 1) {
    const x = source.scale * (from[i]![0] - source.x);
    const y = source.scale * (from[i]![1] - source.y);
    const u = target.scale * (to[i]![0] - target.x);
    const v = target.scale * (to[i]![1] - target.y);
    [x, y, 1, 0, 0, 0, -u * x, -u * y, -u].forEach((value, j) => (columns[j]![2 * i] = value));
    [0, 0, 0, x, y, 1, -v * x, -v * y, -v].forEach((value, j) => (columns[j]![2 * i + 1] = value));
  }
  const { smallest, isUnique } = smallestSingularVector(columns);
  if (!isUnique || Math.abs(determinant(smallest)) < DEGENERATE) {
    throw new RangeError('Expected no three of four points on a line but received degenerate points.');
  }
  const toTarget = Float64Array.of(1 / target.scale, 0, target.x, 0, 1 / target.scale, target.y, 0, 0, 1);
  const toSource = Float64Array.of(
    source.scale,
    0,
    -source.scale * source.x,
    0,
    source.scale,
    -source.scale * source.y,
    0,
    0,
    1,
  );
  return scaled(multiply(toTarget, multiply(smallest, toSource)));
}

/**
 * The homography that takes the unit square to four corners, in closed form: for very many of them.
 * @param corners - Images of (0, 0), (1, 0), (1, 1), (0, 1).
 * @returns 3 × 3 row-major, last element 1.
 * @throws {RangeError} When three corners lie on a line.
 * @see Heckbert, *Fundamentals of Texture Mapping and Image Warping*, 1989, section 2.2.3 (from memory).
 */
export function homographyFromSquare(corners: CornersPx): Float64Array {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = corners;
  const [dx1, dy1, dx2, dy2] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2];
  const [dx3, dy3] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3];
  const det = dx1 * dy2 - dx2 * dy1;
  // Twice the areas of the four triangles that three of the corners make.
  const areas = [
    det,
    (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0),
    (x1 - x0) * (y3 - y0) - (x3 - x0) * (y1 - y0),
    (x2 - x0) * (y3 - y0) - (x3 - x0) * (y2 - y0),
  ];
  const size = (x2 - x0) ** 2 + (y2 - y0) ** 2 + (x3 - x1) ** 2 + (y3 - y1) ** 2;
  if (!areas.every((area) => Math.abs(area) > DEGENERATE * size)) {
    throw new RangeError('Expected no three of four points on a line but received degenerate points.');
  }
  const g = (dx3 * dy2 - dx2 * dy3) / det;
  const h = (dx1 * dy3 - dx3 * dy1) / det;
  return Float64Array.of(
    x1 - x0 + g * x1,
    x3 - x0 + h * x3,
    x0,
    y1 - y0 + g * y1,
    y3 - y0 + h * y3,
    y0,
    g,
    h,
    1,
  );
}

/**
 * Takes a point through a homography.
 * @param h - Homography, 3 × 3 row-major.
 * @param x - First coordinate.
 * @param y - Second coordinate.
 * @returns The image of the point; not finite for a point on the line that goes to infinity.
 */
export function applyHomography(h: Float64Array, x: number, y: number): [number, number] {
  const w = h[6]! * x + h[7]! * y + h[8]!;
  return [(h[0]! * x + h[1]! * y + h[2]!) / w, (h[3]! * x + h[4]! * y + h[5]!) / w];
}

/**
 * The inverse homography.
 * @param h - Homography, 3 × 3 row-major; not modified.
 * @returns Its inverse, scaled as `homographyFromPoints` does.
 * @throws {RangeError} When the homography is singular.
 */
export function invertHomography(h: Float64Array): Float64Array {
  const [a, b, c, d, e, f, g, i, j] = h as unknown as NineNumbers;
  const adjugate = Float64Array.of(
    e * j - f * i,
    c * i - b * j,
    b * f - c * e,
    f * g - d * j,
    a * j - c * g,
    c * d - a * f,
    d * i - e * g,
    b * g - a * i,
    a * e - b * d,
  );
  const det = determinant(h);
  // Hadamard's bound on the determinant is the measure: it does not depend on the scale of the rows.
  const bound = Math.hypot(a, b, c) * Math.hypot(d, e, f) * Math.hypot(g, i, j);
  if (!(Math.abs(det) > 4 * Number.EPSILON * bound)) {
    throw new RangeError('Expected a homography with an inverse but received a singular one.');
  }
  return scaled(adjugate);
}

/**
 * How much a homography stretches at a point: lengths of the columns of its Jacobian.
 * @param h - Homography, 3 × 3 row-major.
 * @param x - First coordinate.
 * @param y - Second coordinate.
 * @returns Units of the second plane for each unit of the first, along its x and along its y.
 */
export function localScale(h: Float64Array, x: number, y: number): { alongX: number; alongY: number } {
  const w = h[6]! * x + h[7]! * y + h[8]!;
  const [u, v] = applyHomography(h, x, y);
  return {
    alongX: Math.hypot(h[0]! - h[6]! * u, h[3]! - h[6]! * v) / Math.abs(w),
    alongY: Math.hypot(h[1]! - h[7]! * u, h[4]! - h[7]! * v) / Math.abs(w),
  };
}

type NineNumbers = [number, number, number, number, number, number, number, number, number];

/** Shift and scale that bring points to centroid 0 and mean distance √2. */
function normalising(points: readonly PointPx[]): { x: number; y: number; scale: number } {
  let [x, y] = [0, 0];
  for (const [px, py] of points) {
    x += px / points.length;
    y += py / points.length;
  }
  const distance = points.reduce((sum, [px, py]) => sum + Math.hypot(px - x, py - y), 0) / points.length;
  if (!(distance > 0 && distance < Infinity)) {
    throw new RangeError('Expected finite points that differ but received degenerate points.');
  }
  return { x, y, scale: Math.SQRT2 / distance };
}

/**
 * Right singular vector of the smallest singular value, by one-sided Jacobi rotations: they work on the
 * matrix itself, where normal equations would lose half the digits.
 * @see Hestenes, "Inversion of matrices by biorthogonalization and related results", J. SIAM 6, 1958 (from
 * memory).
 */
function smallestSingularVector(columns: readonly Float64Array[]): {
  smallest: Float64Array;
  isUnique: boolean;
} {
  const n = columns.length;
  const vectors = columns.map((_, j) => Float64Array.from({ length: n }, (__, i) => (i === j ? 1 : 0)));
  const negligible = Number.EPSILON * columns.reduce((sum, column) => sum + dot(column, column), 0);
  const MAX_SWEEPS = 60;
  let rotated = true;
  for (let sweep = 0; sweep < MAX_SWEEPS && rotated; sweep += 1) {
    rotated = false;
    for (let p = 0; p < n - 1; p += 1) {
      for (let q = p + 1; q < n; q += 1) {
        const [a, b] = [columns[p]!, columns[q]!];
        const pp = dot(a, a);
        const qq = dot(b, b);
        const pq = dot(a, b);
        if (Math.abs(pq) <= Number.EPSILON * (Math.sqrt(pp * qq) + negligible)) continue;
        rotated = true;
        const zeta = (qq - pp) / (2 * pq);
        const tangent = (zeta < 0 ? -1 : 1) / (Math.abs(zeta) + Math.hypot(1, zeta));
        const cosine = 1 / Math.hypot(1, tangent);
        rotate(a, b, cosine, cosine * tangent);
        rotate(vectors[p]!, vectors[q]!, cosine, cosine * tangent);
      }
    }
  }
  const order = columns.map((column, j) => ({ j, norm: Math.sqrt(dot(column, column)) }));
  order.sort((one, other) => one.norm - other.norm);
  return {
    smallest: vectors[order[0]!.j]!,
    isUnique: order[1]!.norm > DEGENERATE * order[n - 1]!.norm,
  };
}

function rotate(a: Float64Array, b: Float64Array, cosine: number, sine: number): void {
  for (let i = 0; i < a.length; i += 1) {
    const [x, y] = [a[i]!, b[i]!];
    a[i] = cosine * x - sine * y;
    b[i] = sine * x + cosine * y;
  }
}

function multiply(a: Float64Array, b: Float64Array): Float64Array {
  return Float64Array.from({ length: 9 }, (_, k) => {
    const row = 3 * Math.floor(k / 3);
    const column = k % 3;
    return a[row]! * b[column]! + a[row + 1]! * b[column + 3]! + a[row + 2]! * b[column + 6]!;
  });
}

function determinant(h: Float64Array): number {
  const [a, b, c, d, e, f, g, i, j] = h as unknown as NineNumbers;
  return a * (e * j - f * i) - b * (d * j - f * g) + c * (d * i - e * g);
}

/** Divided by the last element; by the length where that is nothing but rounding. */
function scaled(h: Float64Array): Float64Array {
  const length = Math.sqrt(dot(h, h));
  const last = h[8]!;
  const divisor = Math.abs(last) > 8 * Number.EPSILON * length ? last : length;
  return h.map((value) => value / divisor);
}
