import type { CodeImage, ColourImage, CornersPx, PointPx } from '../core/image.js';
import { distanceOf } from '../core/vector.js';
import type { Mm, Px } from '../core/units.js';
import { coloursOf } from '../imaging/contrastView.js';
import { cornerForm, type CornerForm } from '../imaging/cornerRounding.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { applyHomography, homographyFromPoints, homographyFromSquare } from '../imaging/homography.js';
import { planeAxes } from '../imaging/pose.js';
import { lightReader } from '../imaging/strip.js';
import { linearLut } from '../imaging/tone.js';
import type { CameraBelief } from './camera.js';
import type { Quad } from './findQuads.js';
import { cornersOf, cornerSdPx, fitSides, fitSidesInColour, type Sides } from './fitSides.js';
import type { FoundReference } from './reference.js';
import { boxCorners } from './seenFace.js';
import { eachCorner, shapeOfCorners } from './shape.js';

/** ISO/IEC 7810, ID-1: nominal size and corner radius, as quoted in the project's references. */
const LONG_MM = 85.6;
const SHORT_MM = 53.98;
const RADIUS_MM = 3.18;
/** Limits of the width, 85.47 to 85.72 mm, taken as even between them (references, from memory). */
const SIZE_RELATIVE_SD = (85.72 - 85.47) / 2 / Math.sqrt(3) / LONG_MM;

/** Sides are fitted where they are straight for certain: beyond the largest radius, 3.48 mm, and a little more. */
const CUT_MM = 5;
/** How far a hypothesis's side may lie from the card's, px of the shrunk copy: further out is the card's shadow. */
const REACH_SHRUNK_PX = 1.5;
/** A side is fitted again from where it was found, as a hypothesis may be further off at one end. */
const ROUNDS = 2;
/** And how far from there it may lie at full resolution, px of the photo: where grey shows no edge, that of colour stays. */
const REACH_PX = 3;
const MOST_MOVED_PX = 1.5;
/** A side at full resolution must be this straight, rms px, and seen over this share of what colour showed. */
const MOST_ROUGH_PX = 0.5;
const ENOUGH_SUPPORT = 0.8;
/** Three sides must be seen mostly; of the fourth, a part. */
const LEAST_SUPPORT = 0.6;
const LEAST_FOURTH_SUPPORT = 0.25;
/** A card's rim is rounded, has a thickness, and throws a shadow: 1 px at 20 px per mm in the test photographs. */
const RIM_SD_MM = 0.05;
/** Corners that must be seen to be round; a square one is no card's. */
const LEAST_ROUND = 3;

/** A hypothesis's shape may be this far from a card's: logarithm of the ratio, and radians. */
const ROUGH_RATIO = 0.12;
const ROUGH_SKEW_RAD = 0.15;
/** And a fitted one's, beside three standard uncertainties: what its own tolerance, thickness and bend come to. */
const FINE_RATIO = 0.01;
const FINE_SKEW_RAD = 0.01;
/** Corners of the same card by two hypotheses lie this near, as a share of its longer side. */
const SAME_SHARE = 0.05;

/** What is looked at to find a card. */
export interface IdCardSearch {
  /** Grey codes of the whole photo, and the linear light of each code. */
  readonly codes: CodeImage;
  readonly lut: Float32Array;
  /** The shrunk copy in colour. */
  readonly shrunk: ColourImage;
  /** Quadrilaterals that may be a card. */
  readonly quads: readonly Pick<Quad, 'cornersPx'>[];
  readonly camera: CameraBelief;
  /** From photo px to the plane of the face in any unit of length, or a plane parallel to it, where that is known. */
  readonly pxToFace?: Float64Array;
}

/**
 * Whether a quadrilateral may be a card by its shape, lying or standing: a quick look.
 * @param cornersPx - Clockwise from top-left.
 * @param camera - What may be believed of the camera.
 * @returns False where no focal length that is possible makes it a card.
 */
export function mayBeIdCard(cornersPx: CornersPx, camera: CameraBelief): boolean {
  return possibleSizes(cornersPx, camera).length > 0;
}

/** The card lying, standing, both or neither. */
function possibleSizes(cornersPx: CornersPx, camera: CameraBelief): (readonly [Mm, Mm])[] {
  let squareToPx: Float64Array;
  try {
    squareToPx = homographyFromSquare(cornersPx);
  } catch {
    return []; // three corners on a line
  }
  return [LYING, STANDING].filter((sizeMm) =>
    camera.focals.some(({ focalPx }) => {
      const { alongX, alongY } = planeAxes(squareToPx, focalPx, camera.centrePx);
      return hasSides(alongX, alongY, sizeMm, ROUGH_RATIO, ROUGH_SKEW_RAD);
    }),
  );
}

