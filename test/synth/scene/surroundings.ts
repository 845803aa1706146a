import type { Random } from '../random.js';
import type { Window } from './light.js';
import { anyColour, layered, plain, printed, wood, type Block } from './materials.js';
import { noiseTile, type NoiseTile } from './noiseTile.js';
import { book, box, cylinder, type Thing } from './objects.js';
import type { Material, Patch, Rgb } from './surface.js';
import { uprightFrame, type Vector } from './vector.js';

/** Desk and wall with the parts of them that need a fine map of light. */
export interface Room {
  readonly desk: Patch;
  readonly deskWindow: Window;
  readonly wall: Patch;
  readonly wallWindow: Window;
}

const HALF_WIDTH_MM = 2500;
const WALL_HEIGHT_MM = 3000;

/**
 * A desk in front of a wall.
 * @param random - Where chance comes from.
 * @param wallRgb - Colour of the wall.
 * @param wallAtMm - Where the wall is, z.
 * @param frontMm - Where the desk may end, z behind the camera.
 */
export function drawRoom(random: Random, wallRgb: Rgb, wallAtMm: number, frontMm: number): Room {
  const seed = Math.round(random.even(1, 1e6));
  const wallTile = noiseTile(seed + 1, 2.5, 5, 1.3);
  return {
    desk: {
      shape: 'patch',
      originMm: [-HALF_WIDTH_MM, 0, frontMm],
      across: [1, 0, 0],
      up: [0, 0, -1],
      widthMm: 2 * HALF_WIDTH_MM,
      heightMm: frontMm - wallAtMm,
      material: deskMaterial(random, seed),
      background: true,
      light: 'lamp',
    },
    deskWindow: {
      fromU: HALF_WIDTH_MM - 350,
      toU: HALF_WIDTH_MM + 350,
      fromV: Math.max(0, frontMm - 180),
      toV: frontMm - wallAtMm,
    },
    wall: {
      shape: 'patch',
      originMm: [-HALF_WIDTH_MM, 0, wallAtMm],
      across: [1, 0, 0],
      up: [0, 1, 0],
      widthMm: 2 * HALF_WIDTH_MM,
      heightMm: WALL_HEIGHT_MM,
      material: plain(wallRgb, random.even(0.005, 0.03), wallTile),
      background: true,
      light: 'lamp',
    },
    wallWindow: { fromU: HALF_WIDTH_MM - 500, toU: HALF_WIDTH_MM + 500, fromV: 0, toV: 450 },
  };
}

function deskMaterial(random: Random, seed: number): Material {
  const { even, chance } = random;
  const kind = even(0, 1);
  if (kind < 0.55) {
    const bright = even(0.12, 0.5);
    const warm: Rgb = [bright, bright * even(0.6, 0.85), bright * even(0.35, 0.65)];
    const share = even(0.5, 0.85);
    const dark: Rgb = [warm[0] * share, warm[1] * share, warm[2] * share];
    return wood(
      dark,
      warm,
      even(-0.15, 0.15) + (chance(0.5) ? Math.PI / 2 : 0),
      noiseTile(seed, 0.8, 6, 1.3),
    );
  }
  const value = even(0.05, 0.6);
  const rgb: Rgb = chance(0.5) ? [value, value, value] : [value, value * even(0.8, 1), value * even(0.7, 1)];
  return plain(rgb, kind < 0.85 ? even(0.05, 0.25) : 0.01, noiseTile(seed, even(0.2, 0.6), 3, 0.8));
}

/**
 * A thing that lies about.
 * @param random - Where chance comes from.
 * @param footMm - Where, about the middle of its bottom.
 * @param largestMm - About its largest size.
 * @param tile - Noise of its surface.
 */
export function drawClutter(random: Random, footMm: Vector, largestMm: number, tile: NoiseTile): Thing {
  const { even, chance } = random;
  const size = () => largestMm * even(0.25, 1);
  const look = plain(anyColour(random), even(0, 0.04), tile);
  const kind = even(0, 1);
  if (kind < 0.3) return cylinder(footMm, even(0.15, 0.4) * largestMm, size(), look);
  const yaw = chance(0.4) ? 0 : even(-0.6, 0.6);
  const [w, d] = [size(), size()];
  const frame = uprightFrame([footMm[0] - w / 2, footMm[1], footMm[2] + d / 2], yaw);
  if (kind < 0.5) {
    const [lineMm, height] = [even(0.12, 0.35), even(8, 40)];
    const pages = layered(
      [0.75, 0.73, 0.66],
      lineMm,
      Math.ceil(height / lineMm),
      0.25,
      0.06,
      Math.round(even(1, 1e6)),
    );
    return book(frame, [Math.max(w, 60), height, Math.max(d, 40)], look, pages);
  }
  return box(frame, [w, size(), d], { front: look, sides: look, top: look });
}

/**
 * A smooth box that is no tower: cardboard or lacquered, plain or with a label.
 * @param random - Where chance comes from.
 * @param sizesMm - Width, height, depth.
 * @param footMm - Its lower left corner at the front.
 * @param rgb - Its colour.
 * @param tile - Noise of its surface.
 */
export function smoothBox(random: Random, sizesMm: Vector, footMm: Vector, rgb: Rgb, tile: NoiseTile): Thing {
  const { even, chance } = random;
  const [w, h] = sizesMm;
  const side = plain(rgb, even(0, 0.05), tile);
  const blocks: Block[] = [];
  if (chance(0.5)) {
    const ink = anyColour(random);
    const [left, bottom] = [even(0.05, 0.3) * w, even(0.1, 0.5) * h];
    blocks.push({ left, bottom, right: w * even(0.6, 0.95), top: bottom + h * even(0.1, 0.4), rgb: ink });
    for (let i = 0; i < 3; i += 1) {
      const y = bottom + 2 + 3 * i;
      if (chance(0.6))
        blocks.push({ left: left + 4, right: w * 0.5, bottom: y, top: y + 1, rgb: anyColour(random) });
    }
  }
  return box(uprightFrame(footMm), sizesMm, {
    front: printed(rgb, blocks, even(0, 0.04), tile),
    sides: side,
    top: side,
  });
}
