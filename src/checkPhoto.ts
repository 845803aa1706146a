import { outlookOf, usualHz } from './band/decide.js';
import type { SeenGeometry } from './band/decision.js';
import type { CornersPx, PointPx } from './core/image.js';
import { lookForFace } from './face/lookForFace.js';
import type { ReadFace } from './face/readFace.js';
import type { Face } from './face/rectifyFace.js';
import type { SeenFace, UnseenFace } from './face/seenFace.js';
import { checkArguments } from './measurePhoto.js';
import { openPhoto } from './photo/openPhoto.js';
import { applyOverrides } from './print/overrides.js';
import { checkPrintRecord, PRINT_RECORD_SCHEMA, type PrintRecord } from './print/record.js';
import { settlePrint, type PrintReference, type PrintSettings } from './print/settle.js';
import { withCardRead, type CardRead } from './print/cardRead.js';
import type { PhotoCheck } from './reading/checkSchema.js';
import { spacingMm } from './ripple/measureRipples.js';
import { makeCheck } from './reading/makeCheck.js';
import { VERSION } from './version.js';

/**
 * Longer side of what is looked at: larger photos are halved until they are no larger. A photo of 12 megapixels, whose
 * px are plenty, stays as it is.
 */
const MOST_PX = 5000;

/** What a photo is held against while nothing is told of the print: usual values (common practice, no source). */
const NOTHING_TOLD: PrintRecord = {
  schema: PRINT_RECORD_SCHEMA,
  axis: '?',
  speedMmPerS: 110,
  layerHeightMm: 0.2,
  face: { leadingCorner: 'left' },
  ladder: { kind: 'off' },
  // As they should be held: good enough to guess the face's size by.
  reference: [
    { kind: 'marker-card', behindFaceMm: 0 },
    { kind: 'ruler', behindFaceMm: 0 },
    { kind: 'id1-card', behindFaceMm: 0 },
  ],
};

/** What a check may be told beside the record. */
export interface CheckOptions {
  /** The record was taken from the code of the marker card in this photo, by `readCard`. @default false */
  readonly recordFromCard?: boolean;
  /** What `readCard` found, where the record was told otherwise: a code that is damaged is then told as well. */
  readonly cardRead?: CardRead;
  /** The record is from `partlyTold`: what stands in it beside the face's size may be a guess. @default false */
  readonly guessed?: boolean;
}

/**
 * A record for `checkPhoto` alone, where not all of it is known: the face's width and height are what helps most.
 * @param given - Arguments of flags by option name; what they do not tell is guessed.
 * @returns The record.
 * @throws {InputError} When an argument cannot be used.
 */
export function partlyTold(given: Readonly<Record<string, string>>): PrintRecord {
  return checkPrintRecord(applyOverrides({ ...NOTHING_TOLD }, given));
}

/**
 * Says whether a photo will do, without measuring it: what is found in it, how good it is, and what to change first.
 * @param bytes - The photo: JPEG, PNG, WebP, TIFF, AVIF or HEIC; not modified.
 * @param record - What is known of the print, from `parsePrintRecord`; without it the face's size is taken from a
 * reference, where one is found.
 * @param options - Where the record comes from.
 * @returns The verdict, by the limits of `measurePhoto`.
 * @throws {InputError} When the photo or its corners cannot be used.
 * @throws {TypeError} When the photo is not given as bytes, or the record is none.
 */
export async function checkPhoto(
  bytes: Uint8Array,
  record?: PrintRecord,
  options: CheckOptions = {},
): Promise<PhotoCheck> {
  const told = record ?? NOTHING_TOLD;
  checkArguments(bytes, told);
  const { settings, assumed } = settlePrint(told);
  const opened = await openPhoto(bytes);
  const { photo, factor } = await opened.reduced(MOST_PX);
  const { search: seen, read } = await lookForFace(photo, reducedSettings(settings, factor));
  const search = withCardRead(seen, options.cardRead);
  const geometry = read && enlargedFace(read.face, factor);
  return makeCheck({
    version: VERSION,
    bytes,
    info: opened.info,
    record: told,
    settings,
    assumed,
    recordFromCard: options.recordFromCard ?? false,
    printTold: record !== undefined && options.guessed !== true,
    isReduced: factor > 1,
    search: enlargedSearch(search, factor),
    geometry,
    regions: read && enlargedRegions(read.regions, factor),
    layerLines: read?.layerLines && { ...read.layerLines, pxPerLayer: factor * read.layerLines.pxPerLayer },
    outlook: geometry && outlookOf({ settings, geometry }),
    usualSpacingMm: spacingMm(settings.speedMmPerS.value, usualHz(settings)),
  });
}

const times =
  (factor: number) =>
  (point: PointPx): PointPx => [factor * point[0], factor * point[1]];

/** What was told in px of the whole photo, for a smaller copy of it. */
function reducedSettings(settings: PrintSettings, factor: number): PrintSettings {
  const smaller = times(1 / factor);
  const [a, b, c, d] = settings.facePx.map((corner) => corner && smaller(corner));
  return {
    ...settings,
    facePx: [a, b, c, d],
    references: settings.references.map((one): PrintReference => {
      if (one.kind === 'two-points') return { ...one, aPx: smaller(one.aPx), bPx: smaller(one.bPx) };
      // Without a number it is the file's own, which the smaller copy has already.
      if (one.kind !== 'dpi' || one.dotsPerInch === undefined) return one;
      return { ...one, dotsPerInch: one.dotsPerInch / factor };
    }),
  };
}

function enlargedCorners([a, b, c, d]: CornersPx, factor: number): CornersPx {
  const larger = times(factor);
  return [larger(a), larger(b), larger(c), larger(d)];
}

/** What was found in a smaller copy, in px of the whole photo. */
function enlargedSearch(search: SeenFace | UnseenFace, factor: number): SeenFace | UnseenFace {
  const references = search.references.map((one) => ({
    ...one,
    outlinePx: one.outlinePx.map(times(factor)),
  }));
  if (!('cornersPx' in search)) {
    const guesses = search.guesses.map((one) => ({
      ...one,
      cornersPx: enlargedCorners(one.cornersPx, factor),
    }));
    return { ...search, references, guesses };
  }
  return {
    ...search,
    references,
    cornersPx: enlargedCorners(search.cornersPx, factor),
    cornerSdPx: factor * search.cornerSdPx,
    movedCorners: search.movedCorners.map((one) => ({ ...one, offPx: factor * one.offPx })),
  };
}

function enlargedFace(face: Face, factor: number): SeenGeometry {
  const { pxPerMm, lens } = face;
  return {
    ...face,
    cornersPx: enlargedCorners(face.cornersPx, factor),
    cornerSdPx: factor * face.cornerSdPx,
    pxPerMm: { alongWall: factor * pxPerMm.alongWall, alongHeight: factor * pxPerMm.alongHeight },
    ...(face.blurPx === undefined ? {} : { blurPx: factor * face.blurPx }),
    ...(lens && {
      lens: { ...lens, focalPx: factor * lens.focalPx, centrePx: times(factor)(lens.centrePx) },
    }),
    references: face.references.map((one) => ({ ...one, outlinePx: one.outlinePx.map(times(factor)) })),
  };
}

function enlargedRegions(regions: ReadFace['regions'], factor: number): ReadFace['regions'] {
  const { blurPx, ...others } = regions;
  return blurPx === undefined
    ? others
    : { ...others, blurPx: blurPx.map((row) => row.map((px) => factor * px)) };
}
