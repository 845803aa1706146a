import { InputError } from '../core/errors.js';
import type { CornersPx, PartialCornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';

/**
 * How well a person puts a point by hand, px for each coordinate: about two px at ordinary zoom
 * (common practice, no source).
 */
export const CLICK_SD_PX = 2;

/** How far outside the photo a corner may lie and still count as a click on its edge, px. */
const EDGE_SLACK_PX = 1;

/**
 * Checks corners that a person gave, one by one.
 * @param corners - Upright px; undefined for one that is not given.
 * @param widthPx - Width of the upright photo.
 * @param heightPx - Height of the upright photo.
 * @throws {InputError} `corners-outside` when one lies outside the photo.
 */
export function checkInside(corners: PartialCornersPx, widthPx: Px, heightPx: Px): void {
  for (const corner of corners) {
    if (corner === undefined) continue;
    const [x, y] = corner;
    const inside =
      x >= -EDGE_SLACK_PX &&
      y >= -EDGE_SLACK_PX &&
      x <= widthPx + EDGE_SLACK_PX &&
      y <= heightPx + EDGE_SLACK_PX;
    if (!inside) {
      throw new InputError(
        'corners-outside',
        `The corner ${String(x)},${String(y)} lies outside the photo, which is ${String(widthPx)} × ${String(heightPx)} px once upright.`,
        'Give the corners in pixels of the upright photo, from its top-left corner.',
        'facePx',
      );
    }
  }
}

/**
 * Checks four corners that a person gave: inside the photo, and clockwise without crossing.
 * A face that stands upside down in the photo is fine, a mirrored order is not.
 * @param corners - Top-left, top-right, bottom-right, bottom-left of the face, upright px.
 * @param widthPx - Width of the upright photo.
 * @param heightPx - Height of the upright photo.
 * @throws {InputError} `corners-outside` or `corners-crossed`.
 */
export function checkCorners(corners: CornersPx, widthPx: Px, heightPx: Px): void {
  checkInside(corners, widthPx, heightPx);
  const [a, b, c, d] = corners;
  const turns = [crossAt(a, b, c), crossAt(b, c, d), crossAt(c, d, a), crossAt(d, a, b)];
  if (!turns.every((turn) => turn > 0)) {
    throw new InputError(
      'corners-crossed',
      'The four corners do not go clockwise round the face.',
      'Give them in the order top-left, top-right, bottom-right, bottom-left of the tower as printed, wherever those are in the photo; a mirrored photo must be turned back first.',
      'facePx',
    );
  }
}

/** Twice the signed area of a triangle: positive when a → b → c turns clockwise on screen (y down). */
function crossAt(a: PointPx, b: PointPx, c: PointPx): number {
  return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
}
