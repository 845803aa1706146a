import { combineSd, type Estimate } from '../core/estimate.js';
import { MM_PER_INCH, type Px } from '../core/units.js';
import { applyHomography } from '../imaging/homography.js';
import type { PrintReference } from '../print/settle.js';
import { SCAN_RELATIVE_SD, type FaceSize } from './faceSize.js';

/**
 * One reference that tells a scale. *Commanded* scales count the mm that the printer was told, *physical*
 * ones the mm that a ruler shows; they differ by shrinkage and step errors, 0.2–0.8 %.
 */
export interface Scale {
  readonly kind: 'face' | 'two-points' | 'dpi';
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

/**
 * The scales that the print record's references tell for this face. One that the face's size was taken from is left
 * out: its ratio to the face would be 1 by construction.
 * @param references - References of the print record.
 * @param pxToMm - Homography from upright px to face mm (commanded), 3 × 3 row-major.
 * @param faceWidthPx - Mean length of the face's top and bottom edges, px.
 * @param size - Commanded size of the face, and where it comes from.
 * @param pointSdPx - Standard uncertainty of a given point, px, for each coordinate.
 * @param tagDotsPerInch - The file's resolution tag, for a scan whose record does not say its own.
 * @returns One scale for each reference that can be used without searching the photo.
 */
export function referenceScales(
  references: readonly PrintReference[],
  pxToMm: Float64Array,
  faceWidthPx: Px,
  size: FaceSize,
  pointSdPx: Px,
  tagDotsPerInch: number | undefined,
): readonly Scale[] {
  const scales: Scale[] = [];
  const { widthRelativeSd, heightRelativeSd, takenFrom } = size;
  const faceSd = combineSd(
    (Math.SQRT2 * pointSdPx) / faceWidthPx,
    Math.max(widthRelativeSd, heightRelativeSd),
  );
  const ofClass = takenFrom === undefined ? 'physical' : 'commanded';
  for (const reference of references) {
    if (reference === takenFrom) continue;
    if (reference.kind === 'two-points') {
      const [ax, ay] = applyHomography(pxToMm, ...reference.aPx);
      const [bx, by] = applyHomography(pxToMm, ...reference.bPx);
      const commandedMm = Math.hypot(bx - ax, by - ay);
      const lengthPx = Math.hypot(reference.bPx[0] - reference.aPx[0], reference.bPx[1] - reference.aPx[1]);
      const value = reference.distanceMm / commandedMm;
      const clicksSd = (Math.SQRT2 * pointSdPx) / lengthPx;
      scales.push({
        kind: 'two-points',
        class: ofClass,
        perCommanded: { value, sd: value * combineSd(clicksSd, faceSd) },
      });
    }
    const dotsPerInch = reference.kind === 'dpi' ? (reference.dotsPerInch ?? tagDotsPerInch) : undefined;
    if (dotsPerInch !== undefined) {
      const value = (faceWidthPx * MM_PER_INCH) / dotsPerInch / size.widthMm;
      scales.push({
        kind: 'dpi',
        class: ofClass,
        perCommanded: { value, sd: value * combineSd(SCAN_RELATIVE_SD, faceSd) },
      });
    }
  }
  return scales;
}
