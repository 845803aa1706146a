/**
 * Makes testimages/walk: photographs of the prints that docs/whole-tuning.md tells of, their truth, and the tower's job.
 *
 *   npx tsx scripts/makeTuningFiles.ts
 *
 * The records beside them are what `stillband plan` writes there. scripts/makeTestimages.ts lists the files afterwards.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { lookAt } from '../test/synth/scene/camera.js';
import { writeJob } from '../test/synth/job.js';
import { drawScene } from '../test/synth/scene/drawScene.js';
import { uprightFrame } from '../test/synth/scene/vector.js';
import { changedScene, writeJson, type SceneChange } from './drawnPhotos.js';

const TARGET = fileURLToPath(new URL('../testimages/walk/', import.meta.url));

/** What is read of a planned record. */
interface Planned {
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly cornerSpeedMmPerS: number;
  readonly layerHeightMm: number;
  readonly layers: number;
  readonly face: { readonly widthMm: number };
  readonly shaper?: { readonly dampingRatio: number };
  readonly ladder?: PlannedLadder;
}

interface Photo {
  readonly name: string;
  /** Its record's name. */
  readonly told: string;
  readonly seed: number;
  readonly cameraMm: readonly [number, number, number];
  /** As EXIF writes it. */
  readonly takenAt: string;
  readonly swing: { readonly naturalHz: number; readonly dampingRatio: number };
  /** Its acceleration climbs. */
  readonly proof?: boolean;
  /** @default off */
  readonly shaper?:
    'as planned' | { readonly fromHz: number; readonly toHz: number; readonly dampingRatio: number };
}

interface PlannedLadder {
  readonly kind: 'linear';
  readonly fromHz: number;
  readonly toHz: number;
  readonly firstLayer: number;
  readonly lastLayer: number;
}

/** As wide as the nozzle. */
const LINE_WIDTH_MM = 0.4;
/** What `stillband after` names for the proof, and the tower's height in as many parts. */
const PROOF_MM_PER_S2 = [1100, 1500, 2200, 2700, 5000, 6700, 9000];
const X = { naturalHz: 46.5, dampingRatio: 0.07 };
const Y = { naturalHz: 41, dampingRatio: 0.06 };
/** Months later, with a heavier nozzle head. */
const LATER_Y = { naturalHz: 37.4, dampingRatio: 0.065 };

/** Scenes with a marker card beside a face that is seen nearly from the front. */
const PHOTOS: readonly Photo[] = [
  {
    name: 'face-x',
    told: 'tower.X',
    seed: 452,
    cameraMm: [35, 62, 222],
    takenAt: '2026:03:14 18:02:11',
    swing: X,
    shaper: 'as planned',
  },
  {
    name: 'face-y',
    told: 'tower.Y',
    seed: 335,
    cameraMm: [40, 62, 172],
    takenAt: '2026:03:14 18:09:40',
    swing: Y,
    shaper: 'as planned',
  },
  {
    name: 'proof-off-y',
    told: 'tower.Y',
    seed: 335,
    cameraMm: [42, 58, 174],
    takenAt: '2026:03:16 20:15:02',
    swing: Y,
    proof: true,
  },
  {
    name: 'proof-on-y',
    told: 'tower.Y',
    seed: 335,
    cameraMm: [38, 60, 172],
    takenAt: '2026:03:16 20:31:27',
    swing: Y,
    proof: true,
    shaper: { fromHz: 41, toHz: 41, dampingRatio: 0.06 },
  },
  // From below its top, which has its colour.
  {
    name: 'coupon-y',
    told: 'coupon.Y',
    seed: 335,
    cameraMm: [45, 24, 172],
    takenAt: '2026:09:05 11:20:33',
    swing: LATER_Y,
  },
];
/** From the leading corner's side, low, 64° from straight in front. */
const LAMP_MM = [-560, 60, 270] as const;
/** The cameras stand a little above, as near as face and card allow. */
const LOOKS_AT_MM = [52, 32, 0] as const;

for (const [shot, { name, told, seed, cameraMm, takenAt, swing, proof, shaper }] of PHOTOS.entries()) {
  const record = planned(told);
  const { face, layers, layerHeightMm, speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS } = record;
  const recipe: SceneChange['recipe'] = {
    ...swing,
    widthMm: face.widthMm,
    heightMm: layers * layerHeightMm,
    layerHeightMm,
    speedMmPerS,
    accelerationMmPerS2,
    cornerSpeedMmPerS,
    ...(proof === true ? { accelerations: proofBands(layers * layerHeightMm) } : {}),
    ladder: shaper === 'as planned' ? plannedLadder(record) : (shaper ?? 'off'),
    wallShaped: true,
    gain: 0.7,
    flaws: { bulge: 0.08 },
  };
  const { jpeg, truth } = await drawScene(
    seed,
    'plain',
    (composed) => {
      const changed = changedScene(composed, { rgb: [0.3, 0.46, 0.5], recipe, lampMm: LAMP_MM });
      const camera = { ...composed.view.camera, ...lookAt(cameraMm, LOOKS_AT_MM, 0) };
      const telling = composed.reference!;
      const [x, y] = telling.frame.originMm;
      return {
        ...changed,
        view: { ...composed.view, camera, distanceMm: cameraMm[2], takenAt },
        towers: changed.towers.map((tower) => ({ ...tower, frame: uprightFrame([-face.widthMm / 2, 0, 0]) })),
        // Held flush with the face, as the guide says.
        reference: { ...telling, behindMm: 0, frame: uprightFrame([x, y, 0]) },
      };
    },
    shot,
  );
  writeFileSync(`${TARGET}${name}.jpg`, jpeg);
  await writeJson(`${TARGET}${name}.truth.json`, { upright_size_px: truth.sidesPx, ...truth });
}

const { face: outline, layers, layerHeightMm, speedMmPerS } = planned('tower.X');
const path = outline.widthMm - LINE_WIDTH_MM;
writeFileSync(
  `${TARGET}tower.job`,
  writeJob({
    layers,
    layerHeightMm,
    firstLayerHeightMm: layerHeightMm,
    pathXMm: path,
    pathYMm: path,
    speedMmPerS,
    // The back left corner, where the seam belongs.
    start: 3,
  }).text,
);

/** Drawn ladders hold every layer: below the first and above the last one this goes on as it climbs between them. */
function plannedLadder({ ladder, layers, shaper }: Planned) {
  const { fromHz, toHz, firstLayer, lastLayer } = ladder!;
  const step = (toHz - fromHz) / (lastLayer - firstLayer);
  return {
    fromHz: fromHz - step * firstLayer,
    toHz: toHz + step * (layers - 1 - lastLayer),
    dampingRatio: shaper!.dampingRatio,
  };
}

function planned(told: string): Planned {
  return JSON.parse(readFileSync(`${TARGET}${told}.print.json`, 'utf8')) as Planned;
}

function proofBands(heightMm: number) {
  const stepMm = heightMm / PROOF_MM_PER_S2.length;
  return PROOF_MM_PER_S2.map((mmPerS2, i) => ({ fromMm: stepMm * i, toMm: stepMm * (i + 1), mmPerS2 }));
}
