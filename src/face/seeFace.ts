import { once } from '../core/once.js';
import { distanceOf } from '../core/vector.js';
import type { CodeImage, ColourImage, CornersPx, PartialCornersPx } from '../core/image.js';
import type { EdgeLine } from '../imaging/edgeLine.js';
import { fitEdgeLine } from '../imaging/fitEdgeLine.js';
import { homographyFromPoints } from '../imaging/homography.js';
import { eightBits, linearLut } from '../imaging/tone.js';
import type { Px } from '../core/units.js';
import type { PhotoInfo } from '../photo/decode.js';
import type { PrintReference, PrintSettings } from '../print/settle.js';
import { believeCamera } from './camera.js';
import { checkCorners, checkInside, CLICK_SD_PX } from './corners.js';
import type { StraightEdge } from './estimateLens.js';
import { findFace, type FaceSearch, type FoundFace } from './findFace.js';
import { findIdCard, mayBeIdCard } from './findIdCard.js';
import { findMarkerCard, findMirroredCard, withCheckLength } from './findMarkerCard.js';
import { findQuads } from './findQuads.js';
import { findRuler } from './findRuler.js';
import { lensOfCard } from './lensOfCard.js';
import { readCardCode } from './readCardCode.js';
import type { FoundReference } from './reference.js';
import {
  boxCorners,
  CORNER_NAMES,
  type MovedCorner,
  type SeenFace,
  type SeenReference,
  type UnseenFace,
} from './seenFace.js';
import { sightOf } from './sight.js';
import { clicksOffPx, whyUnseen } from './whyUnseen.js';

/** Longer side of the shrunk copy, px: the search's allowances are shares of it. */
export const SHRUNK_PX = 1000;

/** A photo as the search sees it. */
export interface PhotoToSearch {
  readonly info: PhotoInfo;
  /** The whole photo, upright grey codes. */
  readonly codes: CodeImage;
  /** A shrunk copy in colour, decoded when it is asked for. */
  readonly shrunk: () => Promise<ColourImage>;
}

/** Edges of a print stray from a straight line by this much, rms: layers and corners (common practice, no source). */
const PRINT_WAVINESS_MM = 0.05;

/**
 * Finds the face and its references in a photo; corners that were told are believed.
 * @param photo - The photo.
 * @param settings - The print's settings: corners, size, layer height and references.
 * @returns Where they are, or why no face is read.
 * @throws {InputError} `corners-outside` or `corners-crossed`.
 */
export async function seeFace(photo: PhotoToSearch, settings: PrintSettings): Promise<SeenFace | UnseenFace> {
  const { info } = photo;
  checkInside(settings.facePx, info.widthPx, info.heightPx);
  const given = allFour(settings.facePx);
  if (given !== undefined) checkCorners(given, info.widthPx, info.heightPx);
  // What is looked for is no fainter than a code of 8 bits.
  const codes = eightBits(photo.codes);
  const lut = linearLut(8);
  const camera = believeCamera(info);
  const longestPx = Math.max(info.widthPx, info.heightPx);
  const told = settings.references.filter(isThing);
  const found = new Map<Thing['kind'], FoundReference>();
  const keep = (kind: Thing['kind'], reference: FoundReference | undefined) => {
    if (reference !== undefined) found.set(kind, reference);
  };
  const isTold = (kind: Thing['kind']) => told.some((one) => one.kind === kind);
  const unturned = isTold('marker-card') ? findMarkerCard(codes, lut) : undefined;
  const cardCode = unturned && readCardCode(codes, lut, unturned);
  const markerCard = unturned ?? (isTold('marker-card') ? findMirroredCard(codes, lut) : undefined);
  keep('marker-card', markerCard && inPrintedSize(markerCard, told));
  if (isTold('ruler')) keep('ruler', findRuler(codes, lut));
  const { heightMm, widthMm } = settings.face;
  const seen = once(async () => {
    const shrunk = await photo.shrunk();
    return { shrunk, sight: sightOf({ shrunk, codes, lut, camera }) };
  });
  const search = async (): Promise<FaceSearch> => ({
    ...(await seen()),
    codes,
    lut,
    camera,
    ...(heightMm === undefined || widthMm === undefined ? {} : { heightPerWidth: heightMm / widthMm }),
    ...(heightMm === undefined ? {} : { layers: heightMm / settings.layerHeightMm }),
    knownCorners: settings.facePx,
    keepOut: [...found.values()].map(({ outlinePx }) => outlinePx),
  });
  const face =
    given === undefined
      ? findFace(await search())
      : { ...givenFace(given, info), edges: edgesNear(given, codes, lut) };
  if (isTold('id1-card')) {
    const corners = 'cornersPx' in face ? face.cornersPx : undefined;
    keep('id1-card', findCard(await search(), planeOf(corners, settings.face)));
  }
  const references = told.flatMap(({ kind, behindFaceMm }): SeenReference[] => {
    const one = found.get(kind);
    return one === undefined ? [] : [{ ...one, behindFaceMm }];
  });
  const things = {
    references,
    missing: told.map(({ kind }) => kind).filter((kind) => !found.has(kind)),
    ...(cardCode === undefined ? {} : { cardCode }),
  };
  const lensClues = references.flatMap((card) => lensOfCard(card, camera) ?? []);
  if ('how' in face) return { ...face, ...things, lensClues };
  if (face.state !== 'found') return { ...things, ...whyUnseen(face, await search()) };
  return {
    how: 'found',
    cornersPx: face.cornersPx,
    cornerSdPx: face.cornerSdPx,
    confidence: face.confidence,
    movedCorners: movedCorners(settings.facePx, face.cornersPx, MOST_MOVED * longestPx),
    edges: face.edges,
    ...things,
    lensClues,
    straightEdges: straightEdges(face, widthMm),
  };
}

