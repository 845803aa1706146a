import type { Mm } from '../core/units.js';

/**
 * Height of the tower by its layers.
 * @param tower - Layers of a print record.
 * @returns First layer and all others together, mm above the bed; undefined when `layers` is not told.
 */
export function towerHeightMm(tower: {
  readonly layers?: number | undefined;
  readonly layerHeightMm: Mm;
  readonly firstLayerHeightMm?: Mm | undefined;
}): Mm | undefined {
  const { layers, layerHeightMm: each, firstLayerHeightMm: first = each } = tower;
  return layers === undefined ? undefined : first + (layers - 1) * each;
}
