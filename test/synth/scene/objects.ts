import type { Solid } from './light.js';
import type { Material, Patch, Surface } from './surface.js';
import { inFrame, times, type Frame, type Vector } from './vector.js';

/** Surfaces of a thing with what throws its shadow. */
export interface Thing {
  readonly surfaces: readonly Surface[];
  readonly solids: readonly Solid[];
}

/**
 * A flat piece of a thing.
 * @param frame - Of the thing.
 * @param corner - Where the piece begins in the frame, mm.
 * @param across - Its first direction, in the frame's names.
 * @param up - Its second direction.
 * @param sizeMm - Along both.
 * @param material - What it looks like.
 * @param light - How it is lit.
 */
export function piece(
  frame: Frame,
  corner: Vector,
  across: Direction,
  up: Direction,
  sizeMm: readonly [number, number],
  material: Material,
  light: Patch['light'] = 'lamp',
): Patch {
  return {
    shape: 'patch',
    originMm: inFrame(frame, corner),
    across: directionIn(frame, across),
    up: directionIn(frame, up),
    widthMm: sizeMm[0],
    heightMm: sizeMm[1],
    material,
    light,
  };
}

/** An axis of a frame, or its opposite. */
export type Direction = 'x' | 'y' | 'z' | '-x' | '-y' | '-z';

function directionIn(frame: Frame, direction: Direction): Vector {
  const axis = frame[direction.slice(-1) as 'x' | 'y' | 'z'];
  return direction.startsWith('-') ? times(axis, -1) : axis;
}

/** What the sides of a box look like. */
export interface BoxLook {
  readonly front: Material;
  readonly sides: Material;
  readonly top: Material;
}

/**
 * A box on its bottom.
 * @param frame - Its lower left corner at the front; x to the right, z to the front.
 * @param sizesMm - Width, height, depth.
 * @param look - Its sides.
 */
export function box(frame: Frame, [w, h, d]: Vector, look: BoxLook): Thing {
  return {
    surfaces: [
      piece(frame, [0, 0, 0], 'x', 'y', [w, h], look.front),
      piece(frame, [0, 0, -d], 'z', 'y', [d, h], look.sides),
      piece(frame, [w, 0, 0], '-z', 'y', [d, h], look.sides),
      piece(frame, [w, 0, -d], '-x', 'y', [w, h], look.front),
      piece(frame, [0, h, 0], 'x', '-z', [w, d], look.top),
    ],
    solids: [boxSolid(frame, [w, h, d])],
  };
}

/**
 * What throws the shadow of a box.
 * @param frame - Its lower left corner at the front.
 * @param sizesMm - Width, height, depth.
 */
export function boxSolid(frame: Frame, [w, h, d]: Vector): Solid {
  return { shape: 'box', frame: { ...frame, originMm: inFrame(frame, [0, 0, -d]) }, sizesMm: [w, h, d] };
}

/**
 * A tin or a cup.
 * @param footMm - Middle of its bottom.
 * @param radiusMm - Its radius.
 * @param heightMm - Its height.
 * @param material - What it looks like.
 */
export function cylinder(footMm: Vector, radiusMm: number, heightMm: number, material: Material): Thing {
  const lid: Patch = {
    shape: 'patch',
    originMm: [footMm[0] - radiusMm, footMm[1] + heightMm, footMm[2] + radiusMm],
    across: [1, 0, 0],
    up: [0, 0, -1],
    widthMm: 2 * radiusMm,
    heightMm: 2 * radiusMm,
    inside: (u, v) => (u - radiusMm) ** 2 + (v - radiusMm) ** 2 <= radiusMm ** 2,
    material,
    light: 'lamp',
  };
  return {
    surfaces: [{ shape: 'tube', footMm, radiusMm, heightMm, material, light: 'lamp' }, lid],
    solids: [{ shape: 'cylinder', footMm, radiusMm, heightMm }],
  };
}

/**
 * A book that lies flat: its pages are fine lines, as layers are.
 * @param frame - Its lower left corner at the front.
 * @param sizesMm - Width, height, depth.
 * @param cover - Look of its cover.
 * @param pages - Look of the cut of its pages.
 */
export function book(frame: Frame, [w, h, d]: Vector, cover: Material, pages: Material): Thing {
  const coverMm = Math.min(2.5, h / 5);
  const stands = 3;
  const covers = { front: cover, sides: cover, top: cover };
  const at = (corner: Vector): Frame => ({ ...frame, originMm: inFrame(frame, corner) });
  const parts = [
    box(frame, [w, coverMm, d], covers),
    box(at([stands, coverMm, -stands]), [w - 2 * stands, h - 2 * coverMm, d - 2 * stands], {
      front: pages,
      sides: pages,
      top: pages,
    }),
    box(at([0, h - coverMm, 0]), [w, coverMm, d], covers),
  ];
  return {
    surfaces: parts.flatMap((part) => part.surfaces),
    solids: parts.flatMap((part) => part.solids),
  };
}
