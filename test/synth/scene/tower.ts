import { drawFace } from '../drawFace.js';
import type { Lighting } from '../light.js';
import { fastNormals, type Random } from '../random.js';
import { ladderHz, layerCount, type FaceRecipe } from '../recipe.js';
import { layered, measuredSide, type FacePicture } from './materials.js';
import { boxSolid, piece, type Thing } from './objects.js';
import type { Light, Solid } from './light.js';
import type { Patch, Rgb, Surface } from './surface.js';
import { dot, inFrame, minus, type Frame, type Vector } from './vector.js';

/** A printed tower. */
export interface TowerPlan {
  readonly rgb: Rgb;
  readonly depthMm: number;
  /** Thickness of the wall of a tower that is open at its top; undefined: closed. */
  readonly openWallMm: number | undefined;
  /** How far a brim reaches around it; undefined: none. */
  readonly brimMm: number | undefined;
  /** A foot at its left that does not stand out of the face: how far, upright to and reaching to; undefined: none. */
  readonly footMm?: readonly [outMm: number, landMm: number, heightMm: number];
  readonly leadingCorner: 'left' | 'right';
  /** How far the outline falls back at its leading corner where the ladder is lowest, seen from the front. */
  readonly fallBackMm: number;
  /** All of its face but light and density. */
  readonly recipe: Omit<FaceRecipe, 'pxPerMm' | 'lighting' | 'noise'>;
}

/** How the printed outline differs from the box, mm (rms of layers; bow; first layer). */
const LAYER_JITTER_MM = 0.02;
const BOW_MM = 0.08;
const FIRST_LAYER_MM = 0.09;
/** The patch of the face is larger than the face, so that the outline may stand out. */
const MARGIN_MM = 0.5;
const WHITE_PICTURE = 0.5;
const BRIM_MM = 0.25;

/**
 * A tower that somebody might print: its size, its ringing, its colour.
 * @param random - Where chance comes from.
 * @param rgb - Its colour.
 * @param seed - Of its texture.
 */
export function planTower(random: Random, rgb: Rgb, seed: number): TowerPlan {
  const { even, logEven, pick, chance } = random;
  const layerHeightMm = pick([0.2, 0.2, 0.2, 0.25, 0.3]);
  const heightMm = Math.round(even(42, 85) / layerHeightMm) * layerHeightMm;
  const widthMm = Math.round(even(55, 105));
  return {
    rgb,
    depthMm: even(25, 90),
    openWallMm: chance(0.6) ? even(0.8, 2) : undefined,
    brimMm: chance(0.1) ? even(2, 6) : undefined,
    leadingCorner: pick(['left', 'right']),
    fallBackMm: even(0, 0.5),
    recipe: {
      widthMm,
      heightMm,
      layerHeightMm,
      speedMmPerS: Math.round(even(80, 150)),
      accelerationMmPerS2: 500 * Math.round(even(4, 14)),
      cornerSpeedMmPerS: Math.round(even(2, 10)),
      naturalHz: even(24, 55),
      dampingRatio: even(0.03, 0.12),
      ladder: {
        fromHz: Math.round(even(13, 20)),
        toHz: Math.round(even(60, 70)),
        dampingRatio: pick([0.05, 0.1]),
      },
      wallShaped: chance(0.5),
      gain: logEven(0.4, 1),
      texture: {
        widthSlope: logEven(0.003, 0.03),
        widthMm: even(0.3, 1.5),
        layerJitter: even(0.005, 0.05),
        grain: logEven(0.003, 0.02),
        grooves: even(0.08, 0.35),
      },
      flaws: {
        bulge: even(-0.15, 0.2),
        ...(chance(0.15) ? { slot: { fromMm: even(0.4, 0.6) * widthMm, widthMm: even(0.5, 1.5) } } : {}),
        ...(chance(0.25)
          ? { penLines: [{ heightMm: even(0.2, 0.8) * heightMm, widthMm: even(0.5, 1) }] }
          : {}),
        stains: Array.from({ length: chance(0.3) ? 2 : 0 }, () => ({
          xMm: even(0, widthMm),
          heightMm: even(0, heightMm),
          radiusMm: logEven(0.7, 4),
          depth: even(-0.3, 0.3),
        })),
      },
      seed: seed * 7 + 3,
    },
  };
}

