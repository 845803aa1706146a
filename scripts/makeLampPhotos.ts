/**
 * Remakes testimages/lamps: three drawn photographs of one print, the camera still and the lamp moved between them,
 * with one record and their truth.
 *
 *   npx tsx scripts/makeLampPhotos.ts
 *
 * scripts/makeTestimages.ts lists the files afterwards.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { drawScene } from '../test/synth/scene/drawScene.js';
import { changedScene, writeJson } from './drawnPhotos.js';

const TARGET = fileURLToPath(new URL('../testimages/lamps/', import.meta.url));
/** A scene with its marker card beside a face that is seen nearly from the front. */
const SEED = 19;
const AXIS = { naturalHz: 37, dampingRatio: 0.07 };
/** From the middle of the face: left, right, and left from higher up and further away. */
const LAMPS_MM = {
  left: [-520, 80, 260],
  right: [520, 100, 280],
  far: [-700, 220, 420],
} as const;

const RECIPE = {
  ...AXIS,
  speedMmPerS: 105,
  accelerationMmPerS2: 5200,
  cornerSpeedMmPerS: 7,
  ladder: { fromHz: 18, toHz: 62, dampingRatio: 0.1 },
  wallShaped: true,
  gain: 0.35,
  // Grease from a hand, and where a label was.
  flaws: {
    bulge: 0.08,
    stains: [
      { xMm: 30, heightMm: 34, radiusMm: 6, depth: 0.3 },
      { xMm: 46, heightMm: 22, radiusMm: 5, depth: -0.2 },
    ],
  },
};

let shot = 0;
for (const [name, lampMm] of Object.entries(LAMPS_MM)) {
  const { jpeg, record, truth } = await drawScene(
    SEED,
    'plain',
    (scene) => changedScene(scene, { rgb: [0.55, 0.42, 0.3], recipe: RECIPE, lampMm }),
    shot,
  );
  writeFileSync(`${TARGET}${name}.jpg`, jpeg);
  await writeJson(`${TARGET}${name}.truth.json`, { upright_size_px: truth.sidesPx, ...truth });
  if (shot === 0)
    await writeJson(`${TARGET}lamps.print.json`, { ...record, title: 'one tower, the lamp moved' });
  shot += 1;
}
