import type { Random } from '../random.js';
import { pointOn, type LightMap, type Surface } from './surface.js';
import { dot, minus, plus, times, type Frame, type Vector } from './vector.js';

/** One lamp, a ball, and light from all around. */
export interface Light {
  readonly lampMm: Vector;
  readonly radiusMm: number;
  /** Share of the light in the middle of the face that comes from all around. */
  readonly ambient: number;
}

/** Something that throws a shadow. */
export type Solid =
  /** From 0 to `sizesMm` in its frame. */
  | { readonly shape: 'box'; readonly frame: Frame; readonly sizesMm: Vector }
  | {
      readonly shape: 'cylinder';
      readonly footMm: Vector;
      readonly radiusMm: number;
      readonly heightMm: number;
    };

/**
 * Whether something stands between a point and a place.
 * @param solids - What may stand there.
 * @param from - The point.
 * @param way - From there to the place.
 */
export function isBlocked(solids: readonly Solid[], from: Vector, way: Vector): boolean {
  return solids.some((solid) =>
    solid.shape === 'box' ? boxBlocks(solid, from, way) : cylinderBlocks(solid, from, way),
  );
}

function boxBlocks(box: Solid & { shape: 'box' }, from: Vector, way: Vector): boolean {
  const away = minus(from, box.frame.originMm);
  let [enter, leave] = [0, 1];
  for (let axis = 0; axis < 3; axis += 1) {
    const direction = axis === 0 ? box.frame.x : axis === 1 ? box.frame.y : box.frame.z;
    const start = dot(away, direction);
    const step = dot(way, direction);
    const size = box.sizesMm[axis]!;
    if (Math.abs(step) < 1e-12) {
      if (start < 0 || start > size) return false;
      continue;
    }
    const [a, b] = [-start / step, (size - start) / step];
    enter = Math.max(enter, Math.min(a, b));
    leave = Math.min(leave, Math.max(a, b));
    if (enter >= leave) return false;
  }
  return true;
}

function cylinderBlocks(solid: Solid & { shape: 'cylinder' }, from: Vector, way: Vector): boolean {
  const [x, y, z] = minus(from, solid.footMm);
  const a = way[0] * way[0] + way[2] * way[2];
  const b = x * way[0] + z * way[2];
  const c = x * x + z * z - solid.radiusMm ** 2;
  const root = b * b - a * c;
  if (root <= 0 || a === 0) return false;
  let [enter, leave] = [(-b - Math.sqrt(root)) / a, (-b + Math.sqrt(root)) / a];
  if (way[1] !== 0) {
    const [low, high] = [-y / way[1], (solid.heightMm - y) / way[1]];
    enter = Math.max(enter, Math.min(low, high));
    leave = Math.min(leave, Math.max(low, high));
  } else if (y < 0 || y > solid.heightMm) return false;
  return Math.max(0, enter) < Math.min(1, leave);
}

/** Rays of each cell to the lamp and all around; the map is smoothed afterwards. */
const LAMP_RAYS = 6;
const AROUND_RAYS = 6;
/** Things further away than this hardly darken a corner. */
const AROUND_MM = 90;
const CELLS_PER_SIDE = 200;
const SMALLEST_CELL_MM = 1.2;
/** Rays begin this far above their surface, so that it does not block itself. */
const LIFT_MM = 0.05;

/** The part of a large surface that needs a fine map. */
export interface Window {
  readonly fromU: number;
  readonly toU: number;
  readonly fromV: number;
  readonly toV: number;
}

/**
 * Light on a surface: Lambert's cosine, the square of the lamp's distance, soft shadows, darker corners.
 * @param surface - The surface.
 * @param light - Lamp and surroundings.
 * @param faceMiddleMm - Where the light is 1 on a wall towards z.
 * @param solids - What throws shadows.
 * @param window - The part that is mapped; outside the nearest value holds.
 * @param random - Where the rays' chance comes from.
 * @returns The map; of a surface lit `shadow-only` the share of its light that reaches it.
 */
