/** Linear light of red, green and blue, 0 to 1. */
export type Light = readonly [number, number, number];

/** A flat thing in a drawn picture. */
export interface FlatThing {
  /** Homography from its mm to px, 3 × 3 row-major. */
  readonly mmToPx: readonly number[];
  /** Its light at a place on it, mm; undefined beside it, where what lies below is seen. */
  readonly lightAt: (xMm: number, yMm: number) => Light | undefined;
}

/** Points of each px that are averaged, along each side. */
const SAMPLES = 4;
/** Blur of a sharp photo, px (common practice, no source: 0.6 to 1). */
const BLUR_PX = 0.7;

/**
 * Draws flat things over a ground, each px averaged over 4 × 4 points of linear light, and blurred.
 * @param widthPx - Columns.
 * @param heightPx - Rows.
 * @param ground - Light where there is nothing else.
 * @param things - The things, the topmost last.
 * @param noiseSd - Standard deviation of the noise of each px, codes; a fixed sequence.
 * @returns sRGB codes, interleaved, row by row. Px centres lie at +0.5.
 * @see IEC 61966-2-1 for the codes; Box & Muller 1958 for the noise (from memory).
 */
export function drawFlatScene(
  widthPx: number,
  heightPx: number,
  ground: Light,
  things: readonly FlatThing[],
  noiseSd = 1,
): Uint8Array {
  const lightAt = topmost(ground, things);
  const light = new Float64Array(3 * widthPx * heightPx);
  // Where the four corners of a px show the same, so does the px: nothing drawn is thinner than one.
  let above = Array.from({ length: widthPx + 1 }, (_, column) => lightAt(column, 0));
  for (let row = 0, at = 0; row < heightPx; row += 1) {
    const below = above.map((_, column) => lightAt(column, row + 1));
    for (let column = 0; column < widthPx; column += 1, at += 3) {
      const corner = above[column]!;
      const isEven = above[column + 1] === corner && below[column] === corner && below[column + 1] === corner;
      for (let k = 0; k < (isEven ? 1 : SAMPLES * SAMPLES); k += 1) {
        const seen = isEven
          ? corner
          : lightAt(
              column + ((k % SAMPLES) + 0.5) / SAMPLES,
              row + (Math.floor(k / SAMPLES) + 0.5) / SAMPLES,
            );
        for (let colour = 0; colour < 3; colour += 1) {
          light[at + colour] = light[at + colour]! + seen[colour]! / (isEven ? 1 : SAMPLES ** 2);
        }
      }
    }
    above = below;
  }
  const blurred = blurAlong(blurAlong(light, 3, 3 * widthPx), 3 * widthPx, light.length);
  const noise = normalNumbers(7);
  const codes = new Uint8Array(blurred.length);
  for (let at = 0; at < codes.length; at += 1) {
    const code = Math.round(255 * coded(blurred[at]!) + noiseSd * noise());
    codes[at] = Math.max(0, Math.min(255, code));
  }
  return codes;
}

/** What is seen at a place of the picture. */
function topmost(ground: Light, things: readonly FlatThing[]): (x: number, y: number) => Light {
  const layers = things.map(({ mmToPx, lightAt }) => ({ h: inverse(mmToPx), lightAt })).reverse();
  return (x, y) => {
    for (const { h, lightAt } of layers) {
      const w = h[6]! * x + h[7]! * y + h[8]!;
      const seen = lightAt((h[0]! * x + h[1]! * y + h[2]!) / w, (h[3]! * x + h[4]! * y + h[5]!) / w);
      if (seen !== undefined) return seen;
    }
    return ground;
  };
}

/** Gaussian blur along one axis: neighbours lie `step` apart, and a line of them ends every `line`. */
function blurAlong(light: Float64Array, step: number, line: number): Float64Array {
  const reach = Math.ceil(4 * BLUR_PX);
  const weights = Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-(((k - reach) / BLUR_PX) ** 2) / 2),
  );
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const blurred = new Float64Array(light.length);
  for (let at = 0; at < light.length; at += 1) {
    const start = at - (at % line) + (at % step);
    const last = start + line - step;
    let sum = 0;
    for (let k = -reach; k <= reach; k += 1) {
      sum += weights[k + reach]! * light[Math.max(start, Math.min(last, at + k * step))]!;
    }
    blurred[at] = sum / total;
  }
  return blurred;
}

/**
 * View of a plane by a camera that looks at a point of it from a distance, turned about its two axes and rolled.
 * @param view - Focal length and where the point appears, px; distance and the point, mm; angles, degrees.
 * @returns Homography from mm to px.
 * @see Hartley & Zisserman, *Multiple View Geometry*, 2nd ed. 2003, chapter 8 (from memory): K [r1 r2 t].
 */
export function viewOfPlane(view: {
  readonly focalPx: number;
  readonly centrePx: readonly [number, number];
  readonly distanceMm: number;
  readonly lookedAtMm: readonly [number, number];
  readonly panDeg: number;
  readonly tiltDeg: number;
  readonly rollDeg: number;
}): number[] {
  const [p, t, r] = [view.panDeg, view.tiltDeg, view.rollDeg].map((degrees) => (degrees * Math.PI) / 180);
  const [cp, sp, ct, st] = [Math.cos(p!), Math.sin(p!), Math.cos(t!), Math.sin(t!)];
  const [cr, sr] = [Math.cos(r!), Math.sin(r!)];
  // Columns of Rz(roll) · Rx(tilt) · Ry(pan).
  const turn = ([x, y, z]: readonly [number, number, number]): [number, number, number] => {
    const [x1, z1] = [cp * x + sp * z, -sp * x + cp * z];
    const [y2, z2] = [ct * y - st * z1, st * y + ct * z1];
    return [cr * x1 - sr * y2, sr * x1 + cr * y2, z2];
  };
  const [r1, r2] = [turn([1, 0, 0]), turn([0, 1, 0])];
  const [u, v] = view.lookedAtMm;
  const origin = [0, 1, 2].map((k) => -u * r1[k]! - v * r2[k]! + (k === 2 ? view.distanceMm : 0));
  const row = (k: 0 | 1): number[] =>
    [r1, r2, origin].map((column) => view.focalPx * column[k]! + view.centrePx[k] * column[2]!);
  return [...row(0), ...row(1), r1[2], r2[2], origin[2]!];
}

/**
 * Takes a point through a homography.
 * @param h - Homography, 3 × 3 row-major.
 * @param point - The point.
 * @returns Its image.
 */
export function seenAt(h: readonly number[], [x, y]: readonly [number, number]): [number, number] {
  const w = h[6]! * x + h[7]! * y + h[8]!;
  return [(h[0]! * x + h[1]! * y + h[2]!) / w, (h[3]! * x + h[4]! * y + h[5]!) / w];
}

function inverse(h: readonly number[]): number[] {
  const [a, b, c, d, e, f, g, i, j] = h as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  return [
    e * j - f * i,
    c * i - b * j,
    b * f - c * e,
    f * g - d * j,
    a * j - c * g,
    c * d - a * f,
    d * i - e * g,
    b * g - a * i,
    a * e - b * d,
  ];
}

function coded(linear: number): number {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
}

/** Normal numbers from a linear congruential generator (Numerical Recipes' constants, from memory). */
function normalNumbers(seed: number): () => number {
  let state = seed;
  const even = (): number => {
    state = (1664525 * state + 1013904223) % 2 ** 32;
    return (state + 0.5) / 2 ** 32;
  };
  return () => Math.sqrt(-2 * Math.log(even())) * Math.cos(2 * Math.PI * even());
}
