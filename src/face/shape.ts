import { combineSd, type Estimate } from '../core/estimate.js';
import type { CornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { homographyFromSquare } from '../imaging/homography.js';
import { LENS_AT_CORNER } from '../imaging/lens.js';
import { planeAxes } from '../imaging/pose.js';
import type { CameraBelief } from './camera.js';

/** Shape of a face by its four corners in the photo, whatever its size. */
export interface CornerShape {
  /** Height ÷ width. */
  readonly heightPerWidth: Estimate;
  /** By how much the angle at the top-left corner is more than 90°, radians: 0 for a rectangle. */
  readonly skewRad: Estimate;
}

/** A face of no size: top-left, top-right, bottom-right, bottom-left. */
export const UNIT_SQUARE: readonly PointPx[] = [
  [0, 0],
  [1, 0],
  [1, 1],
  [0, 1],
];

/**
 * Shape of a flat face from where its corners are in the photo. Its uncertainty is propagated linearly from corners,
 * principal point and lens, and by quadrature from the focal length, on which the shape hangs the more the further
 * the face is seen from the side.
 * @param cornersPx - Top-left, top-right, bottom-right, bottom-left.
 * @param cornerSdPx - Standard uncertainty of each coordinate of a corner, px.
 * @param camera - What may be believed of the camera.
 * @returns Ratio and angle of the edges, with their standard uncertainties.
 * @throws {RangeError} When three corners lie on a line.
 * @see Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22(11), 2000 (from memory): with
 * B = K⁻ᵀK⁻¹ and the columns h1, h2 of the homography from the unit square, height ÷ width is √(h2ᵀBh2 ÷ h1ᵀBh1),
 * and h1ᵀBh2 = 0 for a rectangle. Propagation: GUM (JCGM 100:2008) equation 10, by central differences.
 */
export function shapeOfCorners(cornersPx: CornersPx, cornerSdPx: Px, camera: CameraBelief): CornerShape {
  const { focals, centrePx, centreSdPx } = camera;
  const known = homographyFromSquare(cornersPx);
  const middlePx = focals[0]?.focalPx ?? 0;
  const [x, y] = centrePx;
  const changes: (readonly [Raw, Raw])[] = [
    [raw(known, middlePx, [x + centreSdPx[0], y]), raw(known, middlePx, [x - centreSdPx[0], y])],
    [raw(known, middlePx, [x, y + centreSdPx[1]]), raw(known, middlePx, [x, y - centreSdPx[1]])],
  ];
  const moved = (move: (corner: PointPx, i: number, sign: number) => PointPx) => {
    const at = (sign: number) =>
      raw(
        homographyFromSquare(eachCorner(cornersPx, (corner, i) => move(corner, i, sign))),
        middlePx,
        centrePx,
      );
    changes.push([at(1), at(-1)]);
  };
  for (const which of cornersPx.keys()) {
    moved(([cx, cy], i, sign) => (i === which ? [cx + sign * cornerSdPx, cy] : [cx, cy]));
    moved(([cx, cy], i, sign) => (i === which ? [cx, cy + sign * cornerSdPx] : [cx, cy]));
  }
  const reach = Math.hypot(x, y);
  moved(([cx, cy], _, sign) => {
    const stretch = 1 + sign * LENS_AT_CORNER * (Math.hypot(cx - x, cy - y) / reach) ** 2;
    return [x + stretch * (cx - x), y + stretch * (cy - y)];
  });
  const overFocals = focals.map(({ focalPx, weight }) => ({ weight, ...raw(known, focalPx, centrePx) }));
  const estimate = (of: (shape: Raw) => number): Estimate => {
    const value = overFocals.reduce((sum, at) => sum + at.weight * of(at), 0);
    const spread = overFocals.reduce((sum, at) => sum + at.weight * (of(at) - value) ** 2, 0);
    const sds = changes.map(([up, down]) => (of(up) - of(down)) / 2);
    return { value, sd: combineSd(Math.sqrt(spread), ...sds) };
  };
  const ratio = estimate((at) => at.logRatio);
  const value = Math.exp(ratio.value);
  return { heightPerWidth: { value, sd: value * ratio.sd }, skewRad: estimate((at) => at.skewRad) };
}

/**
 * Shape of a face in short, for very many of them.
 * @param cornersPx - Top-left, top-right, bottom-right, bottom-left.
 * @param camera - What may be believed of the camera.
 * @returns Natural logarithm of height ÷ width and skew at the middle focal length, and how far either moves within the
 * focal lengths that are believed; undefined when three corners lie on a line.
 */
export function quickShape(
  cornersPx: CornersPx,
  { focals, centrePx }: CameraBelief,
): { readonly logRatio: number; readonly skewRad: number; readonly spread: number } | undefined {
  const turns = cornersPx.map((b, i) => {
    const [a, c] = [cornersPx[(i + 3) % 4] ?? b, cornersPx[(i + 1) % 4] ?? b];
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
  });
  if (!turns.every((turn) => turn > 0)) return undefined;
  const known = homographyFromSquare(cornersPx);
  const [middle, ...others] = focals.map(({ focalPx }) => raw(known, focalPx, centrePx));
  if (middle === undefined) return undefined;
  const moves = others.flatMap(({ logRatio, skewRad }) => [
    Math.abs(logRatio - middle.logRatio),
    Math.abs(skewRad - middle.skewRad),
  ]);
  return { ...middle, spread: Math.max(0, ...moves) };
}

/**
 * Four corners (or sides, or whatever comes in fours), each changed by itself.
 * @param corners - The corners; not modified.
 * @param of - Gives what becomes of a corner; the second argument counts from 0.
 * @returns The new ones in the same order.
 */
export function eachCorner<T, U>(
  [topLeft, topRight, bottomRight, bottomLeft]: readonly [T, T, T, T],
  of: (corner: T, i: number) => U,
): readonly [U, U, U, U] {
  return [of(topLeft, 0), of(topRight, 1), of(bottomRight, 2), of(bottomLeft, 3)];
}

interface Raw {
  readonly logRatio: number;
  readonly skewRad: number;
}

function raw(squareToPx: Float64Array, focalPx: Px, centrePx: readonly [Px, Px]): Raw {
  const { alongX, alongY } = planeAxes(squareToPx, focalPx, centrePx);
  const [width, height] = [Math.hypot(...alongX), Math.hypot(...alongY)];
  const cosine = alongX.reduce((sum, value, i) => sum + value * (alongY[i] ?? 0), 0) / (width * height);
  return {
    logRatio: Math.log(height / width),
    skewRad: Math.acos(Math.max(-1, Math.min(1, cosine))) - Math.PI / 2,
  };
}
