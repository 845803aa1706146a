import type { Random } from '../random.js';
import type { Pixel } from './camera.js';
import type { SceneKind } from './kinds.js';
import type { Light } from './light.js';
import { anyColour, plain } from './materials.js';
import type { NoiseTile } from './noiseTile.js';
import { box, type Thing } from './objects.js';
import { idCard, markerCard, ruler, type ReferenceObject } from './references.js';
import type { TowerPlan } from './tower.js';
import { uprightFrame, type Frame, type Vector } from './vector.js';

/** A tower in its place. */
export interface PlacedTower {
  readonly plan: TowerPlan;
  readonly frame: Frame;
}

/** A reference object in its place. */
export interface PlacedReference {
  readonly object: ReferenceObject;
  readonly frame: Frame;
  /** How far its plane lies behind the plane of the face. */
  readonly behindMm: number;
}

/**
 * What tells the scale, by chance; sometimes nothing but the face.
 * @param random - Where chance comes from.
 * @param tile - Noise of its surface.
 */
export function drawReference(random: Random, tile: NoiseTile): ReferenceObject | undefined {
  const kind = random.even(0, 1);
  if (kind < 0.35) return idCard(random, random.chance(0.5), tile);
  if (kind < 0.6) return markerCard(random, tile);
  if (kind < 0.85) return ruler(random, tile);
  return undefined;
}

/** Where a reference is put. */
export interface ReferencePlace {
  /** Width of the face beside which it stands. */
  readonly faceWidthMm: number;
  /** -1: at the left, 1: at the right. */
  readonly side: number;
  /** Its foot where it is held against the front of what the tower stands on; undefined: it stands on the desk. */
  readonly againstMm: number | undefined;
  /** There is no tower: it may be anywhere. */
  readonly alone: boolean;
  /** The tower stands in front of a part of it. */
  readonly overlaps: boolean;
}

/**
 * Puts a reference beside the face or on the front of what that stands on; leaning in its own plane.
 * @param random - Where chance comes from.
 * @param object - The reference.
 * @param place - Where.
 */
export function placeReference(
  random: Random,
  object: ReferenceObject,
  place: ReferencePlace,
): PlacedReference {
  const { even, chance } = random;
  const lean = (Math.PI / 180) * (chance(0.5) ? even(-1.5, 1.5) : even(-8, 8));
  const [sine, cosine] = [Math.sin(lean), Math.cos(lean)];
  const { widthMm: w, heightMm: h } = object;
  const halfWide = (Math.abs(cosine) * w + Math.abs(sine) * h) / 2;
  const halfHigh = (Math.abs(cosine) * h + Math.abs(sine) * w) / 2;
  const onFront = place.againstMm !== undefined;
  const behindMm = place.overlaps ? even(4, 40) : onFront || chance(0.6) ? 0 : even(5, 40);
  const gapMm = place.alone
    ? even(-60, 60)
    : place.faceWidthMm / 2 + (place.overlaps ? -even(0.05, 0.3) * w : even(3, 25));
  const middle: Vector =
    place.againstMm !== undefined
      ? [even(-0.2, 0.2) * place.faceWidthMm, place.againstMm - halfHigh - 1, 0]
      : [place.side * (gapMm + halfWide), halfHigh + 0.1, -behindMm];
  const x: Vector = [cosine, sine, 0];
  const y: Vector = [-sine, cosine, 0];
  const frame: Frame = {
    originMm: [middle[0] - (x[0] * w + y[0] * h) / 2, middle[1] - (x[1] * w + y[1] * h) / 2, middle[2]],
    x,
    y,
    z: [0, 0, 1],
  };
  return { object, frame, behindMm };
}

/**
 * Where the middle of the face lies in the picture: beside its middle where a neighbour needs room.
 * @param random - Where chance comes from.
 * @param kind - What the scene is drawn for.
 * @param neighbour - Where something else is to be seen: -1 left, 1 right, 0 nowhere.
 * @returns Shares of the picture's sides, right and down.
 */
export function faceOffset(random: Random, kind: SceneKind, neighbour: number): Pixel {
  const { even, chance, pick } = random;
  if (kind === 'cut-by-frame') {
    const away = pick([-1, 1]) * even(0.3, 0.5);
    return chance(0.7) ? [away, even(-0.1, 0.1)] : [even(-0.1, 0.1), away];
  }
  return [-neighbour * even(0.05, 0.2) + even(-0.06, 0.06), even(-0.12, 0.12)];
}

/**
 * A place for a second tower.
 * @param random - Where chance comes from.
 * @param widthMm - Its width.
 * @param firstWidthMm - Width of the first, whose middle is at x = 0.
 * @param side - -1: at its left, 1: at its right.
 * @param baseMm - What both stand on.
 */
export function besideTower(
  random: Random,
  widthMm: number,
  firstWidthMm: number,
  side: number,
  baseMm: number,
): Frame {
  const { even, chance } = random;
  const gap = even(6, 40);
  const z = chance(0.5) ? 0 : even(-30, 0);
  const left = side > 0 ? firstWidthMm / 2 + gap : -firstWidthMm / 2 - gap - widthMm;
  return uprightFrame([left, baseMm, z], chance(0.5) ? 0 : even(-0.1, 0.1));
}

/**
 * A box that a tower stands on.
 * @param random - Where chance comes from.
 * @param widthMm - Width of what stands on it.
 * @param heightMm - Its height.
 * @param depthMm - Depth of the tower.
 * @param flush - A card is held against its front, in the plane of the face.
 * @param tile - Noise of its surface.
 */
export function pedestal(
  random: Random,
  widthMm: number,
  heightMm: number,
  depthMm: number,
  flush: boolean,
  tile: NoiseTile,
): Thing {
  const { even } = random;
  const look = plain(anyColour(random), even(0, 0.05), tile);
  const wide = Math.max(140, widthMm + even(10, 120));
  const front = flush ? -0.8 : even(1, 25);
  const frame = uprightFrame([-wide / 2, 0, front]);
  return box(frame, [wide, heightMm, depthMm + even(10, 60) + front], {
    front: look,
    sides: look,
    top: look,
  });
}

/**
 * A lamp at the side, above, near or far, small or large.
 * @param random - Where chance comes from.
 * @param middleMm - What it shines on, from the front.
 */
export function drawLight(random: Random, middleMm: Vector): Light {
  const { even, pick, logEven } = random;
  const azimuth = (pick([-1, 1]) * even(12, 62) * Math.PI) / 180;
  const elevation = (even(8, 60) * Math.PI) / 180;
  const far = logEven(280, 1200);
  return {
    lampMm: [
      middleMm[0] + far * Math.sin(azimuth) * Math.cos(elevation),
      middleMm[1] + far * Math.sin(elevation),
      middleMm[2] + far * Math.cos(azimuth) * Math.cos(elevation),
    ],
    radiusMm: logEven(6, 80),
    ambient: even(0.12, 0.6),
  };
}
