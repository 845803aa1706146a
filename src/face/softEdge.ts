import type { CodeImage, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { dot } from '../core/vector.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { orthonormalise } from '../signal/leastSquares.js';
import { fitLineRobustly } from '../signal/robustLine.js';
import { profileAcross } from './acrossEdge.js';

/** An edge of the face is as sharp as its others; one so many times as wide is that of a shadow. */
const SOFT = 1.25;
/** How far inside a soft edge its foot is looked for, in sigmas of its blur, and px on top. */
const REACH = { sigmas: 3, px: 4 } as const;
/** Even face inside the foot that is looked at on top of that, px. */
const FACE_PX = 12;
/** Places that are tried for the foot lie this far apart, px. */
const STEP_PX = 0.5;
/** With the foot where it fits best, so much less is left of the profile than with it at the soft edge. */
const BETTER = 0.5;
/** Pieces along the edge that are looked at one by one, and how far off the whole edge's foot theirs may be, px. */
const PIECES = 8;
const LEAST_PIECES = 5;
const PIECE_REACH_PX = 4;
/** What the foot may be off by, px (experiment: drawn scenes). */
const FOOT_SD_PX = 1;
/** The logistic function is the normal distribution's to 0.01 with this factor (common knowledge, no source). */
const LOGISTIC = 1.702;

/**
 * Whether an edge is too soft to be one of the face: where a tower stands on something, its shadow darkens that towards
 * the tower, and the shadow's outer flank is often more of an edge than the tower's own foot.
 * @param edge - A fitted edge.
 * @param sharpPx - Spread of the face's edges, px.
 * @returns True when it is.
 */
export function isSoft({ blurPx }: Pick<EdgeLine, 'blurPx'>, sharpPx: Px): boolean {
  return blurPx > SOFT * sharpPx;
}

/**
 * The inner foot of a soft edge: where, on the way out of an even face, brightness begins to change, with a sharp step or
 * without one.
 * @param codes - Grey codes of the whole photo.
 * @param lut - Linear light of each code.
 * @param soft - The soft edge, its points where the photo shows them.
 * @param sharpPx - Spread of the face's edges, px.
 * @returns A line along the foot; undefined where there is none.
 */
export function footOf(
  codes: CodeImage,
  lut: Float32Array,
  soft: EdgeLine,
  sharpPx: Px,
): EdgeLine | undefined {
  const reachPx = Math.ceil(REACH.sigmas * soft.blurPx + REACH.px);
  const reach = { outsidePx: 0, insidePx: reachPx + FACE_PX };
  const whole = profileAcross(codes, lut, soft, reach);
  if (whole === undefined) return undefined;
  const { atPx, left } = bestFoot(whole, 0, reachPx, sharpPx);
  if (!(left < BETTER * leftWith(whole, 0, sharpPx)) || atPx > reachPx - 1) return undefined;
  const pieces = Array.from({ length: PIECES }, (_, k): Piece | undefined => {
    const points = soft.points.slice(
      Math.floor((k * soft.points.length) / PIECES),
      Math.floor(((k + 1) * soft.points.length) / PIECES),
    );
    const profile = points.length === 0 ? undefined : profileAcross(codes, lut, { ...soft, points }, reach);
    if (profile === undefined) return undefined;
    const insidePx = bestFoot(profile, atPx - PIECE_REACH_PX, atPx + PIECE_REACH_PX, sharpPx).atPx;
    return { points, insidePx };
  }).filter((piece) => piece !== undefined);
  return lineThrough(soft, pieces, sharpPx);
}

/** The place of the foot that leaves least of a profile, px from its beginning inwards. */
function bestFoot(
  profile: Float64Array,
  fromPx: Px,
  toPx: Px,
  sharpPx: Px,
): { readonly atPx: Px; readonly left: number } {
  let best = { atPx: fromPx, left: Infinity };
  for (let atPx = fromPx; atPx <= toPx; atPx += STEP_PX) {
    const left = leftWith(profile, atPx, sharpPx);
    if (left < best.left) best = { atPx, left };
  }
  return best;
}

/** What is left of a profile beside an even face, a step at a foot and a ramp that begins there: sum of squares. */
function leftWith(profile: Float64Array, atPx: Px, sharpPx: Px): number {
  const width = sharpPx / LOGISTIC;
  const outside = profile.map((_, i) => (atPx - i - 0.5) / width);
  const ramp = outside.map((z) => (z > 30 ? z : Math.log1p(Math.exp(z))));
  const columns = [
    new Float64Array(profile.length).fill(1),
    outside.map((z) => 1 / (1 + Math.exp(-z))),
    ramp,
    ramp.map((z) => z * z),
  ];
  return orthonormalise(columns).reduce(
    (left, column) => left - dot(column, profile) ** 2,
    dot(profile, profile),
  );
}

interface Piece {
  readonly points: readonly PointPx[];
  readonly insidePx: Px;
}

/** The line along the foot: the soft edge's, moved and turned; its points where the photo shows them. */
function lineThrough(soft: EdgeLine, pieces: readonly Piece[], sharpPx: Px): EdgeLine | undefined {
  if (pieces.length < LEAST_PIECES) return undefined;
  const [nx, ny] = soft.normal;
  const along = ([x, y]: PointPx): Px => y * nx - x * ny;
  const us = pieces.map(({ points }) => points.reduce((sum, point) => sum + along(point), 0) / points.length);
  const { slope, offset, sd } = fitLineRobustly(
    us,
    pieces.map(({ insidePx }) => insidePx),
  );
  const length = Math.hypot(1, slope);
  // A point at u along the old line lies offset + slope·u inside it: the normal turns by that slope.
  const normal = [(nx - slope * ny) / length, (ny + slope * nx) / length] as const;
  return {
    ...soft,
    normal,
    offsetPx: (soft.offsetPx - offset) / length,
    points: pieces.flatMap(({ points, insidePx }) =>
      points.map(([x, y]): PointPx => [x - insidePx * nx, y - insidePx * ny]),
    ),
    residualPx: sd,
    sdPx: Math.hypot(FOOT_SD_PX, sd / Math.sqrt(pieces.length)),
    blurPx: sharpPx,
    support: (soft.support * pieces.length) / PIECES,
    bendsPx: [],
  };
}
