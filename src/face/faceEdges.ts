import { distanceOf } from '../core/vector.js';
import type { CodeImage, CornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';
import { cornerOf, type EdgeBend, type EdgeLine, type EdgeSearch } from '../imaging/edgeLine.js';
import { fitEdgeLine } from '../imaging/fitEdgeLine.js';
import { fitTextureEnd } from '../imaging/fitTextureEnd.js';
import { median } from '../signal/median.js';
import { ontoLine } from './acrossEdge.js';
import type { CameraBelief } from './camera.js';
import { footOf, isSoft } from './softEdge.js';

/** The four edges of a face at full resolution. */
export interface FaceEdges {
  /** Top, right, bottom, left; their points are as they lie in the photo, bowed by the lens, rounding taken off. */
  readonly edges: readonly [EdgeLine, EdgeLine, EdgeLine, EdgeLine];
  /** Where the edges meet, the lens's bow included. */
  readonly cornersPx: CornersPx;
  /** Standard uncertainty of each coordinate of a corner, px. */
  readonly cornerSdPx: Px;
}

/** What the edges are fitted with. */
export interface FaceEdgeSearch {
  readonly lut: Float32Array;
  readonly camera: CameraBelief;
  /** How far the corners given may be off, px. */
  readonly reachPx: Px;
}

/**
 * By how much a shaper rounds a corner goes about with the inverse square of its frequency: its impulses lie half a
 * period apart, and within that time an axis that accelerates gets as far as the square of it. A ladder from 28 % of its
 * upper end is taken (experiment: the six photographs' ladders end at 25–31 %); the told one makes corners no better.
 */
const USUAL_LADDER = 0.28;
/** The most that a corner is rounded by, as a share of the face's width (experiment: 0.014 on the photographs). */
const MOST_ROUNDING = 0.012;
/** The course of that rounding is known to about this share (experiment: the photographs' corners by 0, 0.15, 0.3, 0.5). */
const COURSE_SD = 0.3;
/** Radial distortion of a phone's photo, k1 in units of the focal length, standard deviation (common practice, no source). */
const K1_SD = 0.05;
/** The most that an edge bows, as a share of its length: k1 of three sd at the edge of a wide picture. */
const MOST_BOW = 0.006;
/** A printed outline leaves its box by this share of the width, besides what is fitted (experiment: the photographs). */
const OUTLINE_SD = 9e-4;
/** A line is twice as uncertain at its ends as in its middle: variance 1/n + 3/n there. */
const EXTRAPOLATED = 2;
/** What the rounding that is taken off adds, as a share of it (experiment: photographs and drawn scenes). */
const OF_ROUNDING = 0.15;
/** How straight printed edges are, px at least, and as a share of their length (experiment: the six photographs). */
const PRINTED_BOW = { px: 0.3, share: 3e-4 } as const;

/**
 * Fits the edges of a face: all four straight but for the one bow that a lens gives them all, and the upright ones
 * with the rounding of the corners, which grows downwards where a ladder shapes less.
 * @param codes - Grey codes of the whole photo.
 * @param cornersPx - Where the corners are about: top-left, top-right, bottom-right, bottom-left.
 * @param search - What they are fitted with.
 * @returns Edges and corners; undefined when an edge is not there.
 */
export function fitFaceEdges(
  codes: CodeImage,
  cornersPx: CornersPx,
  search: FaceEdgeSearch,
): FaceEdges | undefined {
  const { lut, camera, reachPx } = search;
  const [a, b, c, d] = cornersPx;
  const fit = (from: PointPx, to: PointPx, bends: readonly EdgeBend[]) =>
    fitEither(codes, from, to, { lut, reachPx, bends });
  const freeBow = (from: PointPx, to: PointPx): EdgeBend => {
    const most = MOST_BOW * distanceOf(from, to);
    return { at: bowAt, lowPx: -most, highPx: most };
  };
  const top = fit(a, b, [freeBow(a, b)]);
  const bottom = fit(c, d, [freeBow(c, d)]);
  if (top === undefined || bottom === undefined) return undefined;
  const perFocal2 = lensBow([top, bottom], [distanceOf(a, b), distanceOf(c, d)], camera);
  const bow = (from: PointPx, to: PointPx): EdgeBend => {
    const length = distanceOf(from, to);
    const away = outwardsOf(from, to, camera.centrePx);
    const px = (-perFocal2 * away * length * length) / 4;
    return { at: bowAt, lowPx: px, highPx: px };
  };
  const widthPx = (distanceOf(a, b) + distanceOf(c, d)) / 2;
  const rounding = (heightShare: (share: number) => number): EdgeBend => ({
    at: (share) => roundingAt(heightShare(share)),
    lowPx: -MOST_ROUNDING * widthPx,
    highPx: 0,
    courseSd: COURSE_SD,
  });
  const refit = (line: EdgeLine, from: PointPx, to: PointPx) => {
    const [start, end] = [ontoLine(line, from, 0), ontoLine(line, to, 0)];
    return fitEither(codes, start, end, { lut, reachPx: NEAR_PX, bends: [bow(from, to)] }) ?? line;
  };
  const sidesOf = (turned: boolean): readonly [EdgeLine, EdgeLine] | undefined => {
    const right = fit(b, c, [rounding((share) => (turned ? share : 1 - share)), bow(b, c)]);
    const left = fit(d, a, [rounding((share) => (turned ? 1 - share : share)), bow(d, a)]);
    return right === undefined || left === undefined ? undefined : [right, left];
  };
  const sides = betterSides(sidesOf(false), sidesOf(true));
  if (sides === undefined) return undefined;
  const [right, left] = sides;
  const sharpPx = sharpOf([top, right, bottom, left]);
  const level = (line: EdgeLine, from: PointPx, to: PointPx): EdgeLine => {
    const fitted = refit(line, from, to);
    const seen = bowedAgain(fitted, bow(from, to), from, to);
    return (isSoft(seen, sharpPx) ? footOf(codes, lut, seen, sharpPx) : undefined) ?? seen;
  };
  const [t, r, m, l] = [
    level(top, a, b),
    bowedAgain(right, bow(b, c), b, c),
    level(bottom, c, d),
    bowedAgain(left, bow(d, a), d, a),
  ];
  return faceOf([t, r, m, l]);
}

/**
 * The face that lies between four edges.
 * @param edges - Top, right, bottom, left; the second and the fourth with their rounding as the first bend.
 * @returns The face.
 * @throws {RangeError} When neighbouring edges are parallel.
 */
export function faceOf(edges: FaceEdges['edges']): FaceEdges {
  const [t, r, m, l] = edges;
  const cornersPx: CornersPx = [cornerOf(l, t), cornerOf(t, r), cornerOf(r, m), cornerOf(m, l)];
  const widthPx = (distanceOf(cornersPx[0], cornersPx[1]) + distanceOf(cornersPx[2], cornersPx[3])) / 2;
  const sharpPx = sharpOf(edges);
  return {
    edges,
    cornersPx,
    cornerSdPx: Math.hypot(
      OUTLINE_SD * widthPx,
      EXTRAPOLATED * rms(edges.map(({ sdPx }) => sdPx)),
      OF_ROUNDING * rms([r, l].map(({ bendsPx }) => bendsPx[0] ?? 0)),
      // Each edge moves two corners of four, in one of two coordinates.
      ...edges.map((line) => otherEdgeSdPx(line, sharpPx) / 2),
    ),
  };
}

/** So much of an edge, as a share, is near its end; and so much of it about its middle tells how much could be seen. */
const END = 0.05;
const MIDDLE = { from: 0.3, to: 0.7 } as const;

/**
 * How much of each edge is seen near its ends, where it meets the next one.
 * @param face - The face.
 * @returns For top, right, bottom and left, clockwise, the share near its beginning and near its end of what is seen of
 * its middle: about 1, and 0 where the edge leaves its line or is hidden.
 */
export function endsSeen({ edges, cornersPx }: FaceEdges): readonly (readonly [number, number])[] {
  return edges.map(({ points }, side) => {
    const [from, to] = [cornersPx[side] ?? cornersPx[0], cornersPx[(side + 1) % 4] ?? cornersPx[0]];
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const shares = points.map(([x, y]) => ((x - from[0]) * dx + (y - from[1]) * dy) / (dx * dx + dy * dy));
    const within = (low: number, high: number) =>
      shares.filter((share) => share > low && share < high).length / (high - low);
    const middle = Math.max(1, within(MIDDLE.from, MIDDLE.to));
    return [within(0, END) / middle, within(1 - END, 1) / middle];
  });
}

/** How sharp the edges of the face are in the photo: the median. */
function sharpOf(edges: readonly EdgeLine[]): Px {
  return median(edges.map(({ blurPx }) => blurPx));
}

/** Where the tower stands upside down in the photo, the rounding grows upwards; then the sides fit so much better. */
const BETTER_TURNED = 0.9;

function betterSides(
  upright: readonly [EdgeLine, EdgeLine] | undefined,
  turned: readonly [EdgeLine, EdgeLine] | undefined,
): readonly [EdgeLine, EdgeLine] | undefined {
  if (upright === undefined || turned === undefined) return upright ?? turned;
  const roughness = (sides: readonly EdgeLine[]) =>
    sides.reduce((sum, { residualPx, support }) => sum + residualPx / support, 0);
  return roughness(turned) < BETTER_TURNED * roughness(upright) ? turned : upright;
}

/** A step of brightness, or where the layers end. */
function fitEither(
  codes: CodeImage,
  from: PointPx,
  to: PointPx,
  { lut, ...search }: EdgeSearch & { readonly lut: Float32Array },
): EdgeLine | undefined {
  return fitEdgeLine(codes, lut, from, to, search) ?? fitTextureEnd(codes, lut, from, to, search);
}

/**
 * An edge that is not as sharp as the face's others may be another one: the flank of a shadow, a line or a rim. How far
 * the face's own may then be from it, px for each px of blur in which they differ by more than a share of it
 * (experiment: 45 drawn scenes).
 */
const OTHER_BLUR = { share: 0.2, pxPerPx: 3 } as const;

function otherEdgeSdPx({ blurPx }: EdgeLine, sharpPx: Px): Px {
  return OTHER_BLUR.pxPerPx * Math.max(0, Math.abs(blurPx - sharpPx) - OTHER_BLUR.share * sharpPx);
}

/** A bow of amplitude 1 in the middle, none at the ends. */
function bowAt(share: number): number {
  return 4 * share * (1 - share);
}

/** Rounding at a height, 1 at the lower edge. */
function roundingAt(heightShare: number): number {
  const height = Math.min(1, Math.max(0, heightShare));
  return (USUAL_LADDER / (USUAL_LADDER + (1 - USUAL_LADDER) * height)) ** 2;
}

/**
 * k1 ÷ focal length², by the bow of edges. A point at r from the middle moves by k1 r³/f², so an edge of length L whose
 * line passes the middle at a distance d bows by −k1 d L²/(4 f²), outwards.
 */
function lensBow(edges: readonly EdgeLine[], lengths: readonly number[], camera: CameraBelief): number {
  const focalPx = camera.focals[0]?.focalPx ?? Infinity;
  const priorSd = K1_SD / (focalPx * focalPx);
  let [sum, weight] = [0, 1 / (priorSd * priorSd)];
  for (const [i, { normal, offsetPx, bendsPx, sdPx }] of edges.entries()) {
    const length = lengths[i] ?? 0;
    const away = offsetPx - normal[0] * camera.centrePx[0] - normal[1] * camera.centrePx[1];
    const perUnit = (-away * length * length) / 4;
    const sd = Math.hypot(PRINTED_BOW.px, PRINTED_BOW.share * length, 3 * sdPx);
    sum += (perUnit * (bendsPx[0] ?? 0)) / (sd * sd);
    weight += (perUnit * perUnit) / (sd * sd);
  }
  return sum / weight;
}

/** How far the line from → to lies outside a point, px; clockwise round the shape. */
function outwardsOf(from: PointPx, to: PointPx, point: PointPx): number {
  const length = distanceOf(from, to);
  const [nx, ny] = [(to[1] - from[1]) / length, (from[0] - to[0]) / length];
  return nx * (from[0] - point[0]) + ny * (from[1] - point[1]);
}

/** An edge whose points lie where the photo shows them, but for their rounding. */
function bowedAgain(edge: EdgeLine, bow: EdgeBend, from: PointPx, to: PointPx): EdgeLine {
  const length = distanceOf(from, to);
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const points = edge.points.map(([x, y]): PointPx => {
    const share = ((x - from[0]) * ux + (y - from[1]) * uy) / length;
    const px = bow.lowPx * bow.at(share);
    return [x + px * edge.normal[0], y + px * edge.normal[1]];
  });
  return { ...edge, points };
}

/** Once a line is known, the edge is not looked for further off than this. */
const NEAR_PX = 2.5;

function rms(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}