/**
 * Brightness of the face as it comes out under a lamp and from a camera.
 * @param plan - The tower.
 * @param frame - Lower left corner of its face, z outwards.
 * @param light - The lamp.
 * @param cameraMm - Where the camera is.
 * @param pxPerMm - Density of the picture.
 * @returns The picture, upright as in the photo.
 */
export function pictureOfFace(
  plan: TowerPlan,
  frame: Frame,
  light: Light,
  cameraMm: Vector,
  pxPerMm: number,
): FacePicture {
  const { widthMm, heightMm } = plan.recipe;
  const middle = inFrame(frame, [widthMm / 2, heightMm / 2, 0]);
  const towardsFarEnd = plan.leadingCorner === 'left' ? 1 : -1;
  const seenFrom = (place: Vector): Lighting['lamp'] => {
    const way = minus(place, middle);
    const far = Math.hypot(...way);
    const degrees = 180 / Math.PI;
    return {
      azimuthDeg: towardsFarEnd * Math.atan2(dot(way, frame.x), dot(way, frame.z)) * degrees,
      elevationDeg: Math.asin(dot(way, frame.y) / far) * degrees,
      distanceWidths: far / widthMm,
    };
  };
  const drawn = drawFace({
    ...plan.recipe,
    pxPerMm,
    noise: 0,
    lighting: {
      lamp: seenFrom(light.lampMm),
      camera: seenFrom(cameraMm),
      surface: { silk: 0.3, silkAlong: 0.3, silkAcross: 0.9 },
      ambient: light.ambient,
    },
  });
  const { rows, columns } = drawn;
  const brightness = new Float32Array(rows * columns);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const to = plan.leadingCorner === 'left' ? column : columns - 1 - column;
      brightness[row * columns + to] = drawn.light[row * columns + column]! / WHITE_PICTURE;
    }
  }
  return { brightness, rows, columns, pxPerMm, widthMm, heightMm };
}

/**
 * Builds a tower.
 * @param plan - The tower.
 * @param frame - Lower left corner of its face, z outwards.
 * @param face - Brightness of its face.
 * @param cameraMm - Where the camera is: it decides which side shows behind a corner that falls back.
 */
export function tower(plan: TowerPlan, frame: Frame, face: FacePicture, cameraMm: Vector): Thing {
  const { recipe, depthMm: d, rgb, brimMm } = plan;
  const { widthMm: w, heightMm: h, layerHeightMm } = recipe;
  const layers = layerCount(recipe);
  const texture = recipe.texture!;
  const side = layered(rgb, layerHeightMm, layers, texture.grooves, texture.layerJitter, recipe.seed + 5);
  const inside = outlineOf(plan);
  const front: Patch = {
    ...piece(
      frame,
      [-MARGIN_MM, -MARGIN_MM, 0],
      'x',
      'y',
      [w + 2 * MARGIN_MM, h + 2 * MARGIN_MM],
      measuredSide(rgb, face, MARGIN_MM),
      'shadow-only',
    ),
    inside,
  };
  const surfaces: Surface[] = [
    front,
    piece(frame, [0, 0, -d], 'z', 'y', [d, h], side),
    piece(frame, [w, 0, 0], '-z', 'y', [d, h], side),
    piece(frame, [w, 0, -d], '-x', 'y', [w, h], side),
  ];
  // Where the face falls back, the side goes round the corner.
  const eye = dot(minus(cameraMm, frame.originMm), frame.x);
  if (eye < 0) surfaces.push(corner(frame, 0, h, side, inside));
  if (eye > w) surfaces.push(corner(frame, w - CORNER_MM, h, side, inside));
  surfaces.push(...topOf(plan, frame));
  const solids = [solidOfTower({ plan, frame })];
  if (plan.footMm !== undefined) {
    const [out, land, high] = plan.footMm;
    surfaces.push(
      {
        ...piece(frame, [-out, 0, 0], 'x', 'y', [out, high], side),
        inside: (u, v) => u > (out * (v - land)) / (high - land),
      },
      piece(frame, [-out, 0, -d], 'z', 'y', [d, land], side),
    );
  }
  if (brimMm !== undefined) {
    const foot: Frame = { ...frame, originMm: inFrame(frame, [-brimMm, 0, brimMm]) };
    const size: Vector = [w + 2 * brimMm, BRIM_MM, d + 2 * brimMm];
    surfaces.push(
      piece(foot, [0, 0, 0], 'x', 'y', [size[0], BRIM_MM], side),
      piece(foot, [0, BRIM_MM, 0], 'x', '-z', [size[0], size[2]], side),
    );
    solids.push(boxSolid(foot, size));
  }
  return { surfaces, solids };
}

