import { combineSd, type Estimate } from '../core/estimate.js';
import type { CornersPx, PointPx } from '../core/image.js';
import type { Mm, Px } from '../core/units.js';
import { applyHomography, homographyFromPoints, invertHomography } from '../imaging/homography.js';
import { undistortPoint } from '../imaging/lens.js';
import type { LayerLines } from './findLayers.js';
import { CUBIC_TERMS, surfaceOf } from './followLayers.js';

/**
 * How even layers are by themselves, standard uncertainty over the height of a print: lines may bow otherwise at the
 * top than at the bottom (a bed that is levelled out), and lie otherwise in the middle than at the ends (a screw, and
 * light that moves the darkest place). Common practice, no source; a thin layer is 0.1 mm.
 */
const UNEVEN_MM = { bow: 0.02, spacing: 0.015 } as const;

/** A face in units of half its sides. */
const BOX: readonly PointPx[] = [
  [-1, -1],
  [1, -1],
  [1, 1],
  [-1, 1],
];

/**
 * What layer lines say of a lens: hundreds of straight lines at even distances. A lens bows them one way at the top
 * and the other way at the bottom, and spaces them otherwise in the middle, which corners that are off do not.
 * @param layers - Lines of a face that was flattened by its corners without a lens.
 * @param cornersPx - Those corners in the photo, in the order of the flattened face: its top left, top right, bottom
 * right, bottom left.
 * @param centrePx - Where the lens's axis meets the photo, px.
 * @param focalPx - Focal length, px.
 * @returns k1 of r_d = r (1 + k1 r²) with its standard uncertainty; undefined where the face says nothing.
 */
export function lensFromLayers(
  { lines, pitchMm, count }: LayerLines,
  cornersPx: CornersPx,
  centrePx: PointPx,
  focalPx: Px,
): Estimate | undefined {
  const perK1 = bendBy(cornersPx, centrePx, focalPx, count.value);
  const fitSd = combineSd(lines.count.sd, lines.bottomSd);
  const layersOf = (mm: Mm) => combineSd(mm / pitchMm.value, fitSd);
  const signs = [
    { term: CUBIC_TERMS.bowUpTheFace, sd: layersOf(UNEVEN_MM.bow) },
    { term: CUBIC_TERMS.unevenSpacing, sd: layersOf(UNEVEN_MM.spacing) },
  ].map(({ term, sd }) => ({ seen: (lines.surface[term] ?? 0) / sd, expected: (perK1[term] ?? 0) / sd }));
  const precision = signs.reduce((sum, { expected }) => sum + expected ** 2, 0);
  if (!(precision > 0)) return undefined;
  const value = signs.reduce((sum, { seen, expected }) => sum + seen * expected, 0) / precision;
  // One degree of freedom is left: where bow and spacing contradict each other, less is known (Birge, Phys. Rev. 40, 1932).
  const left = signs.reduce((sum, { seen, expected }) => sum + (seen - value * expected) ** 2, 0);
  return { value, sd: Math.sqrt(Math.max(1, left) / precision) };
}

/** The surface that a small lens would show, in layers for each unit of k1. */
function bendBy(cornersPx: CornersPx, centrePx: PointPx, focalPx: Px, count: number): readonly number[] {
  const SMALL = 1e-4;
  const lens = { k1: SMALL, centrePx, focalPx };
  const without = (point: PointPx) => undistortPoint(lens, point);
  const toPx = homographyFromPoints(BOX, cornersPx);
  const toFace = invertHomography(homographyFromPoints(BOX, cornersPx.map(without)));
  return surfaceOf((u, v) => {
    const [, place] = applyHomography(toFace, ...without(applyHomography(toPx, u, v)));
    return (count * (place - v)) / 2 / SMALL;
  });
}
