import ndarray from 'ndarray';
import { decideBand, type Decision } from '../../src/band/decide.js';
import { type Face } from '../../src/face/rectifyFace.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint, type PrintSettings } from '../../src/print/settle.js';
import { makeProfiles, type Profiles } from '../../src/profiles/makeProfiles.js';
import { measureRipples, type Ripples } from '../../src/ripple/measureRipples.js';
import { drawFace, type FaceRecipe } from '../synth/drawFace.js';

/** A face of 80 × 50 mm at 16 px per mm whose axis swings at 38 Hz, on a ladder from 20 to 60 Hz. */
export const RECIPE: FaceRecipe = {
  widthMm: 80,
  heightMm: 50,
  layerHeightMm: 0.25,
  pxPerMm: 16,
  speedMmPerS: 105,
  accelerationMmPerS2: 5500,
  cornerSpeedMmPerS: 6,
  naturalHz: 38,
  dampingRatio: 0.07,
  ladder: { fromHz: 20, toHz: 60, dampingRatio: 0.1 },
  wallShaped: true,
  gain: 0.4,
  noise: 0.1,
  seed: 11,
};

/** A drawn face as the stages see it. */
export interface Drawn {
  readonly face: Face;
  readonly settings: PrintSettings;
}

/**
 * Draws a face and puts it where a flattened photo would be.
 * @param recipe - What to draw.
 * @param told - Fields of the print record that differ from the truth, or are not in the recipe.
 * @returns The face with the settings that its user would tell.
 */
export function drawn(recipe: FaceRecipe, told: Readonly<Record<string, unknown>> = {}): Drawn {
  const { light, rows, columns } = drawFace(recipe);
  const layers = Math.round(recipe.heightMm / recipe.layerHeightMm);
  const { ladder } = recipe;
  const record = checkPrintRecord({
    schema: 'stillband/print-record@1',
    axis: 'Y',
    speedMmPerS: recipe.speedMmPerS,
    accelerationMmPerS2: recipe.accelerationMmPerS2,
    cornerSpeedMmPerS: recipe.cornerSpeedMmPerS,
    layerHeightMm: recipe.layerHeightMm,
    layers,
    face: { widthMm: recipe.widthMm, heightMm: recipe.heightMm, leadingCorner: 'left' },
    ladder:
      ladder === undefined
        ? { kind: 'off' }
        : { kind: 'linear', fromHz: ladder.fromHz, toHz: ladder.toHz, firstLayer: 0, lastLayer: layers - 1 },
    shaper: {
      family: 'ZV',
      dampingRatio: ladder?.dampingRatio ?? 0.1,
      hzMeans: 'natural',
      alongWall: recipe.wallShaped ? 'as-ladder' : 'off',
    },
    ...told,
  });
  const pxPerMm = { alongWall: recipe.pxPerMm, alongHeight: recipe.pxPerMm };
  const face: Face = {
    cornersPx: [
      [0, 0],
      [columns, 0],
      [columns, rows],
      [0, rows],
    ],
    cornerSdPx: 0.5,
    widthMm: recipe.widthMm,
    heightMm: recipe.heightMm,
    bottomMm: 0,
    mmToPx: Float64Array.of(recipe.pxPerMm, 0, 0, 0, recipe.pxPerMm, 0, 0, 0, 1),
    pxPerMm,
    mirrored: false,
    scales: [{ kind: 'face', class: 'commanded', perCommanded: { value: 1, sd: 0.003 } }],
    lengthRelativeSd: 0.003,
    bottomSdMm: 0.05,
    image: ndarray(light, [rows, columns]),
    imagePxPerMm: pxPerMm,
    clippedShare: 0,
  };
  return { face, settings: settlePrint(record).settings };
}

/** What the stages make of a drawn face. */
export interface DrawnResult extends Drawn {
  readonly profiles: Profiles;
  readonly ripples: Ripples | undefined;
  readonly decision: Decision;
}

/**
 * Draws a face and takes it through the stages.
 * @param recipe - What to draw.
 * @param told - Fields of the print record that differ from the truth.
 * @returns The result of each stage.
 */
export function measureDrawn(recipe: FaceRecipe, told: Readonly<Record<string, unknown>> = {}): DrawnResult {
  const { face, settings } = drawn(recipe, told);
  const profiles = makeProfiles(face, settings);
  const ripples = measureRipples(profiles, settings);
  const decision = decideBand({
    settings,
    geometry: face,
    profiles,
    ripples,
    spacingOnly: false,
    assumed: new Set(),
  });
  return { face, settings, profiles, ripples, decision };
}
