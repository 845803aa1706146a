import { combineSd, type Estimate } from '../core/estimate.js';
import { SIZE_CONFLICT } from '../core/outcome.js';
import { MM_PER_INCH, type Px } from '../core/units.js';
import { applyHomography, homographyFromPoints } from '../imaging/homography.js';
import { planeDistance } from '../imaging/pose.js';
import type { PrintReference } from '../print/settle.js';
import { apparentSize, type MeasuringFace, type PlacedReference } from './apparentSize.js';
import type { CameraBelief } from './camera.js';
import { CLICK_SD_PX } from './corners.js';
import { SCAN_RELATIVE_SD, type FaceSize } from './faceSize.js';
import { boxCorners, type SeenReference } from './seenFace.js';

/**
 * One reference that tells a scale. *Commanded* scales count the mm that the printer was told, *physical*
 * ones the mm that a ruler shows; they differ by shrinkage and step errors, 0.2–0.8 %.
 */
export interface Scale {
  readonly kind: PrintReference['kind'];
  /** Where the face's size is taken from a reference, that reference's mm stand for the commanded ones, and so do another's. */
  readonly class: 'commanded' | 'physical';
  /** Millimetres of its class for each commanded millimetre: 1 for the commanded scale itself. */
  readonly perCommanded: Estimate;
}

/**
 * How well a face's own size is known as a ruler: the outline that is printed is not the one commanded,
 * by some tenths of a mm at each side (rounded corners, first layer). DESIGN: u ≥ 0.3 %.
 */
export const COMMANDED_SIZE_RELATIVE_SD = 0.003;

/** What the scales of clicked points and of a scan are made from. */
export interface ScaleClues {
  /** Homography from upright px to face mm (commanded), 3 × 3 row-major. */
  readonly pxToMm: Float64Array;
  /** Mean length of the face's top and bottom edges, px. */
  readonly faceWidthPx: Px;
  readonly cornerSdPx: Px;
  /** The file's resolution tag, for a scan whose record does not say its own. */
  readonly tagDotsPerInch: number | undefined;
}

/**
 * The scales that two points and a scan's resolution tell for this face. One that the face's size was taken from is
 * left out: its ratio to the face would be 1 by construction.
 * @param references - References of the print record.
 * @param size - Commanded size of the face, and where it comes from.
 * @param clues - Where the face is.
 * @returns One scale for each reference that can be used without searching the photo.
 */
export function toldScales(
  references: readonly PrintReference[],
  size: FaceSize,
  { pxToMm, faceWidthPx, cornerSdPx, tagDotsPerInch }: ScaleClues,
): readonly Scale[] {
  const { widthRelativeSd, heightRelativeSd, takenFrom } = size;
  const faceSd = combineSd(
    (Math.SQRT2 * cornerSdPx) / faceWidthPx,
    Math.max(widthRelativeSd, heightRelativeSd),
  );
  return references.flatMap((reference): readonly Scale[] => {
    if (reference === takenFrom) return [];
    const scale = (value: number, ownSd: number): readonly Scale[] => [
      {
        kind: reference.kind,
        class: classOf(size),
        perCommanded: { value, sd: value * combineSd(ownSd, faceSd) },
      },
    ];
    if (reference.kind === 'two-points') {
      const [ax, ay] = applyHomography(pxToMm, ...reference.aPx);
      const [bx, by] = applyHomography(pxToMm, ...reference.bPx);
      const lengthPx = Math.hypot(reference.bPx[0] - reference.aPx[0], reference.bPx[1] - reference.aPx[1]);
      const clicksSd = (Math.SQRT2 * CLICK_SD_PX) / lengthPx;
      return scale(reference.distanceMm / Math.hypot(bx - ax, by - ay), clicksSd);
    }
    const dotsPerInch = reference.kind === 'dpi' ? (reference.dotsPerInch ?? tagDotsPerInch) : undefined;
    if (dotsPerInch === undefined) return [];
    return scale((faceWidthPx * MM_PER_INCH) / dotsPerInch / size.widthMm, SCAN_RELATIVE_SD);
  });
}

/** What became of a reference that was found in the photo. */
export interface UsedReference extends SeenReference {
  /**
   * - `scale`: it tells the size of the print.
   * - `size`: the size of the face was taken from it.
   * - `off-plane`: it is as large as if it lay elsewhere than in the plane of the face, and nothing is told of where.
   * - `unsure`: it tells the scale to no better than 1 %.
   */
  readonly use: 'scale' | 'size' | 'off-plane' | 'unsure';
  /** How far behind the face it would have to lie to be as large as it is; absent where that tells nothing. */
  readonly seemsBehindMm?: Estimate;
}

