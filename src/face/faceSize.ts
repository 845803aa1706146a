import { combineSd } from '../core/estimate.js';
import { InputError } from '../core/errors.js';
import type { CornersPx } from '../core/image.js';
import { MM_PER_INCH, type Mm, type Px } from '../core/units.js';
import { applyHomography, homographyFromPoints, invertHomography } from '../imaging/homography.js';
import type { PrintReference, PrintSettings } from '../print/settle.js';
import { apparentSize, type PlacedReference } from './apparentSize.js';
import type { CameraBelief } from './camera.js';
import { CLICK_SD_PX } from './corners.js';
import type { SeenReference } from './seenFace.js';
import { UNIT_SQUARE, type CornerShape } from './shape.js';

/** Size of the face in commanded mm, and what its source adds to the uncertainty; all zero when it is told. */
export interface FaceSize {
  readonly state: 'sized';
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  /** Relative standard uncertainties that belong to one of the two alone. */
  readonly widthRelativeSd: number;
  readonly heightRelativeSd: number;
  /** Relative standard uncertainty of a reference that both are taken from: it moves both alike. */
  readonly sharedRelativeSd: number;
  /** The reference that both were taken from, which then cannot be held against them. */
  readonly takenFrom?: PrintReference;
}

/** Nothing tells how large the face is: the references that could were not found in the photo. */
export interface NoSize {
  readonly state: 'no-size';
}
const NO_SIZE: NoSize = { state: 'no-size' };

/** What faceSize needs of the photo. */
export interface SizeClues {
  readonly cornersPx: CornersPx;
  readonly cornerSdPx: Px;
  readonly camera: CameraBelief;
  /** How much the lens may still move the photo's corner along its radius, standard uncertainty. */
  readonly lensShare: number;
  /** References that were found in it. */
  readonly seen: readonly SeenReference[];
  /** Mean length of the top and bottom edges. */
  readonly faceWidthPx: Px;
  /** Of a scan's file. */
  readonly tagDotsPerInch: number | undefined;
  /** Shape by the corners; asked for only when the size is not told in full, because it takes a while. */
  readonly shape: () => CornerShape;
}

/**
 * A reference tells physical mm, and prints are 0.2–0.8 % off the commanded ones (DESIGN 3), mostly smaller but not
 * always, so nothing is corrected.
 */
const PHYSICAL_FOR_COMMANDED_RELATIVE_SD = 0.005;

/** A scanner's resolution tag against its true feed, common practice, no source. */
export const SCAN_RELATIVE_SD = 0.002;

/** A reference with all that a size can be taken from. */
type UsableReference =
  | Extract<PrintReference, { kind: 'two-points' }>
  | { readonly kind: 'dpi'; readonly dotsPerInch: number }
  | { readonly kind: 'seen'; readonly placed: PlacedReference };

/**
 * Size of the face: what the record tells; where it tells one side, the other by the shape of the corners; where it
 * tells none, the size that a reference shows in the plane of the face.
 * @param told - Width and height of the record, mm.
 * @param references - References of the record; the first usable one counts.
 * @param clues - What the photo shows.
 * @returns Size with the uncertainty of its source; or that there is none, where the only reference that could tell it was
 * not found in the photo.
 * @throws {InputError} `record-field` when the size is not told in full and the record names no reference that could
 * tell it, or does not say how far behind the face the one lies that it is to be taken from.
 */
export function faceSize(
  told: Pick<PrintSettings['face'], 'widthMm' | 'heightMm'>,
  references: readonly PrintReference[],
  clues: SizeClues,
): FaceSize | NoSize {
  const { widthMm, heightMm } = told;
  if (widthMm !== undefined && heightMm !== undefined) {
    return { state: 'sized', widthMm, heightMm, ...NOT_TAKEN };
  }
  if (!references.some((one) => isUsable(one, clues))) throw sizeUntold(widthMm);
  // One side tells the scale, so that no reference is asked for its own.
  if (widthMm !== undefined) {
    const { value, sd } = clues.shape().heightPerWidth;
    return { state: 'sized', ...NOT_TAKEN, widthMm, heightMm: value * widthMm, heightRelativeSd: sd / value };
  }
  if (heightMm !== undefined) {
    const { value, sd } = clues.shape().heightPerWidth;
    return { state: 'sized', ...NOT_TAKEN, heightMm, widthMm: heightMm / value, widthRelativeSd: sd / value };
  }
  const usable = firstUsable(references, clues);
  if (usable === undefined) return NO_SIZE;
  const { value: ratio, sd } = clues.shape().heightPerWidth;
  const ratioSd = sd / ratio;
  const seen = widthBy(usable.reference, ratio, clues);
  if (seen === undefined) return NO_SIZE;
  return {
    state: 'sized',
    widthMm: seen.widthMm,
    heightMm: ratio * seen.widthMm,
    widthRelativeSd: seen.ratioShare * ratioSd,
    heightRelativeSd: (1 - seen.ratioShare) * ratioSd,
    sharedRelativeSd: combineSd(seen.relativeSd, PHYSICAL_FOR_COMMANDED_RELATIVE_SD),
    takenFrom: usable.told,
  };
}

