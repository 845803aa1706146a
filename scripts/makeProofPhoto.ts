/**
 * Remakes testimages/proof: drawn photographs of one proof print with the shaper as it was before and as it is after
 * the test tower was measured, their records and their truth.
 *
 *   npx tsx scripts/makeProofPhoto.ts
 *
 * scripts/makeTestimages.ts lists the files afterwards.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { drawScene } from '../test/synth/scene/drawScene.js';
import { changedScene, writeJson } from './drawnPhotos.js';

const TARGET = fileURLToPath(new URL('../testimages/proof/', import.meta.url));
/** A scene with its marker card beside a face that is seen nearly from the front. */
const SEED = 19;
const MM_PER_S2 = [1500, 2500, 3500, 5000, 6500, 8000, 10_000, 12_000];
const STEP_MM = 8;
const AXIS = { naturalHz: 41, dampingRatio: 0.06 };
/** Before, the shaper is far off; after, a little too high, so that a rest of ringing shows where the corner is sharpest. */
const PRINTS = [
  { name: 'before-tuning', title: 'proof before the ladder', setHz: 56 },
  { name: 'rising-acceleration', title: 'proof after the ladder', setHz: 41.5 },
] as const;
const SHAPER_DAMPING = 0.08;
/** From the leading corner's side, low, 64° from straight in front. */
const LAMP_MM = [-560, 60, 270] as const;

const bands = MM_PER_S2.map((mmPerS2, i) => ({ fromMm: STEP_MM * i, toMm: STEP_MM * (i + 1), mmPerS2 }));

const RECIPE = {
  ...AXIS,
  speedMmPerS: 110,
  cornerSpeedMmPerS: 6,
  accelerations: bands,
  wallShaped: true,
  gain: 0.7,
  flaws: { bulge: 0.08 },
};

for (const { name, title, setHz } of PRINTS) {
  const ladder = { fromHz: setHz, toHz: setHz, dampingRatio: SHAPER_DAMPING };
  const { jpeg, record, truth } = await drawScene(SEED, 'plain', (scene) =>
    changedScene(scene, { rgb: [0.3, 0.46, 0.5], recipe: { ...RECIPE, ladder }, lampMm: LAMP_MM }),
  );
  const print: Record<string, unknown> = {
    ...record,
    title,
    ladder: { kind: 'fixed', hz: setHz },
    accelerationLadder: { bands },
  };
  delete print['accelerationMmPerS2'];
  writeFileSync(`${TARGET}${name}.jpg`, jpeg);
  await writeJson(`${TARGET}${name}.print.json`, print);
  await writeJson(`${TARGET}${name}.truth.json`, { upright_size_px: truth.sidesPx, ...truth });
}
