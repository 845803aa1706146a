/**
 * Draws docs/advice: one tower, photographed well and in the ways in which photos go wrong, for "Taking the photo" in the
 * README. The pictures are small but whole photos: `stillband check` and `measure` say of them what the README shows
 * beside them, which test/whole/photoAdvice.test.ts holds to be true.
 *
 *   npx tsx scripts/makePhotoAdvice.ts
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { lookAt } from '../test/synth/scene/camera.js';
import type { Scene } from '../test/synth/scene/compose.js';
import { drawScene } from '../test/synth/scene/drawScene.js';
import { plus, type Vector } from '../test/synth/scene/vector.js';
import { changedScene, writeJson } from './drawnPhotos.js';

const TARGET = fileURLToPath(new URL('../docs/advice/', import.meta.url));
/** A scene with a marker card beside its tower, as scripts/makeLampPhotos.ts has. */
const SEED = 19;
const SIDES_PX = [2560, 1920] as const;
/** Of a phone that is set to twice its usual view, mm on film (common practice, no source); the tag's convention is that of the diagonal. */
const FOCAL_MM = 52;
const QUALITY = 72;
/** The card stands upright, a few mm beside the tower: its lower right corner from the middle of the face. */
const CARD_RIGHT_MM = 104;
/** The camera stands nearly in front of the face and is turned to what lies between face and card. */
const CAMERA_MM = [12, 10] as const;
const AIM_MM = 33;

const RECIPE = {
  naturalHz: 36,
  dampingRatio: 0.05,
  speedMmPerS: 110,
  accelerationMmPerS2: 6000,
  cornerSpeedMmPerS: 7,
  ladder: { fromHz: 20, toHz: 60, dampingRatio: 0.1 },
  wallShaped: true,
  gain: 0.25,
  flaws: { bulge: 0.04 },
};

interface Shot {
  /** From the middle of the face: right, up, towards the camera. */
  readonly lampMm: Vector;
  readonly distanceMm: number;
  /** What the camera is turned to, above the middle of the face. */
  readonly aimUpMm: number;
  readonly cardBehindMm: number;
  /** Blur of the picture, px (standard deviation). */
  readonly blurPx: number;
}

const GOOD: Shot = { lampMm: [-520, 60, 230], distanceMm: 270, aimUpMm: 14, cardBehindMm: 0, blurPx: 0 };

const SHOTS: Readonly<Record<string, Shot>> = {
  good: GOOD,
  'too-far': { ...GOOD, distanceMm: 760, aimUpMm: 75 },
  blurred: { ...GOOD, blurPx: 12 },
  'light-from-front': { ...GOOD, lampMm: [-110, 60, 620] },
  'card-behind': { ...GOOD, cardBehindMm: 9 },
};

/** The scene as it is photographed. */
function taken(scene: Scene, shot: Shot): Scene {
  const { middleMm, reference } = scene;
  const lit = changedScene(scene, { rgb: [0.5, 0.36, 0.24], recipe: RECIPE, lampMm: shot.lampMm });
  const positionMm = plus(middleMm, [...CAMERA_MM, shot.distanceMm]);
  const target = plus(middleMm, [AIM_MM, shot.aimUpMm, 0]);
  const focalPx = (FOCAL_MM * Math.hypot(...SIDES_PX)) / Math.hypot(36, 24);
  const camera = { ...lookAt(positionMm, target, 0.01), sidesPx: SIDES_PX, focalPx, k1: 0 };
  return {
    ...lit,
    view: { ...scene.view, camera, tagMm: FOCAL_MM, distanceMm: shot.distanceMm },
    things: [],
    reference: reference && {
      ...reference,
      frame: {
        originMm: [CARD_RIGHT_MM, 0, -shot.cardBehindMm],
        x: [0, 1, 0],
        y: [-1, 0, 0],
        z: [0, 0, 1],
      },
      behindMm: shot.cardBehindMm,
    },
  };
}

mkdirSync(TARGET, { recursive: true });
for (const [name, shot] of Object.entries(SHOTS)) {
  const { jpeg, record } = await drawScene(SEED, 'plain', (one) => taken(one, shot));
  const picture = sharp(jpeg).autoOrient().keepExif();
  const bytes = await (shot.blurPx > 0 ? picture.blur(shot.blurPx) : picture)
    .jpeg({ quality: QUALITY, mozjpeg: true })
    .toBuffer();
  writeFileSync(`${TARGET}${name}.jpg`, bytes);
  console.log(name, bytes.length);
  if (shot === GOOD) {
    const reference = { kind: 'marker-card', behindFaceMm: 0 };
    await writeJson(`${TARGET}print.json`, { ...record, title: 'how to take the photo', reference });
  }
}
