import sharp from 'sharp';
import type { Random } from '../random.js';
import type { Camera, Pixel } from './camera.js';
import { build, compose, type Scene } from './compose.js';
import type { Development } from './develop.js';
import type { SceneKind } from './kinds.js';
import { seenOn, showPhoto } from './shownPhoto.js';
import { faceCorners } from './sight.js';
import { takePhoto } from './takePhoto.js';
import { recordOf, truthOf, type SceneTruth } from './truth.js';
import type { Vector } from './vector.js';
import type { View } from './view.js';

export type { SceneTruth };

/** A photograph, its print record as JSON, and what is true of it. */
export interface DrawnScene {
  readonly jpeg: Buffer;
  readonly record: Readonly<Record<string, unknown>>;
  readonly truth: SceneTruth;
}

/**
 * Draws the photograph of a tower on a desk. The same seed and kind give the same picture.
 * @param seed - Which one, a whole number from 1.
 * @param kind - What it is drawn for.
 * @param change - Changes the scene before it is drawn; the truth tells the changed one. @default nothing
 * @param shot - Of several photos of one scene, which: each has noise of its own. @default 0
 * @returns The photograph as a JPEG file, what its user would tell, and the truth.
 */
export async function drawScene(
  seed: number,
  kind: SceneKind,
  change: (scene: Scene) => Scene = (scene) => scene,
  shot = 0,
): Promise<DrawnScene> {
  const { scene: composed, random } = compose(seed, kind);
  const scene = change(composed);
  const photo =
    kind === 'photo-of-photo'
      ? photoOfPhoto(scene, random, seed)
      : photoOf(scene, random, seed + SHOT * shot);
  const { tagMm, takenAt = TAKEN_AT } = photo.view;
  // Without EXIF there is no orientation; one that is turned by hand was upright when it was written.
  const orientation = tagMm === undefined || kind === 'upside-down' ? 1 : random.pick([1, 1, 1, 6, 8, 3]);
  const quality = Math.round(random.even(78, 96));
  return {
    jpeg: await encode(photo.codes, photo.view.camera.sidesPx, { tagMm, takenAt }, orientation, quality),
    record: recordOf(scene, seed),
    truth: truthOf(scene, seed, { ...photo, orientation }, photo.see),
  };
}

/** When a photo was taken unless its view says otherwise, as EXIF writes it. */
const TAKEN_AT = '2026:03:14 18:02:11';
/** Apart from all seeds of scenes. */
const SHOT = 10_000_019;

interface Photo {
  readonly codes: Uint8Array;
  readonly development: Development;
  readonly view: View;
  readonly see: (point: Vector) => Pixel;
}

function photoOf(scene: Scene, random: Random, seed: number): Photo {
  const { codes, development } = takePhoto(scene, build(scene), random, seed);
  const { camera } = scene.view;
  const [widthPx, heightPx] = camera.sidesPx;
  const flipX = scene.kind === 'mirrored' || scene.kind === 'upside-down';
  const flipY = scene.kind === 'upside-down';
  if (flipX) reverse(codes, widthPx, heightPx, flipY);
  const see = (point: Vector): Pixel => {
    const [x, y] = seenOn(camera, point);
    return [flipX ? widthPx - x : x, flipY ? heightPx - y : y];
  };
  return { codes, development, view: scene.view, see };
}

/** Mirrors the picture, or turns it by 180°, in place. */
function reverse(codes: Uint8Array, widthPx: number, heightPx: number, turn: boolean): void {
  const mirror = (pixels: Uint8Array) => {
    const last = pixels.length / 3 - 1;
    for (let i = 0; i < last - i; i += 1) {
      for (let c = 0; c < 3; c += 1) {
        const kept = pixels[3 * i + c]!;
        pixels[3 * i + c] = pixels[3 * (last - i) + c]!;
        pixels[3 * (last - i) + c] = kept;
      }
    }
  };
  if (turn) mirror(codes);
  else
    for (let row = 0; row < heightPx; row += 1)
      mirror(codes.subarray(3 * row * widthPx, 3 * (row + 1) * widthPx));
}

/** A photo that is shown has this many px at its longer side. */
const SHOWN_PX = 1800;

function photoOfPhoto(scene: Scene, random: Random, seed: number): Photo {
  const camera = shrunk(scene.view.camera, SHOWN_PX);
  const small: Scene = { ...scene, view: { ...scene.view, camera } };
  const { codes: shownCodes } = takePhoto(small, build(small), random, seed);
  const corners = small.towers.flatMap(faceCorners).map((corner) => seenOn(camera, corner));
  const shown = showPhoto(random, seed, shownCodes, camera.sidesPx, corners);
  const { codes, development } = takePhoto(shown.sight, shown.thing, random, seed + 1);
  return { codes, development, view: shown.sight.view, see: (point) => shown.see(seenOn(camera, point)) };
}

function shrunk(camera: Camera, longestPx: number): Camera {
  const [width, height] = camera.sidesPx;
  const factor = longestPx / Math.max(width, height);
  const even = (side: number) => 2 * Math.round((side * factor) / 2);
  return { ...camera, sidesPx: [even(width), even(height)], focalPx: camera.focalPx * factor };
}

/** Clockwise turns from the upright picture to the stored raster (CIPA DC-008; from memory). */
const STORED_TURN: Readonly<Record<number, number>> = { 1: 0, 3: 180, 6: 270, 8: 90 };

async function encode(
  codes: Uint8Array,
  [width, height]: Pixel,
  { tagMm, takenAt }: Required<Pick<View, 'takenAt'>> & Pick<View, 'tagMm'>,
  orientation: number,
  quality: number,
): Promise<Buffer> {
  let image = sharp(codes, { raw: { width, height, channels: 3 } })
    .rotate(STORED_TURN[orientation])
    .jpeg({ quality });
  if (tagMm !== undefined) {
    image = image
      .withExif({ IFD2: { FocalLengthIn35mmFilm: String(tagMm), DateTimeOriginal: takenAt } })
      .withMetadata({ orientation });
  }
  return image.toBuffer();
}