/** A told size has no uncertainty of its source. */
const NOT_TAKEN = { widthRelativeSd: 0, heightRelativeSd: 0, sharedRelativeSd: 0 } as const;

function sizeUntold(widthMm: Mm | undefined): InputError {
  const field = widthMm === undefined ? 'face.widthMm' : 'face.heightMm';
  return new InputError(
    'record-field',
    `The print record does not say ${field}, and nothing else in it tells the photo's scale.`,
    "Add the face's size as it was sliced, in mm, or a reference in the photo (--reference, --two-points).",
    field,
  );
}

/** A reference that tells a scale by itself, or once it is found. */
function isUsable(reference: PrintReference, { tagDotsPerInch }: SizeClues): boolean {
  if (reference.kind === 'dpi') return (reference.dotsPerInch ?? tagDotsPerInch) !== undefined;
  return reference.kind === 'two-points' || isThing(reference);
}

/** A reference that must be found in the photo. */
function isThing(reference: PrintReference): reference is Extract<PrintReference, { behindFaceMm: unknown }> {
  return 'behindFaceMm' in reference;
}

function firstUsable(
  references: readonly PrintReference[],
  { tagDotsPerInch, seen }: SizeClues,
): { readonly told: PrintReference; readonly reference: UsableReference } | undefined {
  for (const told of references) {
    if (told.kind === 'two-points') return { told, reference: told };
    const dotsPerInch = told.kind === 'dpi' ? (told.dotsPerInch ?? tagDotsPerInch) : undefined;
    if (dotsPerInch !== undefined) return { told, reference: { kind: 'dpi', dotsPerInch } };
    const found = isThing(told) ? seen.find(({ kind }) => kind === told.kind) : undefined;
    if (found === undefined) continue;
    const { behindFaceMm } = found;
    if (behindFaceMm === undefined) throw depthUntold(found.kind);
    return { told, reference: { kind: 'seen', placed: { ...found, behindFaceMm } } };
  }
  return undefined;
}

/** Thirty millimetres behind the face a card looks a tenth smaller: without its depth it tells no size. */
function depthUntold(kind: SeenReference['kind']): InputError {
  return new InputError(
    'record-field',
    `The size of the face is to be taken from the ${kind}, but the print record does not say how far that lies behind the face.`,
    'Add reference.behindFaceMm (--behind-face), 0 where it is held flush with the face, or tell the size of the face as it was sliced.',
    'reference.behindFaceMm',
  );
}

/** Width by a reference; `ratioShare` is by how many percent it is smaller when height ÷ width is 1 % larger. */
function widthBy(
  reference: UsableReference,
  ratio: number,
  clues: SizeClues,
): { readonly widthMm: Mm; readonly relativeSd: number; readonly ratioShare: number } | undefined {
  const { cornersPx, faceWidthPx } = clues;
  if (reference.kind === 'dpi') {
    const widthMm = (faceWidthPx * MM_PER_INCH) / reference.dotsPerInch;
    return { widthMm, relativeSd: SCAN_RELATIVE_SD, ratioShare: 0 };
  }
  if (reference.kind === 'seen') return widthBySeen(reference.placed, ratio, clues);
  const { aPx, bPx, distanceMm } = reference;
  const pxToSquare = invertHomography(homographyFromPoints(UNIT_SQUARE, cornersPx));
  const [ax, ay] = applyHomography(pxToSquare, ...aPx);
  const [bx, by] = applyHomography(pxToSquare, ...bPx);
  const alongHeight = ratio * (by - ay);
  const inWidths = Math.hypot(bx - ax, alongHeight);
  return {
    widthMm: distanceMm / inWidths,
    relativeSd: (Math.SQRT2 * CLICK_SD_PX) / Math.hypot(bPx[0] - aPx[0], bPx[1] - aPx[1]),
    ratioShare: (alongHeight / inWidths) ** 2,
  };
}

/** Off the face's plane the ratio depends on the size asked for; a few rounds settle it to a share of 1e-6. */
const ROUNDS = 6;
/** For the slope of the width by height ÷ width. */
const STEP = 0.01;

function widthBySeen(
  placed: PlacedReference,
  ratio: number,
  { cornersPx, cornerSdPx, camera, lensShare }: SizeClues,
): { readonly widthMm: Mm; readonly relativeSd: number; readonly ratioShare: number } | undefined {
  const settle = (shape: number) => {
    // Begun with the face as wide as the thing, about.
    let widthMm = 80;
    let relativeSd = 0;
    for (let round = 0; round < ROUNDS; round += 1) {
      const face = { cornersPx, cornerSdPx, widthMm, heightMm: shape * widthMm };
      const size = apparentSize(placed, face, camera, lensShare);
      if (size === undefined) return undefined;
      widthMm *= size.value;
      relativeSd = size.sd / size.value;
    }
    return { widthMm, relativeSd };
  };
  const [middle, higher] = [settle(ratio), settle(ratio * (1 + STEP))];
  if (middle === undefined || higher === undefined) return undefined;
  return { ...middle, ratioShare: (1 - higher.widthMm / middle.widthMm) / STEP };
}
