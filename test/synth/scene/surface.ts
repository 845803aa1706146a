import { project, type Camera } from './camera.js';
import { cross, dot, minus, plus, times, type Vector } from './vector.js';

/** Linear light or reflectance, red, green, blue. */
export type Rgb = readonly [number, number, number];

/** What a surface looks like. Places on it are mm along its two directions. */
export interface Material {
  /**
   * Which piece of what is printed on it: 0 to 31, and 32 more where pieces are so fine that every pixel needs many
   * rays. Edges between pieces are smoothed. Absent: one piece.
   */
  readonly region?: (u: number, v: number) => number;
  /** Writes the reflectance into `out`; a pixel is `footprintMm` wide there. */
  readonly colour: (u: number, v: number, region: number, footprintMm: number, out: Float64Array) => void;
  /** Rays for each pixel also where there is no edge: 4, or @default 1 */
  readonly rays?: 4;
}

/** Light that falls on a surface, on a grid over it. */
export interface LightMap {
  readonly fromU: number;
  readonly fromV: number;
  readonly cellU: number;
  readonly cellV: number;
  readonly columns: number;
  readonly rows: number;
  readonly values: Float32Array;
}

/** A flat piece: u along `across`, v along `up`, seen from where both turn anticlockwise. */
export interface Patch {
  readonly shape: 'patch';
  readonly originMm: Vector;
  readonly across: Vector;
  readonly up: Vector;
  readonly widthMm: number;
  readonly heightMm: number;
  /** Which part of the rectangle is there. @default all */
  readonly inside?: (u: number, v: number) => boolean;
  readonly material: Material;
  /** Everything else is in front of it. */
  readonly background?: true;
  readonly light: 'lamp' | 'shadow-only' | { readonly share: number };
}

/** The side of an upright cylinder: u is the way round from its z direction, v the height. */
export interface Tube {
  readonly shape: 'tube';
  readonly footMm: Vector;
  readonly radiusMm: number;
  readonly heightMm: number;
  readonly material: Material;
  readonly light: 'lamp';
}

export type Surface = Patch | Tube;

/** A surface as one camera sees it. */
export interface SeenSurface {
  /** Whole px, right and bottom not included. */
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
  /**
   * Where the ray through (x, y), in units of the focal length without lens, meets the surface: writes depth, u and v.
   */
  readonly hit: (x: number, y: number, out: Float64Array) => boolean;
}

function normalOf(patch: Patch): Vector {
  return cross(patch.across, patch.up);
}

/**
 * A point of a surface with its normal.
 * @param surface - The surface.
 * @param u - Mm along its first direction.
 * @param v - Mm along its second direction.
 */
export function pointOn(
  surface: Surface,
  u: number,
  v: number,
): { readonly at: Vector; readonly normal: Vector } {
  if (surface.shape === 'patch') {
    return {
      at: plus(surface.originMm, plus(times(surface.across, u), times(surface.up, v))),
      normal: normalOf(surface),
    };
  }
  const angle = u / surface.radiusMm;
  const normal: Vector = [Math.sin(angle), 0, Math.cos(angle)];
  return { at: plus(surface.footMm, plus(times(normal, surface.radiusMm), [0, v, 0])), normal };
}

/**
 * Prepares a surface for a camera.
 * @param surface - The surface.
 * @param camera - The camera.
 * @returns Its bounds and intersection, or undefined where nothing of it can be seen.
 */
export function see(surface: Surface, camera: Camera): SeenSurface | undefined {
  const bounds = boundsOf(surface, camera);
  if (bounds === undefined) return undefined;
  const hit = surface.shape === 'patch' ? patchHit(surface, camera) : tubeHit(surface, camera);
  return hit && { ...bounds, hit };
}

