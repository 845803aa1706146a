import type { PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';

/**
 * A lens that moves each point along its radius: r_d = r (1 + k1 r²), r in units of the focal length about the
 * centre. Negative k1 draws points inwards (barrel), positive ones outwards (pincushion).
 */
export interface Lens {
  readonly k1: number;
  readonly centrePx: PointPx;
  readonly focalPx: Px;
}

/**
 * How much a lens moves the corner of a photo along its radius, standard uncertainty: phones and cameras correct most
 * of it themselves, and a percent or so is left (common practice, no source).
 */
export const LENS_AT_CORNER = 0.01;

/**
 * How much k1 may be before anything is seen of it.
 * @param centrePx - Middle of the photo, px: half its sides.
 * @param focalPx - Focal length, px.
 * @returns Standard uncertainty of k1 about 0: that which moves the photo's corner by `LENS_AT_CORNER`. It is 0.014
 * at 26 mm on 35-mm film and 0.053 at 50 mm.
 */
export function untoldK1Sd(centrePx: PointPx, focalPx: Px): number {
  return LENS_AT_CORNER * (focalPx / Math.hypot(...centrePx)) ** 2;
}

/** Newton's steps double the digits each time; from r_d they need six at the most. */
const MAX_STEPS = 50;

/**
 * Where a lens draws a point.
 * @param lens - The lens.
 * @param point - Where the point would be without distortion, px.
 * @returns Where it is in the photo, px.
 * @throws {RangeError} When the point lies so far out that the lens folds the picture over (k1 < 0 and r at or beyond
 * 1/√(−3 k1)).
 * @see Brown, "Decentering distortion of lenses", Photogrammetric Engineering 32(3), 1966 (from memory), first term.
 */
export function distortPoint(lens: Lens, [x, y]: PointPx): PointPx {
  const dx = x - lens.centrePx[0];
  const dy = y - lens.centrePx[1];
  const square = (dx * dx + dy * dy) / lens.focalPx ** 2;
  if (!(1 + 3 * lens.k1 * square > 0)) throw folded(lens, [x, y]);
  const stretch = 1 + lens.k1 * square;
  return [lens.centrePx[0] + stretch * dx, lens.centrePx[1] + stretch * dy];
}

/**
 * Where a point of the photo would be without distortion: the inverse of `distortPoint`, to rounding.
 * @param lens - The lens.
 * @param point - Where the point is in the photo, px.
 * @returns Where it would be without distortion, px.
 * @throws {RangeError} When the lens draws nothing there: k1 < 0 and r_d at or beyond its largest, ⅔/√(−3 k1).
 */
export function undistortPoint(lens: Lens, [x, y]: PointPx): PointPx {
  const { k1, centrePx, focalPx } = lens;
  const dx = x - centrePx[0];
  const dy = y - centrePx[1];
  const drawn = Math.hypot(dx, dy) / focalPx;
  if (drawn === 0) return [x, y];
  const fold = k1 >= 0 ? Infinity : 1 / Math.sqrt(-3 * k1);
  if (!(drawn < (2 / 3) * fold)) throw folded(lens, [x, y]);
  // On this side of the fold r(1 + k1 r²) rises and bends one way only, so that from r_d the steps run one way.
  let r = drawn;
  for (let step = 0; step < MAX_STEPS; step += 1) {
    const change = (r * (1 + k1 * r * r) - drawn) / (1 + 3 * k1 * r * r);
    r -= change;
    if (Math.abs(change) <= Number.EPSILON * r) break;
  }
  const shrink = r / drawn;
  return [centrePx[0] + shrink * dx, centrePx[1] + shrink * dy];
}

function folded({ k1, centrePx, focalPx }: Lens, [x, y]: PointPx): RangeError {
  const r = Math.hypot(x - centrePx[0], y - centrePx[1]) / focalPx;
  return new RangeError(
    `Expected a point on this side of the fold of a lens with k1 ${k1} but received one at ${r} focal lengths.`,
  );
}