/**
 * Finds the one card of format ID-1 among quadrilaterals: its shape by the corners and the camera (or by the plane of
 * the face), straight sides at full resolution, and round corners, which a piece of paper has not. One corner may be
 * hidden.
 * @param search - Photo, quadrilaterals, camera.
 * @returns The card with the points where its sides would meet, mm from its top-left one; undefined when there is none, or
 * more than one.
 */
export function findIdCard(search: IdCardSearch): FoundReference | undefined {
  const { codes, shrunk } = search;
  const picture: Picture = {
    image: shrunk,
    read: coloursOf(shrunk).map((colour) => lightReader(colour, linearLut(8))),
    scale: Math.max(...codes.shape) / Math.max(shrunk.widthPx, shrunk.heightPx),
  };
  const cards: Card[] = [];
  for (const { cornersPx } of search.quads) {
    // The same card by another hypothesis tells nothing new.
    if (cards.some((card) => isSame(card.cornersPx, cornersPx))) continue;
    const card = cardAt(search, picture, cornersPx);
    if (card !== undefined && !cards.some((other) => isSame(other.cornersPx, card.cornersPx)))
      cards.push(card);
  }
  const [first, ...others] = cards;
  return first === undefined || others.length > 0 ? undefined : describe(first);
}

interface Card {
  readonly cornersPx: CornersPx;
  readonly sides: Sides<EdgeLine>;
  readonly sizeMm: readonly [Mm, Mm];
  readonly roundCorners: number;
}

function cardAt(search: IdCardSearch, picture: Picture, rough: CornersPx): Card | undefined {
  const { codes, lut, camera, pxToFace } = search;
  for (const sizeMm of possibleSizes(rough, camera)) {
    // Round corners first: they cost little to look for, and most quadrilaterals have none.
    if (countRound(cornerForms(picture, rough, sizeMm, 'guessed')) < LEAST_ROUND) continue;
    const coarse = sidesAt(picture, rough, sizeMm);
    if (coarse === undefined) continue;
    const forms = cornerForms(picture, cornersOf(coarse), sizeMm, 'known');
    if (countRound(forms) < LEAST_ROUND || forms.includes('square')) continue;
    const sides = sharpened(codes, lut, coarse, sizeMm);
    const cornersPx = cornersOf(sides);
    if (!hasShape(cornersPx, cornerSdPx(sides), sizeMm, camera, pxToFace)) continue;
    return { cornersPx, sides, sizeMm, roundCorners: countRound(forms) };
  }
  return undefined;
}

const LYING = [LONG_MM, SHORT_MM] as const;
const STANDING = [SHORT_MM, LONG_MM] as const;

/** The shrunk copy's colours, and photo px for each of its px. */
interface Picture {
  readonly image: ColourImage;
  readonly read: readonly ((x: Px, y: Px) => number)[];
  readonly scale: number;
}

function sidesAt(
  { image, scale }: Picture,
  rough: CornersPx,
  sizeMm: readonly [Mm, Mm],
): Sides<EdgeLine> | undefined {
  let corners = eachCorner(rough, ([x, y]): PointPx => [x / scale, y / scale]);
  let sides: Sides<EdgeLine> | undefined;
  for (let round = 0; round < ROUNDS; round += 1) {
    const fitted = fitSidesInColour(image, corners, cutShares(sizeMm), REACH_SHRUNK_PX);
    const [top, right, bottom, left] = fitted;
    if (top === undefined || right === undefined || bottom === undefined || left === undefined)
      return undefined;
    sides = [top, right, bottom, left];
    corners = cornersOf(sides);
  }
  if (sides === undefined) return undefined;
  const [worst, second] = sides.map(({ support }) => support).sort((one, other) => one - other);
  const isSeen = (worst ?? 0) >= LEAST_FOURTH_SUPPORT && (second ?? 0) >= LEAST_SUPPORT;
  return isSeen ? eachCorner(sides, (side) => enlarged(side, scale)) : undefined;
}

function cutShares([widthMm, heightMm]: readonly [Mm, Mm]): readonly [number, number] {
  return [CUT_MM / widthMm, CUT_MM / heightMm];
}

function enlarged(line: EdgeLine, scale: number): EdgeLine {
  return {
    ...line,
    offsetPx: scale * line.offsetPx,
    points: line.points.map(([x, y]) => [scale * x, scale * y]),
    residualPx: scale * line.residualPx,
    sdPx: scale * line.sdPx,
    blurPx: scale * line.blurPx,
  };
}

