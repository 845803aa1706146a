import { seeded, type Random } from '../random.js';
import { SCENE_KINDS, type SceneKind } from './kinds.js';
import { openLight, type Light } from './light.js';
import { anyColour, plain } from './materials.js';
import { noiseTile, type NoiseTile } from './noiseTile.js';
import { box, cylinder, type Thing } from './objects.js';
import {
  besideTower,
  drawLight,
  drawReference,
  faceOffset,
  pedestal,
  placeReference,
  type PlacedReference,
  type PlacedTower,
} from './placing.js';
import { idCard } from './references.js';
import { fits, hiddenShare, meets, pointsOnFace, pointsOnReference } from './sight.js';
import type { Rgb } from './surface.js';
import { drawClutter, drawRoom, smoothBox, type Room } from './surroundings.js';
import { pictureOfFace, planTower, solidOfTower, tower, type TowerPlan } from './tower.js';
import { inFrame, minus, uprightFrame, type Frame, type Vector } from './vector.js';
import { drawView, type View } from './view.js';

/** Everything that is to be drawn. */
export interface Scene {
  readonly kind: SceneKind;
  readonly view: View;
  readonly light: Light;
  readonly room: Room;
  /** Where brightness is 1, and about what the camera turns. */
  readonly middleMm: Vector;
  /** The tower that the record describes, also where it is not in the picture. */
  readonly told: TowerPlan;
  readonly towers: readonly PlacedTower[];
  readonly reference: PlacedReference | undefined;
  /** How much of the reference something hides. */
  readonly coveredShare: number;
  readonly things: readonly Thing[];
  /** The brightest reflectance that should not be burnt out. */
  readonly brightest: number;
}

const TRIES = 400;

/**
 * Puts a scene together.
 * @param seed - Which one.
 * @param kind - What it is drawn for.
 * @returns The scene and where further chance comes from.
 * @throws {Error} When in hundreds of tries not everything fits into the picture.
 */
export function compose(seed: number, kind: SceneKind): { readonly scene: Scene; readonly random: Random } {
  // Kinds of one seed have nothing in common.
  const random = seeded(seed * 16 + SCENE_KINDS.indexOf(kind) + 1);
  const tile = noiseTile(seed + 17, 0.3, 4, 1);
  for (let attempt = 0; attempt < TRIES; attempt += 1) {
    const scene = tryScene(seed, kind, random, tile, 1 + 0.01 * attempt);
    if (scene !== undefined) return { scene, random };
  }
  throw new Error(`Scene ${kind} ${seed} does not fit into its picture.`);
}

function tryScene(
  seed: number,
  kind: SceneKind,
  random: Random,
  tile: NoiseTile,
  away: number,
): Scene | undefined {
  const { even, chance, pick } = random;
  const told = planTower(random, towerColour(random), seed);
  const { widthMm: w, heightMm: h } = told.recipe;
  const isCovered = kind === 'card-partly-covered';
  const byTower = isCovered && chance(0.4);
  const alone = kind === 'no-tower';
  const object = isCovered
    ? idCard(random, chance(0.5), tile)
    : alone && chance(0.5)
      ? undefined
      : drawReference(random, tile);
  const onPedestal = !byTower && chance(0.3);
  const onFront = onPedestal && object !== undefined && object.heightMm < 95 && chance(0.7);
  const baseMm = onPedestal ? (onFront ? object.heightMm + even(4, 15) : even(10, 60)) : 0;
  const middleMm: Vector = [0, baseMm + h / 2, 0];
  const side = pick([-1, 1]);
  const reference =
    object &&
    placeReference(random, object, {
      faceWidthMm: w,
      side,
      againstMm: onFront ? baseMm : undefined,
      alone,
      overlaps: byTower,
    });
  const neighbour = kind === 'two-towers' ? -side : reference !== undefined && !onFront ? side : 0;
  const view = drawView(random, middleMm, w, away, faceOffset(random, kind, neighbour));
  const { camera } = view;
  const light = drawLight(random, middleMm);
  const towers: PlacedTower[] = [];
  const things: Thing[] = [];
  let boxRgb = told.rgb;
  if (kind === 'box-not-tower') {
    const sizes: Vector = [w * even(0.9, 1.1), h * even(0.9, 1.1), told.depthMm];
    boxRgb = towerColour(random);
    things.push(smoothBox(random, sizes, [-sizes[0] / 2, baseMm, 0], boxRgb, tile));
  } else if (!alone) towers.push({ plan: told, frame: uprightFrame([-w / 2, baseMm, 0]) });
  if (kind === 'two-towers') {
    const plan = planTower(random, towerColour(random), seed + 1_000_003);
    towers.push({ plan, frame: besideTower(random, plan.recipe.widthMm, w, -side, baseMm) });
  }
  if (onPedestal) {
    const wide = kind === 'two-towers' ? w + 280 : w;
    things.push(pedestal(random, wide, baseMm, told.depthMm, onFront, tile));
  }
  if (isCovered && !byTower && reference !== undefined) things.push(coverOf(random, reference, tile));
  const solids = towers.map(solidOfTower).concat(things.flatMap((thing) => thing.solids));
  // A box that is no tower is looked at as a tower would be.
  const faces =
    kind === 'box-not-tower' ? [{ plan: told, frame: uprightFrame([-w / 2, baseMm, 0]) }] : towers;
  if (!fits(kind, camera, faces, reference, solids)) return undefined;
  const sameColour = kind === 'same-colour-wall';
  const wallAtMm = -told.depthMm - (sameColour ? even(30, 150) : even(60, 380));
  const wallRgb = sameColour ? colourOfFace(random, told.rgb, light, middleMm, wallAtMm) : wallColour(random);
  const room = drawRoom(random, wallRgb, wallAtMm, camera.positionMm[2] + 200);
  // Many of them find no place.
  const count = Math.floor(even(alone ? 5 : 0, 14));
  const inView = [
    ...faces.flatMap(pointsOnFace),
    ...(reference === undefined ? [] : pointsOnReference(reference)),
  ];
  for (let i = 0; i < count; i += 1) {
    const footMm: Vector = [even(-220, 220), 0, even(wallAtMm + 40, alone ? 40 : -20)];
    const thing = drawClutter(random, footMm, even(40, 130), tile);
    if (meets(thing.solids, solids) || (inView.length > 0 && hiddenShare(thing.solids, camera, inView) > 0)) {
      continue;
    }
    things.push(thing);
    solids.push(...thing.solids);
  }
  return {
    kind,
    view,
    light,
    room,
    middleMm,
    told,
    towers,
    reference,
    coveredShare: reference === undefined ? 0 : hiddenShare(solids, camera, pointsOnReference(reference)),
    things,
    // A wall may be burnt out a little, as on photos of dark things.
    brightest: Math.max(
      0.1,
      ...boxRgb,
      0.8 * (reference?.object.brightest ?? 0),
      ...wallRgb.map((value) => 0.65 * value),
    ),
  };
}

