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
  const normal = [
    r1[1] * r2[2] - r1[2] * r2[1],
    r1[2] * r2[0] - r1[0] * r2[2],
    r1[0] * r2[1] - r1[1] * r2[0],
  ];
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