function patchHit(patch: Patch, camera: Camera): SeenSurface['hit'] | undefined {
  const { originMm, across, up, widthMm, heightMm, inside } = patch;
  const normal = normalOf(patch);
  const from = minus(camera.positionMm, originMm);
  const height = dot(from, normal);
  if (height <= 0) return undefined;
  // depth = −height ÷ (direction · normal), and u, v follow: all linear in x and y but for that division.
  const linear = (axis: Vector): Vector => [
    dot(camera.right, axis),
    dot(camera.down, axis),
    dot(camera.ahead, axis),
  ];
  const [nx, ny, nz] = times(linear(normal), -1 / height);
  const [ux, uy, uz] = linear(across);
  const [vx, vy, vz] = linear(up);
  const u0 = dot(from, across);
  const v0 = dot(from, up);
  return (x, y, out) => {
    const near = nx * x + ny * y + nz;
    if (near <= 1e-9) return false;
    const depth = 1 / near;
    const u = u0 + depth * (ux * x + uy * y + uz);
    if (u < 0 || u > widthMm) return false;
    const v = v0 + depth * (vx * x + vy * y + vz);
    if (v < 0 || v > heightMm || inside?.(u, v) === false) return false;
    out[0] = depth;
    out[1] = u;
    out[2] = v;
    return true;
  };
}

function tubeHit(tube: Tube, camera: Camera): SeenSurface['hit'] {
  const { radiusMm, heightMm } = tube;
  const [fx, fy, fz] = minus(camera.positionMm, tube.footMm);
  const { right, down, ahead } = camera;
  const outside = fx * fx + fz * fz - radiusMm * radiusMm;
  return (x, y, out) => {
    const dx = right[0] * x + down[0] * y + ahead[0];
    const dz = right[2] * x + down[2] * y + ahead[2];
    const a = dx * dx + dz * dz;
    const b = dx * fx + dz * fz;
    const root = b * b - a * outside;
    if (root <= 0 || b >= 0) return false;
    const depth = (-b - Math.sqrt(root)) / a;
    const v = fy + depth * (right[1] * x + down[1] * y + ahead[1]);
    if (v < 0 || v > heightMm) return false;
    out[0] = depth;
    out[1] = radiusMm * Math.atan2(fx + depth * dx, fz + depth * dz);
    out[2] = v;
    return true;
  };
}

type Bounds = Omit<SeenSurface, 'hit'>;

/** Bowed edges lie within a few px of points this close together. */
const POINTS_PER_SIDE = 12;
const MARGIN_PX = 4;

function boundsOf(surface: Surface, camera: Camera): Bounds | undefined {
  const [sideX, sideY] = camera.sidesPx;
  let [left, top, right, bottom] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const point of outlineOf(surface)) {
    const pixel = project(camera, point);
    if (pixel === undefined) return { left: 0, top: 0, right: sideX, bottom: sideY };
    left = Math.min(left, pixel[0]);
    right = Math.max(right, pixel[0]);
    top = Math.min(top, pixel[1]);
    bottom = Math.max(bottom, pixel[1]);
  }
  const bounds = {
    left: Math.max(0, Math.floor(left) - MARGIN_PX),
    top: Math.max(0, Math.floor(top) - MARGIN_PX),
    right: Math.min(sideX, Math.ceil(right) + MARGIN_PX),
    bottom: Math.min(sideY, Math.ceil(bottom) + MARGIN_PX),
  };
  return bounds.left < bounds.right && bounds.top < bounds.bottom ? bounds : undefined;
}

function outlineOf(surface: Surface): readonly Vector[] {
  if (surface.shape === 'tube') {
    return Array.from({ length: 16 }, (_, i) => {
      const { at } = pointOn(surface, (Math.PI / 4) * i * surface.radiusMm, i < 8 ? 0 : surface.heightMm);
      // Tangents at the polygon's corners enclose the circle.
      const stretch = 1 / Math.cos(Math.PI / 8);
      const [x, , z] = minus(at, surface.footMm);
      return [surface.footMm[0] + stretch * x, at[1], surface.footMm[2] + stretch * z];
    });
  }
  const { widthMm, heightMm } = surface;
  return Array.from({ length: 4 * POINTS_PER_SIDE }, (_, i) => {
    const share = (i % POINTS_PER_SIDE) / POINTS_PER_SIDE;
    const side = Math.floor(i / POINTS_PER_SIDE);
    const [u, v] =
      side === 0 ? [share, 0] : side === 1 ? [1, share] : side === 2 ? [1 - share, 1] : [0, 1 - share];
    return pointOn(surface, u * widthMm, v * heightMm).at;
  });
}