/** A scale less certain than this is none (DESIGN 10: 1 % off the plane). */
const MOST_RELATIVE_SD = 0.01;

/**
 * The scales that cards, rulers and markers tell.
 * @param references - The references that were found; positions free of the lens's distortion.
 * @param face - The face.
 * @param size - Its size, and where that comes from.
 * @param camera - What may be believed of the camera.
 * @param lensShare - How much the lens may still move the photo's corner along its radius, standard uncertainty.
 * @returns What became of each, and the scales of those that tell one.
 */
export function seenScales(
  references: readonly SeenReference[],
  face: MeasuringFace,
  size: FaceSize,
  camera: CameraBelief,
  lensShare: number,
): { readonly scales: readonly Scale[]; readonly used: readonly UsedReference[] } {
  const scales: Scale[] = [];
  const used = references.map((reference): UsedReference => {
    if (reference.kind === size.takenFrom?.kind) return { ...reference, use: 'size' };
    const placed = { ...reference, behindFaceMm: reference.behindFaceMm ?? 0 };
    const ratio = withDepth(apparentSize(placed, face, camera, lensShare), reference, face, camera);
    if (ratio === undefined || ratio.sd > MOST_RELATIVE_SD * ratio.value) {
      return { ...reference, use: 'unsure' };
    }
    const limit = Math.max(SIZE_CONFLICT, (3 * ratio.sd) / ratio.value);
    const seemsBehindMm = seemsBehind(placed, ratio, face, camera);
    if (reference.behindFaceMm === undefined && Math.abs(ratio.value - 1) > limit) {
      return { ...reference, use: 'off-plane', seemsBehindMm };
    }
    scales.push({ kind: reference.kind, class: classOf(size), perCommanded: ratio });
    return { ...reference, use: 'scale', seemsBehindMm };
  });
  return { scales, used };
}

/** Where the face's size is a physical one, so is what is held against it. */
function classOf({ takenFrom }: FaceSize): Scale['class'] {
  return takenFrom === undefined ? 'physical' : 'commanded';
}

/** A reference that is held flush lies within so much of the plane of the face (common practice, no source). */
const FLUSH_SD_MM = 1.5;

/** Where nothing is told of its depth, a reference is taken as flush, as well as that can be held. */
function withDepth(
  ratio: Estimate | undefined,
  { behindFaceMm }: SeenReference,
  { cornersPx, widthMm, heightMm }: MeasuringFace,
  { focals, centrePx }: CameraBelief,
): Estimate | undefined {
  const focalPx = focals[0]?.focalPx;
  if (ratio === undefined || behindFaceMm !== undefined || focalPx === undefined) return ratio;
  const plane = homographyFromPoints(boxCorners(widthMm, heightMm), cornersPx);
  const depthSd = FLUSH_SD_MM / planeDistance(plane, focalPx, centrePx);
  return { value: ratio.value, sd: ratio.value * combineSd(ratio.sd / ratio.value, depthSd) };
}

/** In parallel planes sizes fall with the distance along the normal. */
function seemsBehind(
  { behindFaceMm }: PlacedReference,
  ratio: Estimate,
  { cornersPx, widthMm, heightMm }: MeasuringFace,
  { focals, centrePx }: CameraBelief,
): Estimate {
  const plane = homographyFromPoints(boxCorners(widthMm, heightMm), cornersPx);
  const at = focals.map(({ focalPx, weight }) => {
    const distanceMm = planeDistance(plane, focalPx, centrePx) + behindFaceMm;
    return { weight, distanceMm, behindMm: behindFaceMm + distanceMm * (ratio.value - 1) };
  });
  const value = at.reduce((sum, { weight, behindMm }) => sum + weight * behindMm, 0);
  const distanceMm = at.reduce((sum, one) => sum + one.weight * one.distanceMm, 0);
  const spread = at.reduce((sum, { weight, behindMm }) => sum + weight * (behindMm - value) ** 2, 0);
  return {
    value,
    sd: combineSd(Math.sqrt(spread), distanceMm * combineSd(ratio.sd, COMMANDED_SIZE_RELATIVE_SD)),
  };
}