/** The sides at full resolution, each where grey shows it as well as colour did. */
function sharpened(
  codes: CodeImage,
  lut: Float32Array,
  coarse: Sides<EdgeLine>,
  sizeMm: readonly [Mm, Mm],
): Sides<EdgeLine> {
  const corners = cornersOf(coarse);
  const fine = fitSides(codes, lut, corners, cutShares(sizeMm), REACH_PX);
  return eachCorner(coarse, (side, i) => {
    const sharp = fine[i];
    if (sharp === undefined || sharp.residualPx > MOST_ROUGH_PX) return side;
    const moved = [corners[i], corners[(i + 1) % corners.length]].map((corner = [0, 0]) =>
      Math.abs(sharp.normal[0] * corner[0] + sharp.normal[1] * corner[1] - sharp.offsetPx),
    );
    return Math.max(...moved) < MOST_MOVED_PX && sharp.support > ENOUGH_SUPPORT * side.support ? sharp : side;
  });
}

function hasShape(
  cornersPx: CornersPx,
  sdPx: Px,
  [widthMm, heightMm]: readonly [Mm, Mm],
  camera: CameraBelief,
  pxToFace: Float64Array | undefined,
): boolean {
  if (pxToFace !== undefined) {
    const [a, b, c, d] = eachCorner(cornersPx, ([x, y]) => applyHomography(pxToFace, x, y));
    const alongX = [b[0] - a[0] + c[0] - d[0], b[1] - a[1] + c[1] - d[1]];
    const alongY = [d[0] - a[0] + c[0] - b[0], d[1] - a[1] + c[1] - b[1]];
    return hasSides(alongX, alongY, [widthMm, heightMm], PARALLEL_RATIO, PARALLEL_SKEW_RAD);
  }
  const { heightPerWidth, skewRad } = shapeOfCorners(cornersPx, sdPx, camera);
  const stretch = Math.abs(Math.log((heightPerWidth.value * widthMm) / heightMm));
  return (
    stretch < FINE_RATIO + (3 * heightPerWidth.sd) / heightPerWidth.value &&
    Math.abs(skewRad.value) < FINE_SKEW_RAD + 3 * skewRad.sd
  );
}

/** By the plane of the face: its own corners and the lens leave a percent or two, and a card may lean a little. */
const PARALLEL_RATIO = 0.05;
const PARALLEL_SKEW_RAD = 0.05;

/** Whether two sides, as steps in space or in a plane, have the ratio of a size and are at right angles. */
function hasSides(
  alongX: readonly number[],
  alongY: readonly number[],
  [widthMm, heightMm]: readonly [Mm, Mm],
  within: number,
  withinRad: number,
): boolean {
  const [width, height] = [Math.hypot(...alongX), Math.hypot(...alongY)];
  const cosine = alongX.reduce((sum, value, i) => sum + value * (alongY[i] ?? 0), 0) / (width * height);
  const stretch = Math.log((width * heightMm) / (height * widthMm));
  return Math.abs(stretch) < within && Math.abs(Math.asin(cosine)) < withinRad;
}

function cornerForms(
  { read, scale }: Picture,
  cornersPx: CornersPx,
  sizeMm: readonly [Mm, Mm],
  corner: 'known' | 'guessed',
): readonly CornerForm[] {
  const mmToPx = homographyFromPoints(
    boxCorners(...sizeMm),
    cornersPx.map(([x, y]) => [x / scale, y / scale]),
  );
  const [widthMm, heightMm] = sizeMm;
  return [
    cornerForm(read, mmToPx, [0, 0], [1, 1], RADIUS_MM, corner),
    cornerForm(read, mmToPx, [widthMm, 0], [-1, 1], RADIUS_MM, corner),
    cornerForm(read, mmToPx, [widthMm, heightMm], [-1, -1], RADIUS_MM, corner),
    cornerForm(read, mmToPx, [0, heightMm], [1, -1], RADIUS_MM, corner),
  ];
}

function countRound(forms: readonly CornerForm[]): number {
  return forms.filter((form) => form === 'round').length;
}

function describe({ cornersPx, sides, sizeMm, roundCorners }: Card): FoundReference {
  const mm = boxCorners(...sizeMm);
  const pxPerMm = distanceOf(cornersPx[0], cornersPx[2]) / Math.hypot(LONG_MM, SHORT_MM);
  const support = sides.reduce((sum, side) => sum + side.support, 0) / sides.length;
  return {
    kind: 'id1-card',
    points: cornersPx.map((px, i) => ({ px, mm: mm[i] ?? [0, 0] })),
    pointSdPx: Math.hypot(cornerSdPx(sides), RIM_SD_MM * pxPerMm),
    sizeRelativeSd: SIZE_RELATIVE_SD,
    outlinePx: cornersPx,
    confidence: Math.min(1, support) * (roundCorners === 4 ? 1 : 0.9),
  };
}

function isSame(one: CornersPx, other: CornersPx): boolean {
  const long = Math.max(distanceOf(one[0], one[1]), distanceOf(one[1], one[2]));
  return one.every((corner, i) => distanceOf(corner, other[i] ?? corner) < SAME_SHARE * long);
}
