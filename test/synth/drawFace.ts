import { shiftAt, spoil } from './flaws.js';
import { shadeOf, type Lighting } from './light.js';
import { cornerResponse, wallOfLayer, type Corner, type CornerResponse } from './motion.js';
import { placeOf, takePicture } from './picture.js';
import { fastNormals, seeded } from './random.js';
import { accelerationAt, ladderHz, layerCount, type FaceRecipe, type Texture } from './recipe.js';
import { shaperOf, type Impulse } from './shapers.js';
import { darkenGap, gapAt, slotResponse, slottedSlope } from './slot.js';
import { signalMeter, type FaceSignal } from './signal.js';

export type { FaceRecipe };

/** Row 0 at the top, column 0 at the leading corner. */
export interface DrawnFace {
  /** Linear light; of the codes, if there are any. */
  readonly light: Float32Array;
  /** 8-bit sRGB codes, where the picture is coded. */
  readonly codes?: Uint8Array;
  readonly rows: number;
  readonly columns: number;
  readonly signal: FaceSignal;
}

const FROM_THE_SIDE: Lighting = {
  lamp: { azimuthDeg: -22, elevationDeg: 0, distanceWidths: 60 },
  camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 60 },
  surface: { silk: 0, silkAlong: 0.3, silkAcross: 0.8 },
  ambient: 0,
};
const EVEN: Texture = { widthSlope: 0, widthMm: 1, layerJitter: 0, grain: 0, grooves: 0 };
/** Steeper than this the bead does not follow the nozzle. */
const STEEPEST = 0.6;

/**
 * Draws a face as its photo shows it once it is flattened by its clicked corners.
 * @param recipe - What to draw.
 * @returns Its light, and how well its ripples stand out.
 */
export function drawFace(recipe: FaceRecipe): DrawnFace {
  const rows = Math.round(recipe.heightMm * recipe.pxPerMm);
  const columns = Math.round(recipe.widthMm * recipe.pxPerMm);
  const layers = layerCount(recipe);
  const random = seeded(recipe.seed);
  const place = placeOf(recipe, recipe.picture);
  const shade = shadeOf(recipe.lighting ?? FROM_THE_SIDE, recipe.widthMm, recipe.heightMm);
  const cornerAt = cornersOf(recipe);
  const meter = signalMeter(recipe, shade);
  const texture = textureOf(recipe, columns);
  const byLayer: Float32Array[] = [];
  for (let layer = 0; layer < layers; layer += 1) {
    const { across, along } = impulsesOf(recipe, layer, layers);
    const heightMm = (layer + 0.5) * recipe.layerHeightMm;
    const gain = gainAt(recipe, layer, layers);
    const { corner, main, second, behind } = cornerAt(heightMm);
    const responses = [{ response: main, share: gain }];
    if (second !== undefined) responses.push({ response: second, share: gain * recipe.second!.share });
    const besideMm = shiftAt(recipe.flaws ?? {}, heightMm, recipe.heightMm);
    const positionsMm = place.columnsMm(heightMm, columns).map((x) => x - besideMm);
    const backwards = recipe.alternates === true && layer % 2 === 1;
    const travelledMm = backwards ? positionsMm.map((x) => recipe.widthMm - x).reverse() : positionsMm;
    // Where a slot is closed the nozzle passes it as if there were none.
    const slot = recipe.slot !== undefined && gapAt(recipe.slot, heightMm) > 0 ? recipe.slot : undefined;
    const wall =
      slot === undefined || behind === undefined
        ? wallOfLayer(corner, responses, across, along, travelledMm).slope
        : slottedSlope(
            corner,
            responses,
            [{ response: behind, share: gain }],
            slot,
            across,
            along,
            travelledMm,
          );
    // Seen from the leading corner, what rises towards the nozzle falls.
    const slope = backwards ? wall.map((value) => -value).reverse() : wall;
    const { widthSlope, grain, jitter } = texture.next();
    meter.add(heightMm, gain, main, across, widthSlope, grain);
    const light = new Float32Array(columns);
    for (let i = 0; i < columns; i += 1) {
      const x = positionsMm[i]!;
      if (x < 0 || x > recipe.widthMm) {
        light[i] = BESIDE;
        continue;
      }
      const steep = Math.max(-STEEPEST, Math.min(STEEPEST, slope[i]!)) + widthSlope[i]!;
      light[i] = shade(steep, x, heightMm) * (1 + grain[i]!) * (1 + jitter);
    }
    if (recipe.pitch !== undefined) addStripes(light, positionsMm, recipe.pitch);
    if (recipe.flaws !== undefined) spoil(light, positionsMm, heightMm, recipe, recipe.flaws, random);
    if (recipe.slot !== undefined) darkenGap(light, positionsMm, heightMm, recipe.slot);
    byLayer.push(light);
  }
  const taken = takePicture(byLayer, recipe, place, rows, columns, texture.grooves);
  return { ...taken, rows, columns, signal: meter.result() };
}

