import type { Mm, Px } from '../core/units.js';

/** Where the camera stood, seen from the middle of a flat face. */
export interface PlanePose {
  /** Angle between the face's normal and the line to the camera, radians: 0 is square-on. */
  readonly obliquityRad: number;
  /** Distance from the camera to the point asked for, mm. */
  readonly distanceMm: Mm;
}

/**
 * Pose of a plane from its homography, for a camera with square pixels.
 * @param mmToPx - Homography from plane mm to px, 3 × 3 row-major.
 * @param focalPx - Focal length, px.
 * @param centrePx - Principal point, px.
 * @param pointMm - Point of the plane to which distance and angle are given, mm.
 * @returns Distance and obliquity.
 * @see Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22(11), 2000 (from memory):
 * H = s K [r1 r2 t]; the scale is the mean norm of the first two columns of K⁻¹H.
 */
export function poseOfPlane(
  mmToPx: Float64Array,
  focalPx: Px,
  centrePx: readonly [Px, Px],
  pointMm: readonly [Mm, Mm],
): PlanePose {
  const { alongX: r1, alongY: r2, origin: t } = planeAxes(mmToPx, focalPx, centrePx);
  const scale = (Math.hypot(...r1) + Math.hypot(...r2)) / 2;
  const point = [0, 1, 2].map((i) => (r1[i]! * pointMm[0] + r2[i]! * pointMm[1] + t[i]!) / scale);
  const normal = cross(r1, r2);
  const distanceMm = Math.hypot(...point);
  const along = normal.reduce((sum, n, i) => sum + n * point[i]!, 0);
  const cosine = Math.abs(along) / (Math.hypot(...normal) * distanceMm);
  return { obliquityRad: Math.acos(Math.min(1, cosine)), distanceMm };
}

type Vector = readonly [number, number, number];

/**
 * Axes and origin of a plane in the frame of a camera with square pixels, up to one common factor.
 * @param planeToPx - Homography from plane units to px, 3 × 3 row-major.
 * @param focalPx - Focal length, px.
 * @param centrePx - Principal point, px.
 * @returns Columns of K⁻¹H: steps of one plane unit along its x and y, and its origin.
 * @see Zhang as above: their lengths and their scalar product are those of hᵀBh with B = K⁻ᵀK⁻¹.
 */
export function planeAxes(
  planeToPx: Float64Array,
  focalPx: Px,
  centrePx: readonly [Px, Px],
): { readonly alongX: Vector; readonly alongY: Vector; readonly origin: Vector } {
  const column = (j: number): Vector => {
    const w = planeToPx[6 + j]!;
    return [(planeToPx[j]! - centrePx[0] * w) / focalPx, (planeToPx[3 + j]! - centrePx[1] * w) / focalPx, w];
  };
  return { alongX: column(0), alongY: column(1), origin: column(2) };
}

/**
 * Distance of the camera from a plane, along the plane's normal.
 * @param mmToPx - Homography from plane mm to px, 3 × 3 row-major.
 * @param focalPx - Focal length, px.
 * @param centrePx - Principal point, px.
 * @returns Distance, mm.
 * @see Zhang as above.
 */
export function planeDistance(mmToPx: Float64Array, focalPx: Px, centrePx: readonly [Px, Px]): Mm {
  const { alongX, alongY, origin } = planeAxes(mmToPx, focalPx, centrePx);
  const scale = (Math.hypot(...alongX) + Math.hypot(...alongY)) / 2;
  const normal = cross(alongX, alongY);
  return Math.abs(dot3(normal, origin)) / (Math.hypot(...normal) * scale);
}

/**
 * Homography of the plane that lies parallel to another one, further from the camera.
 * @param mmToPx - Homography from mm of the known plane to px, 3 × 3 row-major.
 * @param behindMm - How far the other plane lies behind it, mm; negative in front.
 * @param focalPx - Focal length, px.
 * @param centrePx - Principal point, px.
 * @returns Homography from mm of the other plane to px, whose origin lies straight behind that of the known one;
 * undefined where that plane would pass through the camera or lie behind it.
 * @see Zhang as above: H = s K [r1 r2 t], and the plane moved by d along r3 = r1 × r2 has t + d r3.
 */
export function parallelPlane(
  mmToPx: Float64Array,
  behindMm: Mm,
  focalPx: Px,
  centrePx: readonly [Px, Px],
): Float64Array | undefined {
  const { alongX: r1, alongY: r2, origin: t } = planeAxes(mmToPx, focalPx, centrePx);
  const scale = (Math.hypot(...r1) + Math.hypot(...r2)) / 2;
  const normal = cross(r1, r2);
  // Away from the camera, whichever way round the axes of the plane are.
  const ahead = dot3(normal, t);
  const step = (Math.sign(ahead) * scale * behindMm) / Math.hypot(...normal);
  const moved: Vector = [t[0] + step * normal[0], t[1] + step * normal[1], t[2] + step * normal[2]];
  if (ahead * dot3(normal, moved) <= 0) return undefined;
  const h = Float64Array.from(mmToPx);
  h[2] = focalPx * moved[0] + centrePx[0] * moved[2];
  h[5] = focalPx * moved[1] + centrePx[1] * moved[2];
  h[8] = moved[2];
  return h;
}

function cross(a: Vector, b: Vector): Vector {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

function dot3(a: Vector, b: Vector): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
