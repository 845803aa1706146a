import type { Case } from './population.js';
import { seeded, type Random } from './random.js';
import { layerCount, type FaceRecipe } from './recipe.js';

/** A planned tower in numbers, whoever has planned it. */
export interface PlannedTower {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly layerHeightMm: number;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly cornerSpeedMmPerS: number;
  readonly fromHz: number;
  readonly toHz: number;
  readonly firstLayer: number;
  readonly lastLayer: number;
  readonly shaperDampingRatio: number;
  readonly pxPerMm: number;
  readonly cameraWidths: number;
}

/** A machine that somebody wants to tune, and what they know of it. */
export interface SomeMachine {
  readonly naturalHz: number;
  readonly dampingRatio: number;
  readonly maxAccelerationMmPerS2: number;
  readonly maxSpeedMmPerS: number;
  readonly cornerSpeedMmPerS: number;
  readonly layerHeightMm: number;
  readonly nozzleMm: number;
  readonly bedMm: number;
  /** An idea of the frequency, up to 25 % off; undefined: none. */
  readonly ideaHz: number | undefined;
}

/** Errors of the record by the budget: speed 2 %, commanded length 0.3 %, lower edge 0.15 mm (DESIGN 5.5, 5.8). */
const SPEED_SD = 0.02;
const LENGTH_SD = 0.003;
const EDGE_SD_MM = 0.15;
const CLICK_SD_PX = 1.5;
/** More cost time and tell nothing more. */
const MOST_PX_PER_MM = 18;
const BOW_SD_MM = 0.1;

/**
 * Some machine.
 * @param seed - Which one; seeds of tuning and of testing must not overlap.
 */
export function someMachine(seed: number): SomeMachine {
  const { even, logEven, pick, chance } = seeded(seed * 16 + 11);
  const naturalHz = even(25, 55);
  return {
    naturalHz,
    dampingRatio: even(0.03, 0.13),
    maxAccelerationMmPerS2: 100 * Math.round(logEven(40, 120)),
    maxSpeedMmPerS: 10 * Math.round(even(12, 30)),
    cornerSpeedMmPerS: Math.round(even(3, 10)),
    layerHeightMm: pick([0.2, 0.2, 0.25, 0.3]),
    nozzleMm: 0.4,
    bedMm: pick([180, 220, 250, 300]),
    ideaHz: chance(0.5) ? naturalHz * even(0.8, 1.25) : undefined,
  };
}

/**
 * A planned tower as it comes out: printed and photographed as advised, with the errors in record and picture that the
 * budget expects.
 * @param plan - What was planned.
 * @param machine - The machine that prints it.
 * @param seed - Which face.
 * @returns The face and what of the record differs.
 */
export function plannedCase(plan: PlannedTower, machine: SomeMachine, seed: number): Case {
  const random = seeded(seed * 16 + 12);
  const { even, logEven, normal, pick, chance } = random;
  const { widthMm, heightMm, layerHeightMm, speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS } = plan;
  const size = { widthMm, heightMm, layerHeightMm };
  const layers = layerCount(size);
  const { firstLayer, lastLayer, fromHz, toHz } = plan;
  // Only the layers that the ladder holds are told as shaped; below it the shaper is off, which nothing here draws:
  // the face is drawn with its ladder going on, and told so.
  const perLayer = (toHz - fromHz) / (lastLayer - firstLayer);
  const ladder = {
    fromHz: fromHz - perLayer * firstLayer,
    toHz: toHz + perLayer * (layers - 1 - lastLayer),
    dampingRatio: plan.shaperDampingRatio,
  };
  const recipe: FaceRecipe = {
    ...size,
    ...{ speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS },
    pxPerMm: Math.min(MOST_PX_PER_MM, plan.pxPerMm * even(0.85, 1.05)),
    naturalHz: machine.naturalHz,
    dampingRatio: machine.dampingRatio,
    ladder,
    wallShaped: chance(0.7),
    gain: logEven(0.5, 1),
    gainDrift: even(-0.5, 0.5),
    lighting: {
      lamp: {
        azimuthDeg: even(60, 75) * pick([-1, 1]),
        elevationDeg: even(-5, 15),
        distanceWidths: even(4, 6),
      },
      camera: {
        azimuthDeg: even(-8, 8),
        elevationDeg: even(-8, 8),
        distanceWidths: plan.cameraWidths * even(1, 1.15),
      },
      surface: {
        silk: chance(0.5) ? logEven(0.1, 0.6) : 0,
        silkAlong: even(0.25, 0.5),
        silkAcross: even(0.5, 1.2),
      },
      ambient: even(0.05, 0.3),
    },
    texture: {
      widthSlope: logEven(0.002, 0.02),
      widthMm: even(0.3, 1.5),
      layerJitter: even(0, 0.05),
      grain: logEven(0.002, 0.015),
      grooves: even(0, 0.3),
    },
    ...(chance(0.5) ? { pitch: { pitchMm: 2, amplitude: logEven(0.002, 0.02) } } : {}),
    flaws: { bulge: even(-0.2, 0.3) },
    noise: logEven(0.005, 0.05),
    picture: pictureOf(random),
    seed: seed * 7 + 5,
  };
  const told = {
    speedMmPerS: speedMmPerS / (1 + SPEED_SD * normal()),
    ladder: { kind: 'linear', fromHz, toHz, firstLayer, lastLayer },
  };
  return { kind: 'record', seed, recipe, told, jpegQuality: Math.round(even(80, 95)) };
}

function pictureOf({ even, normal }: Random): NonNullable<FaceRecipe['picture']> {
  const click = (): readonly [number, number] => [CLICK_SD_PX * normal(), CLICK_SD_PX * normal()];
  return {
    clicksPx: [click(), click(), click(), click()],
    bowMm: BOW_SD_MM * normal(),
    longer: LENGTH_SD * normal(),
    raisedMm: EDGE_SD_MM * normal(),
    blurPx: even(0.7, 2.5),
    blurTilt: even(-0.4, 0.4),
    exposure: even(0.4, 0.9),
  };
}
