import { combineSd } from '../core/estimate.js';
import type { CodeImage, CornersPx, PointPx } from '../core/image.js';
import { CHECK_LENGTH_MM, MARKER_CENTRES_MM, MARKER_FIELD_MM, MARKER_SIDE_MM } from '../core/markerCard.js';
import { distanceOf } from '../core/vector.js';
import type { Mm, Px } from '../core/units.js';
import { applyHomography, homographyFromPoints } from '../imaging/homography.js';
import { detectMarkers, type Marker } from '../imaging/markers.js';
import { shrink } from '../imaging/shrink.js';
import { MAD_TO_SD, median } from '../signal/median.js';
import { cornersOf, cornerSdPx, fitSides, type Sides } from './fitSides.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import type { FoundReference } from './reference.js';
import { eachCorner } from './shape.js';

/**
 * A card printed at home: printers scale by some tenths of a percent, more across than along their feed (common
 * practice, no source).
 */
const PRINT_RELATIVE_SD = 0.005;
/** Calipers held to the middle of two thin printed marks, mm (common practice, no source). */
const CALIPER_SD_MM = 0.1;
/** Where the scale along the check length is measured, the one across it may still differ by so much: as above. */
const ACROSS_RELATIVE_SD = 0.003;

/**
 * Longer side of the small pictures in which markers are looked for, px. From 16 px on a marker is detected there (tried
 * on the test photographs), so that the first shows any that is large enough in a photo of 12 megapixels for ripples to
 * be seen beside it; the second is for smaller photos, and for the rest of a card of which some are found.
 */
const SEARCH_SIDES_PX = [640, 1000] as const;
/** A detected corner is off by up to so many px of the small picture. */
const DETECTED_WITHIN_PX = 2;
/** A side may not be mistaken for that of a white cell within: no further than this share of a marker. */
const MOST_REACH_SHARE = 0.1;
/** Share of a side left out at its ends, where the corner is blurred. */
const CUT_SHARE = 0.06;
/** A side of ink on paper needs no more px than this for a line. */
const LEAST_SIDE_PX = 32;
/** Of a side, this share must be seen: the rest may be covered. */
const LEAST_SUPPORT = 0.5;

/** Markers lie on one card when their corners are within this share of a marker's side of where they should be. */
const LEAST_FIT_SHARE = 0.04;
/** One marker alone may be invented: its pattern comes up once in some thousand dark quadrilaterals. */
const LEAST_MARKERS = 2;
/** How sure a card of two, three or four markers is (common practice, no source). */
const CONFIDENCE = [0, 0, 0.95, 0.98, 1] as const;

/** A corner is not known better than this, px: the tone curve and sharpening shift a dark square's edges outwards. */
const LEAST_POINT_SD_PX = 0.06;

/**
 * Finds the marker card: four squares of DICT_4X4_50, ids 0 to 3. Other ids are passed over, and so is a mirrored card;
 * one that stands on its head is as good. Two or three squares make a reference too.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param lut - Linear light of each code.
 * @returns The card with the corners of its squares, mm from the centre of the square with id 0; undefined when fewer
 * than two squares are seen, when they do not lie as on one card, or when two cards are seen.
 */
export function findMarkerCard(codes: CodeImage, lut: Float32Array): FoundReference | undefined {
  const [coarsePx, finePx] = SEARCH_SIDES_PX;
  const seen = detect(codes, lut, coarsePx, []);
  const ids = new Set(seen.map(({ id }) => id)).size;
  const card = cardOf(ids < MARKER_CENTRES_MM.length ? detect(codes, lut, finePx, seen) : seen);
  return card === undefined ? undefined : describe(card);
}

/**
 * Finds the marker card in a photo that is mirrored, as front cameras keep them.
 * @param codes - Grey codes of the whole photo; not modified.
 * @param lut - Linear light of each code.
 * @returns The card where the photo shows it, its own mm mirrored as well; undefined as for `findMarkerCard`.
 */
