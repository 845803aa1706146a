import type { Mm } from '../core/units.js';
import { towerHeightMm } from '../print/towerHeight.js';
import type { PrintSettings } from '../print/settle.js';
import type { FaceGeometry } from './rectifyFace.js';

/** Share of the tower's height that may be missing before the face counts as ending low. */
const ENDS_LOW = 0.03;

/**
 * How much of the tower lies above a face that is told to begin at the bed: either the face begins higher, or one
 * of the lengths is wrong.
 * @param settings - The print's settings: layers and their height.
 * @param geometry - The face.
 * @returns The missing height, mm; 0 where it is below 3 % of the tower or a layer, or where nothing tells it.
 */
export function untoldGapMm(
  settings: Pick<PrintSettings, 'layers' | 'layerHeightMm' | 'firstLayerHeightMm' | 'face'>,
  { heightMm }: Pick<FaceGeometry, 'heightMm'>,
): Mm {
  const towerMm = towerHeightMm(settings);
  if (towerMm === undefined || settings.face.bottomMm > 0) return 0;
  const gapMm = towerMm - heightMm;
  return gapMm > Math.max(ENDS_LOW * towerMm, settings.layerHeightMm) ? gapMm : 0;
}
