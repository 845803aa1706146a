import { InputError } from './core/errors.js';
import type { Mm } from './core/units.js';
import { binaryStl } from './planning/stl.js';
import { towerMesh } from './planning/towerMesh.js';
import type { PrintRecord } from './print/record.js';
import { settlePrint } from './print/settle.js';

/** What a test tower looks like. */
export interface TowerShape {
  readonly widthMm: Mm;
  readonly heightMm: Mm;
  readonly leadingCorner: 'left' | 'right';
  readonly slots: readonly { readonly centreFromLeadingCornerMm: Mm; readonly widthMm: Mm }[];
}

/** A test tower to be printed. */
export interface TestTower extends TowerShape {
  readonly triangles: number;
  /** The solid as binary STL, mm. */
  readonly stl: Uint8Array;
}

/**
 * The tower of a print record: as wide and high as its face, with its slots.
 * @param record - The record of either axis; not modified.
 * @returns Its shape.
 * @throws {InputError} `record-field` where the record tells no size.
 */
export function towerOf(record: PrintRecord): TowerShape {
  const { face, slots } = settlePrint(record).settings;
  const { widthMm, heightMm, leadingCorner } = face;
  if (widthMm === undefined || heightMm === undefined) {
    throw new InputError(
      'record-field',
      'The print record does not tell how wide and how high the face is.',
      'Give both.',
      'face',
    );
  }
  return { widthMm, heightMm, leadingCorner, slots };
}

/**
 * Draws a test tower.
 * @param shape - What it looks like.
 * @returns The tower.
 * @throws {InputError} `record-field` where it would be too small, or has a slot at an end.
 */
export function makeTower(shape: TowerShape): TestTower {
  const mesh = towerMesh(shape);
  const { widthMm, heightMm } = shape;
  return {
    ...shape,
    triangles: mesh.triangles.length,
    stl: binaryStl(mesh, `stillband test tower ${widthMm} x ${widthMm} x ${heightMm} mm`),
  };
}
