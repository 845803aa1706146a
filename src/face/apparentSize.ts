import { combineSd, type Estimate } from '../core/estimate.js';
import type { CornersPx, PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';
import { applyHomography, homographyFromPoints, invertHomography } from '../imaging/homography.js';
import { parallelPlane } from '../imaging/pose.js';
import type { CameraBelief } from './camera.js';
import { boxCorners, type SeenReference } from './seenFace.js';
import { eachCorner } from './shape.js';

/** The face whose mm a reference is held against; all positions are free of the lens's distortion. */
export interface MeasuringFace {
  readonly cornersPx: CornersPx;
  readonly cornerSdPx: Px;
  readonly widthMm: Mm;
  readonly heightMm: Mm;
}

/** What is asked of a reference: its points, and in which plane they lie. */
export type PlacedReference = Pick<SeenReference, 'points' | 'pointSdPx' | 'sizeRelativeSd'> & {
  readonly behindFaceMm: Mm;
};

/**
 * Millimetres of a reference for each millimetre of the face, in a plane parallel to it. Uncertainties of the corners
 * and of the lens are propagated linearly, of the focal length (which matters only off the plane) by quadrature, of
 * the reference's points by the spread of the points.
 * @param reference - The reference and how far it lies behind the face.
 * @param face - The face.
 * @param camera - What may be believed of the camera.
 * @param lensShare - How much the lens may still move the photo's corner along its radius, standard uncertainty.
 * @returns The ratio, with the uncertainty of the reference's own size; undefined where for some believed camera the
 * reference would lie behind the camera.
 * @see GUM (JCGM 100:2008) equation 10, by central differences. The ratio is that of the points' rms distances from
 * their middle, the least-squares scale of a similarity whose rotation is free: Umeyama, IEEE PAMI 13(4), 1991 (from
 * memory), for residuals small beside the distances.
 */
export function apparentSize(
  reference: PlacedReference,
  face: MeasuringFace,
  camera: CameraBelief,
  lensShare: number,
): Estimate | undefined {
  const ratio = (cornersPx: CornersPx, focalPx: Px) =>
    sizeRatio(reference, { ...face, cornersPx }, focalPx, camera);
  const focals = camera.focals.map(({ focalPx, weight }) => ({
    weight,
    ratio: ratio(face.cornersPx, focalPx),
  }));
  let value = 0;
  for (const { weight, ratio: one } of focals) {
    if (one === undefined) return undefined;
    value += weight * one;
  }
  const spread = Math.sqrt(focals.reduce((sum, at) => sum + at.weight * ((at.ratio ?? 0) - value) ** 2, 0));
  const middlePx = camera.focals[0]?.focalPx ?? 0;
  const changes: number[] = [];
  for (const which of face.cornersPx.keys()) {
    for (const axis of [0, 1] as const) {
      const moved = (sign: number) =>
        ratio(withMoved(face.cornersPx, which, axis, sign * face.cornerSdPx), middlePx);
      const [up, down] = [moved(1), moved(-1)];
      if (up === undefined || down === undefined) return undefined;
      changes.push((up - down) / 2);
    }
  }
  const stretched = (sign: number) => {
    const stretch = (point: PointPx) => stretchedBy(sign * lensShare, point, camera.centrePx);
    const points = reference.points.map(({ px, mm }) => ({ px: stretch(px), mm }));
    const [a, b, c, d] = face.cornersPx;
    const cornersPx: CornersPx = [stretch(a), stretch(b), stretch(c), stretch(d)];
    return sizeRatio({ ...reference, points }, { ...face, cornersPx }, middlePx, camera);
  };
  const [up, down] = [stretched(1), stretched(-1)];
  if (up === undefined || down === undefined) return undefined;
  changes.push((up - down) / 2);
  const pointsSd = value * (reference.pointSdPx / spreadOf(reference.points.map(({ px }) => px)));
  return { value, sd: combineSd(spread, pointsSd, value * reference.sizeRelativeSd, ...changes) };
}

/** A point moved along its radius, by the share at the photo's corner that grows with the square of the radius. */
function stretchedBy(share: number, [x, y]: PointPx, [cx, cy]: readonly [Px, Px]): PointPx {
  const stretch = 1 + share * (Math.hypot(x - cx, y - cy) / Math.hypot(cx, cy)) ** 2;
  return [cx + stretch * (x - cx), cy + stretch * (y - cy)];
}

/** Undefined where the plane would lie behind the camera. */
function sizeRatio(
  { points, behindFaceMm }: PlacedReference,
  { cornersPx, widthMm, heightMm }: MeasuringFace,
  focalPx: Px,
  { centrePx }: CameraBelief,
): number | undefined {
  const facePlane = homographyFromPoints(boxCorners(widthMm, heightMm), cornersPx);
  const plane = behindFaceMm === 0 ? facePlane : parallelPlane(facePlane, behindFaceMm, focalPx, centrePx);
  if (plane === undefined) return undefined;
  const pxToMm = invertHomography(plane);
  const seen = points.map(({ px }): PointPx => applyHomography(pxToMm, px[0], px[1]));
  return spreadOf(points.map(({ mm }) => mm)) / spreadOf(seen);
}

/** Root of the sum of squared distances from the middle. */
function spreadOf(points: readonly (readonly [number, number])[]): number {
  const mean = (axis: 0 | 1) => points.reduce((sum, point) => sum + point[axis], 0) / points.length;
  const [x, y] = [mean(0), mean(1)];
  return Math.sqrt(points.reduce((sum, point) => sum + (point[0] - x) ** 2 + (point[1] - y) ** 2, 0));
}

function withMoved(corners: CornersPx, which: number, axis: 0 | 1, byPx: Px): CornersPx {
  return eachCorner(corners, ([x, y], i): PointPx => {
    if (i !== which) return [x, y];
    return axis === 0 ? [x + byPx, y] : [x, y + byPx];
  });
}