interface TurnedCorner {
  readonly corner: Corner;
  readonly main: CornerResponse;
  readonly second: CornerResponse | undefined;
  /** The first mode's answer to the way round a slot. */
  readonly behind: CornerResponse | undefined;
}

/** How the corner is turned at a height, integrated once for each acceleration. */
function cornersOf(recipe: FaceRecipe): (heightMm: number) => TurnedCorner {
  // Longer than any layer takes along the face, with both its ramps.
  const untilS = (1.5 * recipe.widthMm) / recipe.speedMmPerS + 1;
  const made = new Map<number, TurnedCorner>();
  return (heightMm) => {
    const accelerationMmPerS2 = accelerationAt(recipe, heightMm);
    const known = made.get(accelerationMmPerS2);
    if (known !== undefined) return known;
    const corner: Corner = { ...recipe, accelerationMmPerS2 };
    const fresh = {
      corner,
      main: cornerResponse(corner, recipe, untilS),
      second: recipe.second && cornerResponse(corner, recipe.second, untilS),
      behind: recipe.slot && slotResponse(corner, recipe, recipe.slot, untilS),
    };
    made.set(accelerationMmPerS2, fresh);
    return fresh;
  };
}

/** Brightness of what lies beside the face. */
const BESIDE = 0.3;

const UNSHAPED: readonly Impulse[] = [{ share: 1, lateS: 0 }];

function impulsesOf(
  recipe: FaceRecipe,
  layer: number,
  layers: number,
): { readonly across: readonly Impulse[]; readonly along: readonly Impulse[] } {
  const { ladder } = recipe;
  const across =
    ladder === undefined
      ? UNSHAPED
      : shaperOf(recipe.family ?? 'ZV', ladderHz(ladder, layer, layers), ladder.dampingRatio);
  return { across, along: recipe.wallShaped ? across : UNSHAPED };
}

/** The share of the swing that the wall shows drifts with height, with a bend. */
function gainAt(recipe: FaceRecipe, layer: number, layers: number): number {
  const drift = recipe.gainDrift ?? 0;
  const u = (layer + 0.5) / layers;
  return recipe.gain * Math.exp(drift * (u - 0.5) + 0.25 * Math.abs(drift) * Math.sin(2.5 * Math.PI * u + 1));
}

function addStripes(
  light: Float32Array,
  positionsMm: Float64Array,
  pitch: NonNullable<FaceRecipe['pitch']>,
): void {
  for (let i = 0; i < light.length; i += 1) {
    const wave = Math.cos((2 * Math.PI * positionsMm[i]!) / pitch.pitchMm + 0.4);
    light[i] = light[i]! * (1 + pitch.amplitude * wave);
  }
}

/** Uneven layers, one after the other. */
function textureOf(
  recipe: FaceRecipe,
  columns: number,
): {
  readonly grooves: number;
  readonly next: () => { widthSlope: Float32Array; grain: Float32Array; jitter: number };
} {
  const texture = recipe.texture ?? EVEN;
  const normal = fastNormals(recipe.seed + 1);
  const widthSlope = new Float32Array(columns);
  const grain = new Float32Array(columns);
  return {
    grooves: texture.grooves,
    next: () => {
      if (texture.widthSlope > 0) {
        fillSmooth(widthSlope, texture.widthSlope, texture.widthMm * recipe.pxPerMm, normal);
      }
      if (texture.grain > 0) fillSmooth(grain, texture.grain, 0.1 * recipe.pxPerMm, normal);
      return { widthSlope, grain, jitter: texture.layerJitter * normal() };
    },
  };
}

/** Normal numbers smoothed forwards and backwards by an exponential of half that length, scaled to `rms`. */
function fillSmooth(values: Float32Array, rms: number, lengthPx: number, normal: () => number): void {
  const keep = Math.exp(-2 / Math.max(0.5, lengthPx));
  const count = values.length;
  // Impulse response (1−k)²/(1−k²) k^|n|, whose energy is (1−k)⁴/(1−k²)² · (1+k²)/(1−k²).
  const square = keep * keep;
  const energy = ((1 - keep) ** 4 / (1 - square) ** 2) * ((1 + square) / (1 - square));
  const scale = ((1 - keep) * rms) / Math.sqrt(energy);
  let last = normal() / Math.sqrt(1 - square);
  for (let i = 0; i < count; i += 1) {
    last = keep * last + normal();
    values[i] = last;
  }
  last = values[count - 1]! / (1 - keep);
  for (let i = count - 1; i >= 0; i -= 1) {
    last = keep * last + values[i]!;
    values[i] = last * scale * (1 - keep);
  }
}