/**
 * A click is good to some px of the view it is made in. Shrunk to a screen of 1000 px, four of them are this share of the
 * longer side; a printed corner is rounded by less, 0.3 mm or 6 px of 4000 (common practice, no source).
 */
const MOST_MOVED = 0.004;

/** Corners that were clicked further than that from the ones that were found. */
function movedCorners(clicks: PartialCornersPx, cornersPx: CornersPx, mostPx: Px): readonly MovedCorner[] {
  const offPx = clicksOffPx(clicks, cornersPx);
  return CORNER_NAMES.flatMap((corner, i) => {
    const off = offPx[i] ?? 0;
    return off > mostPx ? [{ corner, offPx: off }] : [];
  });
}

/** Quadrilaterals that are looked at for a card. */
const MOST_CARDS = 20;

function findCard(
  { shrunk, sight, codes, lut, camera }: FaceSearch,
  pxToFace: Float64Array | undefined,
): FoundReference | undefined {
  const quads = findQuads(
    shrunk,
    {
      scale: (codes.shape[1] ?? 0) / shrunk.widthPx,
      most: MOST_CARDS,
      accepts: (quad) => mayBeIdCard(quad, camera),
    },
    sight?.shapes,
  );
  const plane = pxToFace === undefined ? {} : { pxToFace };
  return findIdCard({ codes, lut, shrunk, quads, camera, ...plane });
}

/** The plane of the face, where its corners and its size are known. */
function planeOf(
  corners: CornersPx | undefined,
  { widthMm, heightMm }: PrintSettings['face'],
): Float64Array | undefined {
  if (corners === undefined || widthMm === undefined || heightMm === undefined) return undefined;
  return homographyFromPoints(corners, boxCorners(widthMm, heightMm));
}

/**
 * A face whose four corners were told.
 * @param cornersPx - Top-left, top-right, bottom-right, bottom-left of the tower as printed.
 * @param info - The photo's header.
 * @returns The face without references.
 * @throws {InputError} `corners-outside` or `corners-crossed`.
 * @internal
 */
export function givenFace(cornersPx: CornersPx, info: PhotoInfo): SeenFace {
  checkCorners(cornersPx, info.widthPx, info.heightPx);
  return {
    how: 'given',
    cornersPx,
    cornerSdPx: CLICK_SD_PX,
    movedCorners: [],
    edges: [],
    references: [],
    missing: [],
    lensClues: [],
    straightEdges: [],
  };
}

/** How far from a line between clicked corners its edge may lie, px: three standard uncertainties of a click and some. */
const NEAR_CLICKS_PX = 8;

/** The edges that lie along the lines between corners, for their spread. */
function edgesNear(
  corners: CornersPx,
  codes: CodeImage,
  lut: Float32Array,
): readonly (EdgeLine | undefined)[] {
  return corners.map((from, i) => {
    const to = corners[(i + 1) % corners.length] ?? from;
    return fitEdgeLine(codes, lut, from, to, { reachPx: NEAR_CLICKS_PX });
  });
}

/** The marker card as large as it was printed, where that is told. */
function inPrintedSize(card: FoundReference, told: readonly Thing[]): FoundReference {
  const checkLengthMm = told.find(({ kind }) => kind === 'marker-card')?.checkLengthMm;
  return checkLengthMm === undefined ? card : withCheckLength(card, checkLengthMm);
}

type Thing = Extract<PrintReference, { readonly behindFaceMm: unknown }>;

function isThing(reference: PrintReference): reference is Thing {
  return 'behindFaceMm' in reference;
}

function allFour([a, b, c, d]: PartialCornersPx): CornersPx | undefined {
  return a && b && c && d ? [a, b, c, d] : undefined;
}

/** The edges of the face, for what they say of the lens; as wavy as a print's where its size tells how many px that is. */
function straightEdges(
  { edges, cornersPx: [topLeft, topRight] }: Extract<FoundFace, { state: 'found' }>,
  widthMm: number | undefined,
): readonly StraightEdge[] {
  if (widthMm === undefined) return [];
  const wavinessPx = (PRINT_WAVINESS_MM * distanceOf(topLeft, topRight)) / widthMm;
  return edges.map(({ points }) => ({ points, wavinessPx }));
}
