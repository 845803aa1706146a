/**
 * Remakes testimages/proof: the drawn photograph of a proof print, its record and its truth.
 *
 *   npx tsx scripts/makeProofPhoto.ts
 *
 * scripts/makeTestimages.ts lists the files afterwards.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { drawScene } from '../test/synth/scene/drawScene.js';
import { changedScene, writeJson } from './drawnPhotos.js';

const TARGET = fileURLToPath(new URL('../testimages/proof/rising-acceleration', import.meta.url));
/** A scene with its marker card beside a face that is seen nearly from the front. */
const SEED = 19;
const MM_PER_S2 = [1500, 2500, 3500, 5000, 6500, 8000, 10_000, 12_000];
const STEP_MM = 8;
/** The shaper is set a little too high, so that a rest of ringing shows where the corner is sharpest. */
const AXIS = { naturalHz: 41, dampingRatio: 0.06 };
const SET_HZ = 41.5;
const SHAPER_DAMPING = 0.08;
/** From the leading corner's side, low, 64° from straight in front. */
const LAMP_MM = [-560, 60, 270] as const;

const bands = MM_PER_S2.map((mmPerS2, i) => ({ fromMm: STEP_MM * i, toMm: STEP_MM * (i + 1), mmPerS2 }));

const RECIPE = {
  ...AXIS,
  speedMmPerS: 110,
  cornerSpeedMmPerS: 6,
  accelerations: bands,
  ladder: { fromHz: SET_HZ, toHz: SET_HZ, dampingRatio: SHAPER_DAMPING },
  wallShaped: true,
  gain: 0.7,
  flaws: { bulge: 0.08 },
};

const { jpeg, record, truth } = await drawScene(SEED, 'plain', (scene) =>
  changedScene(scene, { rgb: [0.3, 0.46, 0.5], recipe: RECIPE, lampMm: LAMP_MM }),
);
const print: Record<string, unknown> = {
  ...record,
  title: 'proof after the ladder',
  ladder: { kind: 'fixed', hz: SET_HZ },
  accelerationLadder: { bands },
};
delete print['accelerationMmPerS2'];
writeFileSync(`${TARGET}.jpg`, jpeg);
await writeJson(`${TARGET}.print.json`, print);
await writeJson(`${TARGET}.truth.json`, { upright_size_px: truth.sidesPx, ...truth });
