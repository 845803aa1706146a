import { combineSd, type Estimate } from '../core/estimate.js';
import { MM_PER_INCH, type Mm, type Px } from '../core/units.js';
import { applyHomography } from '../imaging/homography.js';
import type { PrintReference } from '../print/settle.js';

/**
 * One reference that tells a scale. *Commanded* scales count the mm that the printer was told, *physical*
 * ones the mm that a ruler shows; they differ by shrinkage and step errors, 0.2–0.8 %.
 */
export interface Scale {
  readonly kind: 'face' | 'two-points' | 'dpi';
  readonly class: 'commanded' | 'physical';
  /** Millimetres of its class for each commanded millimetre: 1 for the commanded scale itself. */
  readonly perCommanded: Estimate;
}

/**
 * How well a face's own size is known as a ruler: the outline that is printed is not the one commanded,
 * by some tenths of a mm at each side (rounded corners, first layer). DESIGN: u ≥ 0.3 %.
 */
export const COMMANDED_SIZE_RELATIVE_SD = 0.003;

/** Beyond this difference between physical and commanded, something was mistyped or mismeasured. */
export const SCALE_CONFLICT = 0.015;

/** A scanner's resolution tag against its true feed, common practice, no source. */
const SCAN_RELATIVE_SD = 0.002;

/**
 * The physical scales that the print record's references tell for this face.
 * @param references - References of the print record.
 * @param pxToMm - Homography from upright px to face mm (commanded), 3 × 3 row-major.
 * @param faceWidthPx - Mean length of the face's top and bottom edges, px.
 * @param faceWidthMm - Commanded width of the face, mm.
 * @param pointSdPx - Standard uncertainty of a given point, px, for each coordinate.
 * @param tagDotsPerInch - The file's resolution tag, for a scan whose record does not say its own.
 * @returns One scale for each reference that can be used without searching the photo.
 */
export function physicalScales(
  references: readonly PrintReference[],
  pxToMm: Float64Array,
  faceWidthPx: Px,
  faceWidthMm: Mm,
  pointSdPx: Px,
  tagDotsPerInch: number | undefined,
): readonly Scale[] {
  const scales: Scale[] = [];
  const edgeSd = (Math.SQRT2 * pointSdPx) / faceWidthPx;
  for (const reference of references) {
    if (reference.kind === 'two-points') {
      const [ax, ay] = applyHomography(pxToMm, ...reference.aPx);
      const [bx, by] = applyHomography(pxToMm, ...reference.bPx);
      const commandedMm = Math.hypot(bx - ax, by - ay);
      const lengthPx = Math.hypot(reference.bPx[0] - reference.aPx[0], reference.bPx[1] - reference.aPx[1]);
      const value = reference.distanceMm / commandedMm;
      const clicksSd = (Math.SQRT2 * pointSdPx) / lengthPx;
      scales.push({
        kind: 'two-points',
        class: 'physical',
        perCommanded: { value, sd: value * combineSd(clicksSd, edgeSd) },
      });
    }
    const dotsPerInch = reference.kind === 'dpi' ? (reference.dotsPerInch ?? tagDotsPerInch) : undefined;
    if (dotsPerInch !== undefined) {
      const value = (faceWidthPx * MM_PER_INCH) / dotsPerInch / faceWidthMm;
      scales.push({
        kind: 'dpi',
        class: 'physical',
        perCommanded: { value, sd: value * combineSd(SCAN_RELATIVE_SD, edgeSd) },
      });
    }
  }
  return scales;
}

/**
 * Finds scales that contradict each other: further apart than 1.5 % and than three times their joint
 * uncertainty.
 * @param scales - All scales of one face.
 * @returns The relative difference of the first such pair, or undefined when all agree.
 */
export function scaleConflict(scales: readonly Scale[]): number | undefined {
  for (const [i, { perCommanded: a }] of scales.entries()) {
    for (const { perCommanded: b } of scales.slice(i + 1)) {
      const apart = Math.abs(a.value / b.value - 1);
      if (apart > SCALE_CONFLICT && apart > 3 * combineSd(a.sd / a.value, b.sd / b.value)) return apart;
    }
  }
  return undefined;
}