export function findMirroredCard(codes: CodeImage, lut: Float32Array): FoundReference | undefined {
  const card = findMarkerCard(codes.step(1, -1), lut);
  if (card === undefined) return undefined;
  const widthPx = codes.shape[1] ?? 0;
  const back = ([x, y]: PointPx): PointPx => [widthPx - x, y];
  return {
    ...card,
    points: card.points.map(({ px, mm: [x, y] }) => ({ px: back(px), mm: [-x, y] })),
    outlinePx: card.outlinePx.map(back),
    mirrored: true,
  };
}

/**
 * A card whose check length was measured: as large as its printer made it.
 * @param card - From `findMarkerCard`; not modified.
 * @param checkLengthMm - What its check length measures, mm.
 * @returns The card with its points where they are on the paper, and the uncertainty of calipers in place of a printer's.
 * The check length runs along the card, so the scale across it is as uncertain as printers differ in their two directions,
 * with the weight that distances across have in the card's size.
 */
export function withCheckLength(card: FoundReference, checkLengthMm: Mm): FoundReference {
  const factor = checkLengthMm / CHECK_LENGTH_MM;
  const points = card.points.map(({ px, mm: [x, y] }) => ({ px, mm: [factor * x, factor * y] as const }));
  const [along, across] = [0, 1].map((axis) => squaresFromMiddle(points.map(({ mm }) => mm[axis] ?? 0)));
  const weight = (across ?? 0) / ((along ?? 0) + (across ?? 0));
  return {
    ...card,
    points,
    sizeRelativeSd: combineSd(CALIPER_SD_MM / checkLengthMm, weight * ACROSS_RELATIVE_SD),
  };
}

function squaresFromMiddle(values: readonly number[]): number {
  const middle = values.reduce((sum, value) => sum + value, 0) / values.length;
  return values.reduce((sum, value) => sum + (value - middle) ** 2, 0);
}

interface SeenMarker {
  readonly id: number;
  readonly cornersPx: CornersPx;
  readonly sides: Sides<EdgeLine>;
}

/** Markers seen before, and others found in a small picture, each with its sides at full resolution. */
function detect(
  codes: CodeImage,
  lut: Float32Array,
  sidePx: Px,
  before: readonly SeenMarker[],
): readonly SeenMarker[] {
  const factor = Math.max(1, Math.round(Math.max(...codes.shape) / sidePx));
  const { grey, widthPx, heightPx } = shrink(codes, factor);
  const seen = [...before];
  // The outline's own outline may be detected as well: the larger one is the square.
  const found = [...detectMarkers(grey, widthPx, heightPx)].sort((one, other) => sideOf(other) - sideOf(one));
  for (const { id, cornersPx } of found) {
    if (id >= MARKER_CENTRES_MM.length) continue;
    const rough = eachCorner(cornersPx, ([x, y]): PointPx => [factor * x, factor * y]);
    if (
      seen.some((other) => other.id === id && distanceOf(other.cornersPx[0], rough[0]) < sideOf(other) / 2)
    ) {
      continue;
    }
    const sides = sharpSides(codes, lut, rough, DETECTED_WITHIN_PX * factor);
    if (sides !== undefined) seen.push({ id, sides, cornersPx: cornersOf(sides) });
  }
  return seen;
}

function sharpSides(
  codes: CodeImage,
  lut: Float32Array,
  rough: CornersPx,
  withinPx: Px,
): Sides<EdgeLine> | undefined {
  const reachPx = Math.min(withinPx, MOST_REACH_SHARE * sideOf({ cornersPx: rough }));
  const [top, right, bottom, left] = fitSides(
    codes,
    lut,
    rough,
    [CUT_SHARE, CUT_SHARE],
    reachPx,
    LEAST_SIDE_PX,
  );
  if (top === undefined || right === undefined || bottom === undefined || left === undefined)
    return undefined;
  const sides = [top, right, bottom, left] as const;
  return sides.every(({ support }) => support >= LEAST_SUPPORT) ? sides : undefined;
}

