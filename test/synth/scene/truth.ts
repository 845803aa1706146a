import { layerCount, type FaceRecipe } from '../recipe.js';
import type { Pixel } from './camera.js';
import type { Scene } from './compose.js';
import type { Development } from './develop.js';
import { EXPECTED, type Expected, type SceneKind } from './kinds.js';
import type { PlacedReference } from './placing.js';
import { faceCorners } from './sight.js';
import { inFrame, minus, type Vector } from './vector.js';
import type { View } from './view.js';

export type Corners = readonly [Pixel, Pixel, Pixel, Pixel];

/** What is true of a drawn photograph; px of the photo as a viewer shows it, lens included. */
export interface SceneTruth {
  readonly kind: SceneKind;
  readonly seed: number;
  readonly expected: Expected;
  readonly sidesPx: Pixel;
  /** Corners of the nominal box: top-left, top-right, bottom-right, bottom-left as printed. Absent: no tower. */
  readonly cornersPx?: Corners;
  readonly face?: TowerTruth;
  /** Of a second tower, that the record does not describe. */
  readonly otherCornersPx?: Corners;
  readonly otherFace?: TowerTruth;
  readonly reference?: {
    readonly kind: 'id1-card' | 'ruler' | 'marker-card';
    readonly behindFaceMm: number;
    /** How much of it something hides. */
    readonly coveredShare: number;
    /** Corners of the card (its rounding continued), corners of the markers by id, or marks every 10 mm at the ruler's edge. */
    readonly points: readonly { readonly px: Pixel; readonly mm: Pixel }[];
    readonly outlinePx: readonly Pixel[];
  };
  readonly camera: {
    readonly focalPx: number;
    readonly k1: number;
    readonly tagMm?: number;
    readonly distanceMm: number;
    readonly azimuthDeg: number;
    readonly elevationDeg: number;
    readonly rollDeg: number;
  };
  readonly blurPx: number;
  readonly exposure: number;
  readonly noise: { readonly shot: number; readonly read: number };
  /** The lamp from the middle of the face, mm: right, up, towards the camera. */
  readonly lampMm: Vector;
  /** Share of the light that comes from all around. */
  readonly ambient: number;
  readonly orientation: number;
}

/** A tower as it was drawn. */
export interface TowerTruth {
  readonly recipe: Omit<FaceRecipe, 'pxPerMm' | 'lighting' | 'noise'>;
  readonly leadingCorner: 'left' | 'right';
  readonly rgb: readonly [number, number, number];
}

/**
 * The truth of a photo.
 * @param scene - What was drawn.
 * @param seed - Which one.
 * @param taken - By which camera, with which settings, in which EXIF orientation.
 * @param see - Where a point of the scene comes out.
 */
export function truthOf(
  scene: Scene,
  seed: number,
  taken: { readonly view: View; readonly development: Development; readonly orientation: number },
  see: (point: Vector) => Pixel,
): SceneTruth {
  const { development, orientation } = taken;
  const { camera, tagMm, distanceMm, azimuthDeg, elevationDeg, rollDeg } = taken.view;
  const corners = scene.towers.map((one): Corners => {
    const [tl, tr, br, bl] = faceCorners(one);
    return [see(tl), see(tr), see(br), see(bl)];
  });
  const faces = scene.towers.map(({ plan: { recipe, leadingCorner, rgb } }): TowerTruth => ({
    recipe,
    leadingCorner,
    rgb,
  }));
  return {
    kind: scene.kind,
    seed,
    expected: EXPECTED[scene.kind],
    sidesPx: camera.sidesPx,
    ...(corners[0] && faces[0] ? { cornersPx: corners[0], face: faces[0] } : {}),
    ...(corners[1] && faces[1] ? { otherCornersPx: corners[1], otherFace: faces[1] } : {}),
    ...(scene.reference === undefined
      ? {}
      : { reference: referenceTruth(scene.reference, scene.coveredShare, see) }),
    camera: {
      focalPx: camera.focalPx,
      k1: camera.k1,
      ...(tagMm === undefined ? {} : { tagMm }),
      distanceMm,
      azimuthDeg,
      elevationDeg,
      rollDeg,
    },
    blurPx: development.blurPx,
    exposure: development.exposure,
    noise: { shot: development.shotNoise, read: development.readNoise },
    lampMm: minus(scene.light.lampMm, scene.middleMm),
    ambient: scene.light.ambient,
    orientation,
  };
}

function referenceTruth(
  { object, frame, behindMm }: PlacedReference,
  coveredShare: number,
  see: (point: Vector) => Pixel,
): NonNullable<SceneTruth['reference']> {
  const at = ([x, y]: readonly [number, number]) => see(inFrame(frame, [x, y, 0]));
  return {
    kind: object.kind,
    behindFaceMm: behindMm,
    coveredShare,
    points: object.points.map((point) => ({ px: at(point.at), mm: point.mm })),
    outlinePx: object.outline.map(at),
  };
}

/**
 * What the tower's owner would write, in the format of schema/print-record.schema.json.
 * @param scene - What was drawn.
 * @param seed - Which one.
 */
export function recordOf(scene: Scene, seed: number): Readonly<Record<string, unknown>> {
  const { recipe, leadingCorner } = scene.told;
  const layers = layerCount(recipe);
  const { ladder } = recipe;
  const { reference } = scene;
  return {
    schema: 'stillband/print-record@1',
    title: `${scene.kind} ${seed}`,
    axis: seed % 2 === 0 ? 'X' : 'Y',
    speedMmPerS: recipe.speedMmPerS,
    accelerationMmPerS2: recipe.accelerationMmPerS2,
    cornerSpeedMmPerS: recipe.cornerSpeedMmPerS,
    layerHeightMm: recipe.layerHeightMm,
    layers,
    face: {
      widthMm: recipe.widthMm,
      heightMm: Math.round(recipe.heightMm * 1000) / 1000,
      leadingCorner,
    },
    ...(ladder === undefined
      ? { ladder: { kind: 'off' } }
      : {
          shaper: {
            family: 'ZV',
            dampingRatio: ladder.dampingRatio,
            hzMeans: 'natural',
            alongWall: recipe.wallShaped ? 'as-ladder' : 'off',
          },
          ladder: {
            kind: 'linear',
            fromHz: ladder.fromHz,
            toHz: ladder.toHz,
            firstLayer: 0,
            lastLayer: layers - 1,
          },
        }),
    reference:
      reference === undefined
        ? { kind: 'face' }
        : {
            kind: reference.object.kind,
            // Told to the millimetre, as somebody measures it.
            behindFaceMm: Math.round(reference.behindMm),
          },
  };
}
