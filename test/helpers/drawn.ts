import ndarray from 'ndarray';
import sharp from 'sharp';
import { decideWalls } from '../../src/band/decideWalls.js';
import type { Decision, Evidence } from '../../src/band/decision.js';
import type { CornersPx } from '../../src/core/image.js';
import { locateFace, type Face } from '../../src/face/rectifyFace.js';
import { givenFace } from '../../src/face/seeFace.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint, type PrintSettings } from '../../src/print/settle.js';
import type { Profiles } from '../../src/profiles/makeProfiles.js';
import { slotWidths, type Slot } from '../../src/profiles/slotWidths.js';
import { wallsBehind } from '../../src/profiles/wallsBehind.js';
import { proofRipples } from '../../src/ripple/proofRipples.js';
import type { Ripples } from '../../src/ripple/measureRipples.js';
import { readWall } from '../../src/ripple/readWall.js';
import { drawFace, type DrawnFace } from '../synth/drawFace.js';
import { lightOfCodes } from '../synth/picture.js';
import { populationCase, type Case } from '../synth/population.js';
import { printedFace } from '../synth/prints.js';
import { seeded } from '../synth/random.js';
import type { FaceSignal } from '../synth/signal.js';
import { layerCount, type FaceRecipe } from '../synth/recipe.js';

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
  gain: 1,
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
  return placed(drawFace(recipe), recipe, told);
}

/** What the stages make of a drawn face. */
export interface DrawnResult extends Drawn {
  readonly profiles: Profiles;
  readonly slots: readonly Slot[];
  readonly ripples: Ripples | undefined;
  /** What was decided on, and what was decided. */
  readonly evidence: Evidence;
  readonly decision: Decision;
  /** What is decided on the wall at the leading corner alone. */
  readonly alone: Decision;
}

/**
 * Draws a face and takes it through the stages.
 * @param recipe - What to draw.
 * @param told - Fields of the print record that differ from the truth.
 * @returns The result of each stage.
 */
export function measureDrawn(recipe: FaceRecipe, told: Readonly<Record<string, unknown>> = {}): DrawnResult {
  return measurePlaced(drawn(recipe, told));
}

/**
 * Takes a face through the stages after rectification.
 * @param placed - The face and its settings.
 * @returns The result of each stage.
 */
export function measurePlaced({ face, settings }: Drawn): DrawnResult {
  const assumed = new Set<string>();
  const { profiles, ripples: found } = readWall(face, settings, assumed);
  const isProof = settings.accelerationLadder !== undefined && found !== undefined;
  const proof = isProof ? proofRipples(profiles, settings, found) : undefined;
  const ripples = proof?.ripples ?? found;
  const evidence: Evidence = {
    ...{ settings, geometry: face, profiles, ripples, spacingOnly: false, assumed },
    ...(proof === undefined ? {} : { proof }),
  };
  const slots = slotWidths(face, settings, profiles);
  const walls = decideWalls(evidence, wallsBehind(profiles, slots));
  return { face, settings, profiles, slots, ripples, evidence, ...walls };
}

/**
 * A face of the population with a slot, whatever kinds there are.
 * @param seed - Which one.
 * @returns The face and its record.
 */
export function slottedCase(seed: number): Case {
  const usual = populationCase('record', seed);
  const { recipe, told } = printedFace('slots', usual.recipe, seeded(seed));
  return { ...usual, recipe, told: { ...usual.told, ...told } };
}

/**
 * Draws a face of the population, through a JPEG file where it has one.
 * @param one - The face and its record.
 * @returns The face as the stages see it, and what its truth says of its signal.
 */
export async function drawnCase(one: Case): Promise<Drawn & { readonly signal: FaceSignal }> {
  const made = drawFace(one.recipe);
  let { light } = made;
  if (one.jpegQuality !== undefined && made.codes !== undefined) {
    const raw = { width: made.columns, height: made.rows, channels: 1 } as const;
    const file = await sharp(made.codes, { raw }).jpeg({ quality: one.jpegQuality }).toBuffer();
    light = lightOfCodes(await sharp(file).greyscale().raw().toBuffer());
  }
  return { ...placed({ ...made, light }, one.recipe, one.told), signal: made.signal };
}

function placed(
  { light, rows, columns }: DrawnFace,
  recipe: FaceRecipe,
  told: Readonly<Record<string, unknown>>,
): Drawn {
  const settings = settingsOf(recipe, { columns, rows }, told);
  const info = {
    format: 'png',
    widthPx: columns,
    heightPx: rows,
    orientation: 1,
    bits: 8,
    capture: {},
  } as const;
  const located = locateFace(info, settings, givenFace(settings.facePx as CornersPx, info));
  if (located.state === 'no-size') throw new Error('Expected a size for the face.');
  const face: Face = {
    ...located.geometry,
    image: ndarray(light, [rows, columns]),
    imagePxPerMm: { alongWall: columns / recipe.widthMm, alongHeight: rows / recipe.heightMm },
    clippedShare: 0,
  };
  return { face, settings };
}

function settingsOf(
  recipe: FaceRecipe,
  { columns, rows }: { readonly columns: number; readonly rows: number },
  told: Readonly<Record<string, unknown>>,
): PrintSettings {
  const layers = layerCount(recipe);
  const { ladder, accelerations } = recipe;
  const record = checkPrintRecord({
    schema: 'stillband/print-record@1',
    axis: 'Y',
    speedMmPerS: recipe.speedMmPerS,
    accelerationMmPerS2: recipe.accelerationMmPerS2,
    cornerSpeedMmPerS: recipe.cornerSpeedMmPerS,
    layerHeightMm: recipe.layerHeightMm,
    layers,
    face: { widthMm: recipe.widthMm, heightMm: recipe.heightMm, leadingCorner: 'left' },
    facePx: [
      [0, 0],
      [columns, 0],
      [columns, rows],
      [0, rows],
    ],
    ...(accelerations === undefined ? {} : { accelerationLadder: { bands: accelerations } }),
    ladder:
      ladder === undefined
        ? { kind: 'off' }
        : accelerations !== undefined
          ? { kind: 'fixed', hz: ladder.fromHz }
          : {
              kind: 'linear',
              fromHz: ladder.fromHz,
              toHz: ladder.toHz,
              firstLayer: 0,
              lastLayer: layers - 1,
            },
    shaper: {
      family: recipe.family ?? 'ZV',
      dampingRatio: ladder?.dampingRatio ?? 0.1,
      hzMeans: 'natural',
      alongWall: recipe.wallShaped ? 'as-ladder' : 'off',
    },
    ...told,
  });
  return settlePrint(record).settings;
}