/**
 * What throws the shadow of a tower without its brim.
 * @param placed - The tower and the frame of its face.
 */
export function solidOfTower({ plan, frame }: { readonly plan: TowerPlan; readonly frame: Frame }): Solid {
  return boxSolid(frame, [plan.recipe.widthMm, plan.recipe.heightMm, plan.depthMm]);
}

const CORNER_MM = 0.8;

function corner(
  frame: Frame,
  from: number,
  h: number,
  side: Patch['material'],
  face: (u: number, v: number) => boolean,
): Patch {
  return {
    ...piece(frame, [from, 0, -0.02], 'x', 'y', [CORNER_MM, h], side),
    inside: (u, v) => !face(u + from + MARGIN_MM, v + MARGIN_MM),
  };
}

/** Which places of the face's patch belong to the face. */
function outlineOf(plan: TowerPlan): (u: number, v: number) => boolean {
  const { recipe, fallBackMm, leadingCorner } = plan;
  const { widthMm, heightMm, layerHeightMm, ladder, seed } = recipe;
  const layers = layerCount(recipe);
  const normal = fastNormals(seed + 9);
  const bows = [BOW_MM * normal(), BOW_MM * normal()];
  const out = [0, 1].map((side) =>
    Float64Array.from({ length: layers }, (_, layer) => {
      const up = (layer + 0.5) / layers;
      const bow = bows[side]! * 4 * up * (1 - up) + LAYER_JITTER_MM * normal();
      const leads = side === (leadingCorner === 'left' ? 0 : 1);
      // A shaper spreads the turn over a part of its period, in which the distance of an acceleration grows with the square.
      const back = leads && ladder ? fallBackMm * (ladder.fromHz / ladderHz(ladder, layer, layers)) ** 2 : 0;
      return layer === 0 ? FIRST_LAYER_MM : bow - back;
    }),
  );
  return (u, v) => {
    const x = u - MARGIN_MM;
    const y = v - MARGIN_MM;
    if (y < 0 || y > heightMm) return false;
    const layer = Math.min(layers - 1, Math.floor(y / layerHeightMm));
    return x >= -out[0]![layer]! && x <= widthMm + out[1]![layer]!;
  };
}

/** Lid, or rims with the inside of an open tower. */
function topOf(plan: TowerPlan, frame: Frame): readonly Surface[] {
  const { recipe, rgb, depthMm: d, openWallMm: t } = plan;
  const { widthMm: w, heightMm: h, layerHeightMm, seed } = recipe;
  // The uppermost layer shows its lines from above: as coarse as a nozzle is wide.
  const lid = layered(rgb, 0.45, Math.ceil(Math.max(w, d) / 0.45), 0.2, 0.03, seed + 6);
  if (t === undefined) return [piece(frame, [0, h, 0], 'x', '-z', [w, d], lid)];
  const inner = layered(rgb, layerHeightMm, layerCount(recipe), 0.2, 0.02, seed + 7);
  const dim = { share: 0.35 };
  return [
    piece(frame, [0, h, 0], 'x', '-z', [w, t], lid),
    piece(frame, [0, h, -(d - t)], 'x', '-z', [w, t], lid),
    piece(frame, [0, h, -t], 'x', '-z', [t, d - 2 * t], lid),
    piece(frame, [w - t, h, -t], 'x', '-z', [t, d - 2 * t], lid),
    piece(frame, [w - t, 0, -t], '-x', 'y', [w - 2 * t, h], inner, dim),
    piece(frame, [t, 0, -(d - t)], 'x', 'y', [w - 2 * t, h], inner, { share: 0.5 }),
    piece(frame, [t, 0, -t], '-z', 'y', [d - 2 * t, h], inner, { share: 0.42 }),
    piece(frame, [w - t, 0, -(d - t)], 'z', 'y', [d - 2 * t, h], inner, { share: 0.38 }),
    piece(frame, [t, 1, -t], 'x', '-z', [w - 2 * t, d - 2 * t], inner, { share: 0.2 }),
  ];
}
