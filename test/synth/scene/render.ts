import { undistortion, type Camera } from './camera.js';
import { lightAt } from './light.js';
import { see, type LightMap, type SeenSurface, type Surface } from './surface.js';

/** A surface with the light on it. */
export interface LitSurface {
  readonly surface: Surface;
  /** A map, or one value for the whole. */
  readonly light: LightMap | number;
}

/** Where the 16 rays of a pixel at an edge go through: each has a row and a column of its own (Hammersley's points). */
const EDGE_RAYS = Array.from({ length: 16 }, (_, i): readonly [number, number] => {
  const reversed = ((i & 1) << 3) | ((i & 2) << 1) | ((i & 4) >> 1) | ((i & 8) >> 3);
  return [(i + 0.5) / 16, (reversed + 0.5) / 16];
});
/** And the four of a pixel within a fine texture, in half pixels from its middle. */
const TEXTURE_RAYS: readonly (readonly [number, number])[] = [
  [-0.75, -0.25],
  [-0.25, 0.75],
  [0.25, -0.75],
  [0.75, 0.25],
];
/** Of a pixel's key: surface in the upper bits, piece of its print in the lower six. */
const REGIONS = 64;
const FINE = 32;
const NOTHING = 255;

interface Seen extends LitSurface {
  readonly seen: SeenSurface;
}

/**
 * Casts rays: one for most pixels, four where a texture is fine, 16 at every edge of a surface or a print.
 * @param camera - The camera.
 * @param lit - Up to 254 surfaces.
 * @returns Linear light, red, green, blue for each pixel, row by row.
 * @throws {RangeError} When there are more surfaces.
 */
export function render(camera: Camera, lit: readonly LitSurface[]): Float32Array {
  const surfaces = lit.flatMap((one): Seen[] => {
    const seen = see(one.surface, camera);
    return seen === undefined ? [] : [{ ...one, seen }];
  });
  if (surfaces.length >= NOTHING)
    throw new RangeError(`Expected at most 254 surfaces but received ${surfaces.length}.`);
  // What is behind everything comes last, and fills what is left.
  surfaces.sort((a, b) => Number(isBackground(a)) - Number(isBackground(b)));
  const tracer = tracerOf(camera, surfaces);
  const factors = factorsOf(camera, tracer.stretch);
  const nearest = findNearest(camera, surfaces, factors);
  const keys = new Uint16Array(nearest.length).fill(NOTHING * REGIONS);
  const out = new Float32Array(3 * nearest.length);
  shadeMiddles(camera, surfaces, tracer, factors, nearest, keys, out);
  smoothEdges(camera, tracer, keys, out);
  return out;
}

function isBackground({ surface }: LitSurface): boolean {
  return surface.shape === 'patch' && surface.background === true;
}

/** Factors of the lens for two by two pixels each: within them they change by less than a fortieth of a pixel. */
function factorsOf(camera: Camera, stretch: Tracer['stretch']): Float64Array {
  const [sideX, sideY] = camera.sidesPx;
  const factors = new Float64Array((sideX / 2) * (sideY / 2));
  let i = 0;
  for (let y = 1 - sideY / 2; y < sideY / 2; y += 2) {
    for (let x = 1 - sideX / 2; x < sideX / 2; x += 2) factors[i++] = stretch(x, y);
  }
  return factors;
}

function findNearest(camera: Camera, surfaces: readonly Seen[], factors: Float64Array): Uint8Array {
  const [sideX, sideY] = camera.sidesPx;
  const nearest = new Uint8Array(sideX * sideY).fill(NOTHING);
  const depths = new Float32Array(sideX * sideY).fill(Infinity);
  const hit = new Float64Array(3);
  surfaces.forEach((one, index) => {
    const { hit: meet, left, top, right, bottom } = one.seen;
    const behind = isBackground(one);
    for (let row = top; row < bottom; row += 1) {
      const yPx = row + 0.5 - sideY / 2;
      const ofRow = (row >> 1) * (sideX / 2);
      for (let column = left; column < right; column += 1) {
        const i = row * sideX + column;
        if (behind && nearest[i] !== NOTHING) continue;
        const factor = factors[ofRow + (column >> 1)]!;
        if (!meet((column + 0.5 - sideX / 2) * factor, yPx * factor, hit) || hit[0]! >= depths[i]!) continue;
        depths[i] = hit[0]!;
        nearest[i] = index;
      }
    }
  });
  return nearest;
}

