import { combineSd, type Estimate } from '../core/estimate.js';
import { SIZE_CONFLICT } from '../core/outcome.js';
import type { Px } from '../core/units.js';
import type { PrintSettings } from '../print/settle.js';
import type { LayerLines } from './findLayers.js';
import type { Face } from './rectifyFace.js';
import type { Scale } from './scales.js';

/** Layer lines that were counted on the face. */
export interface CountedLayers {
  /** Distance of neighbouring lines by the size of the face, mm. */
  readonly pitchMm: Estimate;
  readonly pxPerLayer: Px;
  /** The heights are counted in them. */
  readonly used: boolean;
  /** Amplitude of the lines ÷ brightness, as blurred as the photo is. */
  readonly contrast: number;
}

/** The axis that lifts the print is a screw: its own scale is known to this (common practice, no source). */
const LIFT_RELATIVE_SD = 0.0005;

/**
 * Takes the layer lines of a face as its vertical scale: between the lower and the upper edge lie as many layers as
 * are counted, whatever the edges say. Both edges are as far off as each other, so that the middle of the face stays
 * where it is. Lines that contradict the face's height are a scale that contradicts another one.
 * @param face - The flattened face.
 * @param layers - Its layer lines.
 * @param settings - The layer height told.
 * @returns The face with its heights by the layers, and what was counted.
 */
export function countLayers(
  face: Face,
  { pitchMm, pxPerLayer, contrast }: LayerLines,
  { layerHeightMm }: Pick<PrintSettings, 'layerHeightMm'>,
): { readonly face: Face; readonly layerLines: CountedLayers } {
  const ratio = layerHeightMm / pitchMm.value;
  const countedSd = combineSd(pitchMm.sd / pitchMm.value, LIFT_RELATIVE_SD);
  const scale: Scale = {
    kind: 'layers',
    class: 'commanded',
    perCommanded: { value: ratio, sd: ratio * combineSd(countedSd, face.heightRelativeSd) },
  };
  const scales = [...face.scales, scale];
  const used = Math.abs(ratio - 1) <= SIZE_CONFLICT;
  if (!used) return { face: { ...face, scales }, layerLines: { pitchMm, pxPerLayer, used, contrast } };
  const heightMm = ratio * face.heightMm;
  const offMm = heightMm - face.heightMm;
  // Where the two edges together are further off than they should be, each may be (Birge's ratio).
  const strain = Math.max(1, Math.abs(offMm) / (Math.SQRT2 * face.bottomSdMm));
  return {
    face: {
      ...face,
      scales,
      heightMm,
      bottomMm: face.bottomMm - offMm / 2,
      heightRelativeSd: countedSd,
      bottomSdMm: (strain * face.bottomSdMm) / Math.SQRT2,
      // A mm of height is so much less of the picture, everywhere.
      mmToPx: face.mmToPx.map((value, i) => (i % 3 === 1 ? value / ratio : value)),
      pxPerMm: { ...face.pxPerMm, alongHeight: face.pxPerMm.alongHeight / ratio },
      imagePxPerMm: { ...face.imagePxPerMm, alongHeight: face.imagePxPerMm.alongHeight / ratio },
    },
    layerLines: { pitchMm, pxPerLayer, used, contrast },
  };
}