/** Towers are of any colour; white, grey and black are frequent. */
function towerColour(random: Random): Rgb {
  const { even } = random;
  const kind = even(0, 1);
  const value = kind < 0.2 ? even(0.65, 0.85) : kind < 0.35 ? even(0.025, 0.06) : even(0.15, 0.5);
  if (kind < 0.5) return [value, value * even(0.97, 1.03), value * even(0.94, 1.04)];
  return anyColour(random);
}

function wallColour(random: Random): Rgb {
  const value = random.logEven(0.06, 0.7);
  return [value * random.even(0.85, 1.1), value, value * random.even(0.85, 1.15)];
}

/** The wall behind comes out as bright as the face, within a few hundredths. */
function colourOfFace(random: Random, rgb: Rgb, light: Light, middleMm: Vector, wallAtMm: number): Rgb {
  const there = openLight(light, middleMm, [0, middleMm[1], wallAtMm], [0, 0, 1]);
  const channel = (value: number) => Math.min(0.95, (value * random.even(0.97, 1.03)) / there);
  return [channel(rgb[0]), channel(rgb[1]), channel(rgb[2])];
}

/** A small thing in front of a reference: a tin before its edge or a block before a corner. */
function coverOf(random: Random, { object, frame }: PlacedReference, tile: NoiseTile): Thing {
  const { even, chance, pick } = random;
  const look = plain(anyColour(random), even(0, 0.04), tile);
  const [x, , z] = inFrame(frame, [pick([0.1, 0.3, 0.7, 0.95]) * object.widthMm, 0, 0]);
  const heightMm = object.heightMm * even(0.25, 0.8);
  if (chance(0.5)) {
    const radiusMm = even(5, 14);
    return cylinder([x, 0, z + radiusMm + even(3, 20)], radiusMm, heightMm, look);
  }
  const [w, d] = [even(10, 30), even(5, 20)];
  const place = uprightFrame([x - w / 2, 0, z + d + even(3, 20)], even(-0.3, 0.3));
  return box(place, [w, heightMm, d], { front: look, sides: look, top: look });
}

/**
 * All surfaces of a scene but its desk and wall, and all shadows.
 * @param scene - The scene.
 */
export function build(scene: Scene): Thing {
  const { camera } = scene.view;
  const things: Thing[] = [...scene.things];
  for (const { plan, frame } of scene.towers) {
    const face = pictureOfFace(plan, frame, scene.light, camera.positionMm, facePxPerMm(scene, frame));
    things.push(tower(plan, frame, face, camera.positionMm));
  }
  if (scene.reference !== undefined) things.push(scene.reference.object.build(scene.reference.frame));
  return {
    surfaces: things.flatMap((thing) => thing.surfaces),
    solids: things.flatMap((thing) => thing.solids),
  };
}

/** The picture of a face is twice as dense as the photo, but no denser than this. */
const DENSEST_PX_PER_MM = 30;

function facePxPerMm(scene: Scene, frame: Frame): number {
  const { camera } = scene.view;
  const away = Math.hypot(...minus(camera.positionMm, frame.originMm));
  return Math.min(DENSEST_PX_PER_MM, (2 * camera.focalPx) / away);
}