interface Tracer {
  /** Undistorted position in focal lengths ÷ distorted position in px from the middle. */
  readonly stretch: (xPx: number, yPx: number) => number;
  /** Adds the light of one ray through px from the middle, on the nearest of the surfaces listed. */
  readonly add: (
    xPx: number,
    yPx: number,
    among: readonly number[],
    weight: number,
    sum: Float64Array,
  ) => void;
  /** Writes the light of a surface where it is hit; returns the piece of its print. */
  readonly shade: (index: number, hit: Float64Array, sum: Float64Array) => number;
  /** The same with four colours within the pixel about the hit. */
  readonly shadeFinely: (
    index: number,
    xPx: number,
    yPx: number,
    factor: number,
    hit: Float64Array,
    sum: Float64Array,
  ) => number;
}

function tracerOf(camera: Camera, surfaces: readonly Seen[]): Tracer {
  const undistort = undistortion(camera);
  const { focalPx } = camera;
  const square = 1 / (focalPx * focalPx);
  const stretch = (xPx: number, yPx: number) => undistort((xPx * xPx + yPx * yPx) * square) / focalPx;
  const colour = new Float64Array(3);
  const hit = new Float64Array(3);
  const best = new Float64Array(3);
  const shade = (index: number, at: Float64Array, sum: Float64Array): number => {
    const { surface, light } = surfaces[index]!;
    const { material } = surface;
    const [depth, u, v] = [at[0]!, at[1]!, at[2]!];
    const region = material.region?.(u, v) ?? 0;
    material.colour(u, v, region, depth / focalPx, colour);
    const strength = typeof light === 'number' ? light : lightAt(light, u, v);
    sum[0] = strength * colour[0]!;
    sum[1] = strength * colour[1]!;
    sum[2] = strength * colour[2]!;
    return region;
  };
  const one = new Float64Array(3);
  const beside = new Float64Array(3);
  const below = new Float64Array(3);
  return {
    stretch,
    shade,
    shadeFinely: (index, xPx, yPx, factor, at, sum) => {
      const { seen, surface, light } = surfaces[index]!;
      if (
        !seen.hit((xPx + 0.5) * factor, yPx * factor, beside) ||
        !seen.hit(xPx * factor, (yPx + 0.5) * factor, below)
      ) {
        return shade(index, at, sum);
      }
      const [depth, u, v] = [at[0]!, at[1]!, at[2]!];
      const strength = (typeof light === 'number' ? light : lightAt(light, u, v)) / TEXTURE_RAYS.length;
      sum.fill(0);
      for (const [dx, dy] of TEXTURE_RAYS) {
        surface.material.colour(
          u + dx * (beside[1]! - u) + dy * (below[1]! - u),
          v + dx * (beside[2]! - v) + dy * (below[2]! - v),
          0,
          depth / focalPx,
          colour,
        );
        for (let c = 0; c < 3; c += 1) sum[c]! += strength * colour[c]!;
      }
      return 0;
    },
    add: (xPx, yPx, among, weight, sum) => {
      const factor = stretch(xPx, yPx);
      let [found, depth] = [-1, Infinity];
      for (const index of among) {
        const seen = surfaces[index]!.seen;
        if (!seen.hit(xPx * factor, yPx * factor, hit) || hit[0]! >= depth) continue;
        if (found >= 0 && isBackground(surfaces[index]!)) continue;
        [found, depth] = [index, hit[0]!];
        best.set(hit);
      }
      if (found < 0) return;
      shade(found, best, one);
      sum[0]! += weight * one[0]!;
      sum[1]! += weight * one[1]!;
      sum[2]! += weight * one[2]!;
      sum[3]! += weight;
    },
  };
}

