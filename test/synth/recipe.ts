import type { Flaws } from './flaws.js';
import type { Lighting } from './light.js';
import type { DrawnFamily } from './shapers.js';
import type { Slot } from './slot.js';

/**
 * A drawn face with known truth. It shares nothing with src: motion and oscillator are integrated here step
 * by step, shapers are written out again, light falls by geometry.
 */
export interface FaceRecipe {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly layerHeightMm: number;
  readonly pxPerMm: number;
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  /** Of a proof print: other accelerations over stretches of height. */
  readonly accelerations?: readonly {
    readonly fromMm: number;
    readonly toMm: number;
    readonly mmPerS2: number;
  }[];
  readonly cornerSpeedMmPerS: number;
  readonly naturalHz: number;
  readonly dampingRatio: number;
  /** A second swing of the same axis, with its share of the wall. */
  readonly second?: { readonly naturalHz: number; readonly dampingRatio: number; readonly share: number };
  /** @default ZV */
  readonly family?: DrawnFamily;
  /** Ladder over the layers, linear unless it has steps or a table; undefined: off. */
  readonly ladder?: {
    readonly fromHz: number;
    readonly toHz: number;
    readonly dampingRatio: number;
    readonly steps?: number;
    /** The machine knows only multiples of this, Hz. */
    readonly roundedHz?: number;
    /** Several ladders instead, from the bottom up without a gap: each up to a layer, which it does not hold any more. */
    readonly parts?: readonly {
      readonly untilLayer: number;
      readonly fromHz: number;
      readonly toHz: number;
    }[];
    /** Straight between these shares of the height instead, from 0 to 1. */
    readonly table?: readonly { readonly share: number; readonly hz: number }[];
  };
  /** @default none */
  readonly slot?: Slot;
  /** Odd layers are printed from the other corner. @default false */
  readonly alternates?: boolean;
  /** The move along the wall is shaped like the one across it. */
  readonly wallShaped: boolean;
  /** Share of the swing that the wall shows; a wide bead smooths it. */
  readonly gain: number;
  /** Natural logarithm of how much larger that share is at the top than at the bottom. @default 0 */
  readonly gainDrift?: number;
  /** @default a lamp far away at the leading corner's side, 22° from straight in front; matt */
  readonly lighting?: Lighting;
  /** @default none */
  readonly texture?: Texture;
  /** Stripes of fixed pitch, relative brightness. */
  readonly pitch?: { readonly pitchMm: number; readonly amplitude: number };
  readonly flaws?: Flaws;
  /** Relative noise of one pixel at mean brightness. */
  readonly noise: number;
  /** How the photo was taken. @default sharp, in its place, not coded */
  readonly picture?: Picture;
  /** Of several photos of one print, which: each has noise of its own. @default 0 */
  readonly shot?: number;
  /** Of the print: its unevenness and flaws, and with `shot` the photo's noise. */
  readonly seed: number;
}

/** How uneven the layers are. */
export interface Texture {
  /** The width of a bead varies along the wall: rms slope, and over what length. */
  readonly widthSlope: number;
  readonly widthMm: number;
  /** Relative brightness of whole layers against each other. */
  readonly layerJitter: number;
  /** Relative brightness from place to place. */
  readonly grain: number;
  /** How much darker the groove between two layers is than a layer's middle. */
  readonly grooves: number;
}

/** How a photo was taken, and how well the face was marked in it. */
export interface Picture {
  /** Where the corners were clicked, right and down of where they are, px: top left, top right, bottom right, bottom left. */
  readonly clicksPx: readonly (readonly [number, number])[];
  /** The lens bows the leading edge by this much in the middle of its height, mm. */
  readonly bowMm: number;
  /** The outline is this much longer and higher than the commanded face, as a share. */
  readonly longer: number;
  /** Its lower edge lies this far above where it is told, mm. */
  readonly raisedMm: number;
  /** Standard deviation of the blur in the middle of the height, px. */
  readonly blurPx: number;
  /** How much more there is at the top than in the middle, as a share; negative: at the bottom. */
  readonly blurTilt: number;
  /** Linear light of the face's brightest parts, 1 where the camera's range ends. */
  readonly exposure: number;
}

/**
 * Number of layers of a face.
 * @param recipe - The face.
 */
export function layerCount(recipe: Pick<FaceRecipe, 'heightMm' | 'layerHeightMm'>): number {
  return Math.round(recipe.heightMm / recipe.layerHeightMm);
}

/**
 * The acceleration at a height.
 * @param recipe - The face.
 * @param heightMm - Height above the bed.
 */
export function accelerationAt(
  { accelerations = [], accelerationMmPerS2 }: FaceRecipe,
  heightMm: number,
): number {
  const step = accelerations.find(({ fromMm, toMm }) => heightMm >= fromMm && heightMm < toMm);
  return step?.mmPerS2 ?? accelerationMmPerS2;
}

/**
 * The shaper's frequency in a layer.
 * @param ladder - The ladder.
 * @param layer - Layer, from 0.
 * @param layers - How many there are.
 */
export function ladderHz(ladder: NonNullable<FaceRecipe['ladder']>, layer: number, layers: number): number {
  if (ladder.parts !== undefined) return partHz(ladder.parts, layer);
  if (ladder.table !== undefined) return tableHz(ladder.table, (layer + 0.5) / layers);
  let share = layer / (layers - 1);
  if (ladder.steps !== undefined) {
    share = Math.min(ladder.steps - 1, Math.floor((layer / layers) * ladder.steps)) / (ladder.steps - 1);
  }
  const hz = ladder.fromHz + (ladder.toHz - ladder.fromHz) * share;
  return ladder.roundedHz === undefined ? hz : ladder.roundedHz * Math.round(hz / ladder.roundedHz);
}

function partHz(parts: NonNullable<NonNullable<FaceRecipe['ladder']>['parts']>, layer: number): number {
  // Between two layers a ladder reaches half a layer beyond its last one.
  const found = parts.findIndex(({ untilLayer }) => layer < untilLayer - 0.5);
  const index = found === -1 ? parts.length - 1 : found;
  const { untilLayer, fromHz, toHz } = parts[index]!;
  const first = parts[index - 1]?.untilLayer ?? 0;
  const share = Math.max(0, Math.min(1, (layer - first) / (untilLayer - 1 - first)));
  return fromHz + (toHz - fromHz) * share;
}

function tableHz(table: readonly { readonly share: number; readonly hz: number }[], share: number): number {
  const next = Math.max(
    1,
    table.findIndex((point) => point.share >= share),
  );
  const [below, above] = [table[next - 1]!, table[next]!];
  return below.hz + ((above.hz - below.hz) * (share - below.share)) / (above.share - below.share);
}
