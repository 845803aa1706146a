import type { Random } from '../random.js';
import { project, type Camera, type Pixel } from './camera.js';
import { plain } from './materials.js';
import { noiseTile } from './noiseTile.js';
import { boxSolid, piece, type Thing } from './objects.js';
import { drawLight } from './placing.js';
import type { Material, Rgb } from './surface.js';
import { drawRoom } from './surroundings.js';
import { isInPicture } from './sight.js';
import type { Sight } from './takePhoto.js';
import { inFrame, uprightFrame, type Vector } from './vector.js';
import { drawView, type View } from './view.js';

/** A photo that is shown by something: a screen or a sheet of paper. */
export interface ShownPhoto {
  readonly sight: Sight;
  readonly thing: Thing;
  /** Where a px of the shown photo comes out in the photo of it. */
  readonly see: (px: Pixel) => Pixel;
}

/** Linear light of 8-bit sRGB codes, IEC 61966-2-1. */
const LIGHT = Float32Array.from({ length: 256 }, (_, code) => {
  const value = code / 255;
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
});

/**
 * Shows a photo on a screen or as a print, and puts a camera in front of it.
 * @param random - Where chance comes from.
 * @param seed - Of textures.
 * @param codes - The photo, red, green, blue for each pixel.
 * @param sidesPx - Its sides.
 * @param mustBeSeen - What of it must come out in the picture, px.
 * @throws {Error} When in hundreds of tries it does not.
 */
export function showPhoto(
  random: Random,
  seed: number,
  codes: Uint8Array,
  sidesPx: Pixel,
  mustBeSeen: readonly Pixel[],
): ShownPhoto {
  const { even, chance } = random;
  const isScreen = chance(0.6);
  const longMm = even(100, 250);
  const mmPerPx = longMm / Math.max(...sidesPx);
  const [w, h] = [sidesPx[0] * mmPerPx, sidesPx[1] * mmPerPx];
  const border = isScreen ? even(3, 12) : even(0, 8);
  const frame = uprightFrame([-w / 2, border, 0]);
  const pitchMm = isScreen ? even(0.06, 0.16) : undefined;
  const material = photoMaterial(codes, sidesPx, mmPerPx, pitchMm, even(0.05, 0.3));
  const rim: Rgb = isScreen ? [0.02, 0.02, 0.022] : [0.8, 0.8, 0.8];
  const tile = noiseTile(seed + 3, 0.3, 4, 1);
  const look = plain(rim, 0.01, tile);
  const outer = { ...frame, originMm: inFrame(frame, [-border, -border, -0.05]) };
  const thing: Thing = {
    surfaces: [
      piece(frame, [0, 0, 0], 'x', 'y', [w, h], material, isScreen ? { share: even(0.8, 1.4) } : 'lamp'),
      piece(outer, [0, 0, 0], 'x', 'y', [w + 2 * border, h + 2 * border], look),
    ],
    solids: [boxSolid(outer, [w + 2 * border, h + 2 * border, isScreen ? 8 : 0.3])],
  };
  const middleMm: Vector = [0, border + h / 2, 0];
  const place = (px: Pixel) => inFrame(frame, [px[0] * mmPerPx, h - px[1] * mmPerPx, 0]);
  const view = viewOf(random, middleMm, w, mustBeSeen.map(place));
  const value = even(0.1, 0.6);
  return {
    sight: {
      view,
      light: drawLight(random, middleMm),
      room: drawRoom(random, [value, value, value], -even(60, 300), view.camera.positionMm[2] + 200),
      middleMm,
      brightest: isScreen ? 1 : 0.8,
    },
    thing,
    see: (px) => seenOn(view.camera, place(px)),
  };
}

const TRIES = 300;

/** Often so near that nothing but the shown photo can be seen. */
function viewOf(random: Random, middleMm: Vector, widthMm: number, points: readonly Vector[]): View {
  const { even } = random;
  for (let attempt = 0; attempt < TRIES; attempt += 1) {
    const away = even(0.35, 0.7) + 0.005 * attempt;
    const view = drawView(random, middleMm, widthMm, away, [even(-0.03, 0.03), even(-0.03, 0.03)]);
    if (points.every((point) => isInPicture(view.camera, point, 0.015))) return view;
  }
  throw new Error('A shown photo does not fit into its picture.');
}

/**
 * Where a point comes out that is known to be in front of the camera.
 * @param camera - The camera.
 * @param point - The point.
 * @throws {RangeError} When it is not.
 */
export function seenOn(camera: Camera, point: Vector): Pixel {
  const pixel = project(camera, point);
  if (pixel === undefined)
    throw new RangeError(`Expected a point in front of the camera but received ${point.join(', ')}.`);
  return pixel;
}

/** The photo, bilinear; a screen shows it by stripes of red, green and blue with dark lines between its rows. */
function photoMaterial(
  codes: Uint8Array,
  [width, height]: Pixel,
  mmPerPx: number,
  pitchMm: number | undefined,
  contrast: number,
): Material {
  return {
    rays: 4,
    colour: (u, v, _region, _footprintMm, out) => {
      const x = Math.max(0, Math.min(width - 1.001, u / mmPerPx - 0.5));
      const y = Math.max(0, Math.min(height - 1.001, height - v / mmPerPx - 0.5));
      const [column, row] = [Math.floor(x), Math.floor(y)];
      const [a, b] = [x - column, y - row];
      const i = 3 * (row * width + column);
      const below = i + 3 * width;
      const rows = pitchMm === undefined ? 1 : 1 + contrast * Math.cos((2 * Math.PI * v) / pitchMm);
      for (let c = 0; c < 3; c += 1) {
        const light =
          (1 - b) * ((1 - a) * LIGHT[codes[i + c]!]! + a * LIGHT[codes[i + 3 + c]!]!) +
          b * ((1 - a) * LIGHT[codes[below + c]!]! + a * LIGHT[codes[below + 3 + c]!]!);
        const stripes =
          pitchMm === undefined ? 1 : 1 + 2 * contrast * Math.cos(2 * Math.PI * (u / pitchMm - c / 3));
        out[c] = light * rows * stripes;
      }
    },
  };
}