/** Markers that lie as on one card: one of each id, as many as there are. */
interface Card {
  readonly markers: readonly SeenMarker[];
  readonly mmToPx: Float64Array;
}

function cardOf(seen: readonly SeenMarker[]): Card | undefined {
  const cards = choices(seen)
    .map(cardThrough)
    .filter((card) => card !== undefined);
  const [best] = [...cards].sort((one, other) => other.markers.length - one.markers.length);
  // Where another choice fits as well, or the rest make a card too, there are two, and one at most is in the face's plane.
  const isAnother = (card: Card): boolean =>
    card !== best &&
    (card.markers.length === best?.markers.length ||
      card.markers.every((marker) => best?.markers.includes(marker) === false));
  return cards.some(isAnother) ? undefined : best;
}

/** All choices of at least two markers with different ids. */
function choices(seen: readonly SeenMarker[]): (readonly SeenMarker[])[] {
  let all: (readonly SeenMarker[])[] = [[]];
  for (const id of MARKER_CENTRES_MM.keys()) {
    const ofId = seen.filter((marker) => marker.id === id);
    all = all.flatMap((choice) => [choice, ...ofId.map((marker) => [...choice, marker])]);
  }
  return all.filter(({ length }) => length >= LEAST_MARKERS);
}

function cardThrough(markers: readonly SeenMarker[]): Card | undefined {
  const mm = markers.flatMap(({ id }) => cornersMm(id));
  const px = markers.flatMap(({ cornersPx }) => cornersPx);
  const mmToPx = homographyFromPoints(mm, px);
  const sidePx = median(markers.map(sideOf));
  const fits = mm.every(([x, y], i) => {
    const at = px[i];
    return at !== undefined && distanceOf(applyHomography(mmToPx, x, y), at) < LEAST_FIT_SHARE * sidePx;
  });
  return fits ? { markers, mmToPx } : undefined;
}

function cornersMm(id: number): readonly (readonly [Mm, Mm])[] {
  const [x, y] = MARKER_CENTRES_MM[id] ?? [0, 0];
  const half = MARKER_SIDE_MM / 2;
  return [
    [x - half, y - half],
    [x + half, y - half],
    [x + half, y + half],
    [x - half, y + half],
  ];
}

function describe({ markers, mmToPx }: Card): FoundReference {
  const points = markers.flatMap(({ id, cornersPx }) =>
    cornersMm(id).flatMap((mm, i) => {
      const px = cornersPx[i];
      return px === undefined ? [] : [{ px, mm }];
    }),
  );
  const strays = points.flatMap(({ px, mm }) => {
    const [x, y] = applyHomography(mmToPx, mm[0], mm[1]);
    return [Math.abs(px[0] - x), Math.abs(px[1] - y)];
  });
  const edgeSdPx = median(markers.map(({ sides }) => cornerSdPx(sides)));
  const { left, top, right, bottom } = MARKER_FIELD_MM;
  const outlineMm = [
    [left, top],
    [right, top],
    [right, bottom],
    [left, bottom],
  ] as const;
  return {
    kind: 'marker-card',
    points,
    pointSdPx: Math.max(LEAST_POINT_SD_PX, edgeSdPx, MAD_TO_SD * median(strays)),
    sizeRelativeSd: PRINT_RELATIVE_SD,
    outlinePx: outlineMm.map(([x, y]) => applyHomography(mmToPx, x, y)),
    confidence: CONFIDENCE[markers.length] ?? 0,
  };
}

/** Mean side of a marker, px. */
function sideOf({ cornersPx: [a, b, c, d] }: Pick<Marker, 'cornersPx'>): Px {
  return (distanceOf(a, b) + distanceOf(b, c) + distanceOf(c, d) + distanceOf(d, a)) / 4;
}
