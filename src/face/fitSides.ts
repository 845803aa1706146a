import type { CodeImage, ColourImage, CornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { cornerOf, type EdgeLine } from '../imaging/edgeLine.js';
import { fitEdgeLine } from '../imaging/fitEdgeLine.js';
import { contrastView } from '../imaging/contrastView.js';

/** The four sides of a quadrilateral: top, right, bottom, left. */
export type Sides<Side> = readonly [Side, Side, Side, Side];

/** Shorter than this, a side of a face or a card has too few px for a line: there is noise and texture beside it. */
const LEAST_SIDE_PX = 60;

/**
 * Fits the straight sides of a quadrilateral at full resolution, away from its corners.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param lut - Linear light of each code.
 * @param cornersPx - Corners, nearly known, clockwise from top-left.
 * @param cutShares - Share of its length that is left out at both ends of top and bottom, and of right and left.
 * @param reachPx - How far a side may lie from where the corners have it, px.
 * @param leastSidePx - Shorter sides are not fitted. @default 60
 * @returns A line for each side; undefined where there is none to be found.
 */
export function fitSides(
  codes: CodeImage,
  lut: Float32Array,
  cornersPx: CornersPx,
  cutShares: readonly [number, number],
  reachPx: Px,
  leastSidePx: Px = LEAST_SIDE_PX,
): Sides<EdgeLine | undefined> {
  return fitEach(cornersPx, cutShares, leastSidePx, (from, to) =>
    fitEdgeLine(codes, lut, from, to, { reachPx }),
  );
}

/** Fits what is left of each side once its ends are cut. */
function fitEach(
  [a, b, c, d]: CornersPx,
  [along, down]: readonly [number, number],
  leastSidePx: Px,
  fit: (from: PointPx, to: PointPx) => EdgeLine | undefined,
): Sides<EdgeLine | undefined> {
  const side = (from: PointPx, to: PointPx, cut: number): EdgeLine | undefined => {
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    if ((1 - 2 * cut) * length < leastSidePx) return undefined;
    const at = (share: number): PointPx => [
      from[0] + share * (to[0] - from[0]),
      from[1] + share * (to[1] - from[1]),
    ];
    return fit(at(cut), at(1 - cut));
  };
  return [side(a, b, along), side(b, c, down), side(c, d, along), side(d, a, down)];
}

/**
 * As `fitSides`, each side in the mixture of colours that shows it best: a card and its shadow may be equally bright.
 * @param image - A picture in colour.
 * @param cornersPx - Corners in it, nearly known, clockwise from top-left.
 * @param cutShares - As `fitSides`.
 * @param reachPx - As `fitSides`.
 * @returns A line for each side; undefined where there is none to be found.
 */
export function fitSidesInColour(
  image: ColourImage,
  cornersPx: CornersPx,
  cutShares: readonly [number, number],
  reachPx: Px,
): Sides<EdgeLine | undefined> {
  return fitEach(cornersPx, cutShares, LEAST_SIDE_PX, (from, to) => {
    const view = contrastView(image, from, to);
    if (view === undefined) return undefined;
    const { codes, lut, left, top } = view;
    const inView = ([x, y]: PointPx): PointPx => [x - left, y - top];
    const line = fitEdgeLine(codes, lut, inView(from), inView(to), { reachPx });
    if (line === undefined) return undefined;
    return {
      ...line,
      offsetPx: line.offsetPx + line.normal[0] * left + line.normal[1] * top,
      points: line.points.map(([x, y]): PointPx => [x + left, y + top]),
    };
  });
}

/**
 * Corners where four sides meet.
 * @param sides - Top, right, bottom, left.
 * @returns Top-left, top-right, bottom-right, bottom-left.
 * @throws {RangeError} When neighbouring sides are parallel.
 */
export function cornersOf([top, right, bottom, left]: Sides<EdgeLine>): CornersPx {
  return [cornerOf(left, top), cornerOf(top, right), cornerOf(right, bottom), cornerOf(bottom, left)];
}

/**
 * Standard uncertainty of a coordinate of a corner by those of its sides.
 * @param sides - The fitted sides.
 * @returns Rms over the sides, px. A line through evenly spread points is twice as uncertain at its ends as in its
 * middle.
 */
export function cornerSdPx(sides: Sides<EdgeLine>): Px {
  return 2 * Math.sqrt(sides.reduce((sum, { sdPx }) => sum + sdPx ** 2, 0) / sides.length);
}