/**
 * Colours away from edges: one ray for each pixel of a print, four colours along one ray where a texture is fine, and
 * one ray for two by two pixels on all else, whose texture is coarser than that or only grain.
 */
function shadeMiddles(
  camera: Camera,
  surfaces: readonly Seen[],
  tracer: Tracer,
  factors: Float64Array,
  nearest: Uint8Array,
  keys: Uint16Array,
  out: Float32Array,
): void {
  const [sideX, sideY] = camera.sidesPx;
  const hit = new Float64Array(3);
  const sum = new Float64Array(3);
  const isSmooth = surfaces.map(
    ({ surface }) => surface.material.region === undefined && surface.material.rays === undefined,
  );
  const shade = (index: number, xPx: number, yPx: number, factor: number): number => {
    const { seen, surface } = surfaces[index]!;
    if (!seen.hit(xPx * factor, yPx * factor, hit)) return 0;
    return surface.material.rays === 4
      ? tracer.shadeFinely(index, xPx, yPx, factor, hit, sum)
      : tracer.shade(index, hit, sum);
  };
  const write = (i: number, key: number) => {
    keys[i] = key;
    out[3 * i] = sum[0]!;
    out[3 * i + 1] = sum[1]!;
    out[3 * i + 2] = sum[2]!;
  };
  // Sides are even: cameras' pictures are.
  for (let row = 0; row < sideY; row += 2) {
    const y = row - sideY / 2;
    for (let column = 0; column < sideX; column += 2) {
      const x = column - sideX / 2;
      const factor = factors[(row >> 1) * (sideX / 2) + (column >> 1)]!;
      const first = row * sideX + column;
      const index = nearest[first]!;
      if (
        index !== NOTHING &&
        isSmooth[index] &&
        nearest[first + 1] === index &&
        nearest[first + sideX] === index &&
        nearest[first + sideX + 1] === index
      ) {
        shade(index, x + 1, y + 1, factor);
        write(first, index * REGIONS);
        write(first + 1, index * REGIONS);
        write(first + sideX, index * REGIONS);
        write(first + sideX + 1, index * REGIONS);
        continue;
      }
      for (let four = 0; four < 4; four += 1) {
        const [dx, dy] = [four & 1, four >> 1];
        const i = first + dx + dy * sideX;
        const own = nearest[i]!;
        if (own === NOTHING) continue;
        const region = shade(own, x + dx + 0.5, y + dy + 0.5, factor);
        write(i, own * REGIONS + region);
      }
    }
  }
}

/** Sixteen rays where a neighbour shows another surface or another piece of print, or the print is fine. */
function smoothEdges(camera: Camera, { add }: Tracer, keys: Uint16Array, out: Float32Array): void {
  const [sideX, sideY] = camera.sidesPx;
  const sum = new Float64Array(4);
  const among: number[] = [];
  for (let row = 0; row < sideY; row += 1) {
    const [above, below] = [row > 0 ? -sideX : 0, row < sideY - 1 ? sideX : 0];
    for (let column = 0; column < sideX; column += 1) {
      const i = row * sideX + column;
      const key = keys[i]!;
      const [left, right] = [column > 0 ? -1 : 0, column < sideX - 1 ? 1 : 0];
      if (
        (key & FINE) === 0 &&
        keys[i + left] === key &&
        keys[i + right] === key &&
        keys[i + above] === key &&
        keys[i + below] === key
      ) {
        continue;
      }
      among.length = 0;
      for (const dy of [above, 0, below]) {
        for (const dx of [left, 0, right]) {
          const index = keys[i + dy + dx]! >> 6;
          if (index !== NOTHING && !among.includes(index)) among.push(index);
        }
      }
      among.sort((a, b) => a - b);
      sum.fill(0);
      for (const [dx, dy] of EDGE_RAYS) {
        add(column + dx - sideX / 2, row + dy - sideY / 2, among, 1, sum);
      }
      // Where a ray meets nothing it is dark.
      for (let c = 0; c < 3; c += 1) out[3 * i + c] = sum[c]! / EDGE_RAYS.length;
    }
  }
}