export function mapLight(
  surface: Surface,
  light: Light,
  faceMiddleMm: Vector,
  solids: readonly Solid[],
  window: Window,
  random: Random,
): LightMap {
  const spanU = window.toU - window.fromU;
  const spanV = window.toV - window.fromV;
  const cell = Math.max(SMALLEST_CELL_MM, Math.max(spanU, spanV) / CELLS_PER_SIDE);
  const columns = Math.max(2, Math.ceil(spanU / cell));
  const rows = Math.max(2, Math.ceil(spanV / cell));
  const [cellU, cellV] = [spanU / columns, spanV / rows];
  const raw = new Float32Array(columns * rows);
  const middle = directLight(light, faceMiddleMm, [0, 0, 1]);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const { at, normal } = pointOn(
        surface,
        window.fromU + (column + 0.5) * cellU,
        window.fromV + (row + 0.5) * cellV,
      );
      const from = plus(at, times(normal, LIFT_MM));
      const direct = directLight(light, at, normal);
      const seen = direct > 0 ? lampShare(light, from, solids, random) : 0;
      const around = aroundShare(from, normal, solids, random);
      if (surface.light === 'shadow-only') {
        raw[row * columns + column] = light.ambient * around + (1 - light.ambient) * seen;
      } else {
        // Ceilings and walls give more light from above than the desk from below.
        raw[row * columns + column] =
          light.ambient * around * (1 + 0.3 * normal[1]) + ((1 - light.ambient) * seen * direct) / middle;
      }
    }
  }
  return {
    fromU: window.fromU,
    fromV: window.fromV,
    cellU,
    cellV,
    columns,
    rows,
    values: smoothed(raw, columns, rows),
  };
}

/**
 * Light on a place with nothing in the way.
 * @param light - Lamp and surroundings.
 * @param faceMiddleMm - Where the light is 1 on a wall towards z.
 * @param at - The place.
 * @param normal - Of the surface there.
 */
export function openLight(light: Light, faceMiddleMm: Vector, at: Vector, normal: Vector): number {
  const share = directLight(light, at, normal) / directLight(light, faceMiddleMm, [0, 0, 1]);
  return light.ambient * (1 + 0.3 * normal[1]) + (1 - light.ambient) * share;
}

function directLight(light: Light, at: Vector, normal: Vector): number {
  const way = minus(light.lampMm, at);
  const far = dot(way, way);
  return Math.max(0, dot(way, normal)) / (far * Math.sqrt(far));
}

function lampShare(light: Light, from: Vector, solids: readonly Solid[], random: Random): number {
  let seen = 0;
  for (let ray = 0; ray < LAMP_RAYS; ray += 1) {
    const place = plus(light.lampMm, times(onBall(random), light.radiusMm));
    if (!isBlocked(solids, from, minus(place, from))) seen += 1 / LAMP_RAYS;
  }
  return seen;
}

/** Share of cosine-weighted directions where nothing is near. */
function aroundShare(from: Vector, normal: Vector, solids: readonly Solid[], random: Random): number {
  let free = 0;
  for (let ray = 0; ray < AROUND_RAYS; ray += 1) {
    // A point on the ball that touches the surface lies in a cosine-weighted direction (Lambert; from memory).
    const way = times(plus(normal, times(onBall(random), 0.999)), AROUND_MM);
    if (!isBlocked(solids, from, way)) free += 1 / AROUND_RAYS;
  }
  return 0.25 + 0.75 * free;
}

function onBall(random: Random): Vector {
  const z = random.even(-1, 1);
  const angle = random.even(0, 2 * Math.PI);
  const r = Math.sqrt(1 - z * z);
  return [r * Math.cos(angle), r * Math.sin(angle), z];
}

/** Three times the mean of each cell and its neighbours, edges continued. */
function smoothed(values: Float32Array, columns: number, rows: number): Float32Array {
  let from: Float32Array = values;
  let to: Float32Array = new Float32Array(values.length);
  for (let round = 0; round < 6; round += 1) {
    const [step, count] = round % 2 === 0 ? [1, columns] : [columns, rows];
    for (let i = 0; i < from.length; i += 1) {
      const place = round % 2 === 0 ? i % columns : Math.floor(i / columns);
      const before = place > 0 ? from[i - step]! : from[i]!;
      const after = place < count - 1 ? from[i + step]! : from[i]!;
      to[i] = (before + 2 * from[i]! + after) / 4;
    }
    [from, to] = [to, from];
  }
  return from;
}

/**
 * Light at a place of a surface, bilinear between the cells.
 * @param map - The map.
 * @param u - Place, mm.
 * @param v - Place, mm.
 */
export function lightAt(map: LightMap, u: number, v: number): number {
  const { columns, rows, values } = map;
  const x = Math.max(0, Math.min(columns - 1.001, (u - map.fromU) / map.cellU - 0.5));
  const y = Math.max(0, Math.min(rows - 1.001, (v - map.fromV) / map.cellV - 0.5));
  const column = Math.floor(x);
  const row = Math.floor(y);
  const i = row * columns + column;
  const [a, b] = [x - column, y - row];
  return (
    (1 - b) * ((1 - a) * values[i]! + a * values[i + 1]!) +
    b * ((1 - a) * values[i + columns]! + a * values[i + columns + 1]!)
  );
}
