import type { Mm } from './core/units.js';
import { binaryStl } from './planning/stl.js';
import { towerMesh } from './planning/towerMesh.js';
import type { PrintRecord } from './print/record.js';
import { settlePrint } from './print/settle.js';

/** A test tower to be printed. */
export interface TestTower {
  readonly record: PrintRecord;
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  readonly triangles: number;
  /** The solid as binary STL, mm. */
  readonly stl: Uint8Array;
}

/**
 * Draws the test tower of a print record: as wide and high as its face, with its slots.
 * @param record - The record of either axis; not modified.
 * @returns The tower.
 * @throws {InputError} `record-field` where the record tells no size, or one that cannot be.
 */
export function makeTower(record: PrintRecord): TestTower {
  const { settings } = settlePrint(record);
  const mesh = towerMesh(settings);
  const { widthMm = 0, heightMm = 0 } = settings.face;
  return {
    record,
    widthMm,
    heightMm,
    triangles: mesh.triangles.length,
    stl: binaryStl(mesh, `stillband test tower ${widthMm} x ${widthMm} x ${heightMm} mm`),
  };
}
