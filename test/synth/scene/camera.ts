import { cross, dot, minus, plus, times, unit, type Vector } from './vector.js';

/** Px of the upright photo: x right, y down, origin at the top-left corner of the top-left pixel. */
export type Pixel = readonly [number, number];

/** A pinhole with a lens: r_d = r (1 + k1 r²), r in units of the focal length about the middle of the picture. */
export interface Camera {
  readonly sidesPx: Pixel;
  readonly focalPx: number;
  readonly k1: number;
  readonly positionMm: Vector;
  readonly right: Vector;
  readonly down: Vector;
  readonly ahead: Vector;
}

/**
 * Points a camera at something.
 * @param positionMm - Where the camera is.
 * @param targetMm - What comes out in the middle of the picture.
 * @param rollRad - Turn of the camera about its axis, clockwise as seen from behind it.
 * @returns Its directions.
 */
export function lookAt(
  positionMm: Vector,
  targetMm: Vector,
  rollRad: number,
): Pick<Camera, 'positionMm' | 'right' | 'down' | 'ahead'> {
  const ahead = unit(minus(targetMm, positionMm));
  const level = unit(cross(ahead, [0, 1, 0]));
  const below = cross(ahead, level);
  const [sine, cosine] = [Math.sin(rollRad), Math.cos(rollRad)];
  return {
    positionMm,
    ahead,
    right: plus(times(level, cosine), times(below, sine)),
    down: minus(times(below, cosine), times(level, sine)),
  };
}

/**
 * Where a point comes out in the photo.
 * @param camera - The camera.
 * @param pointMm - The point.
 * @returns Px, or undefined for a point that is not in front of the camera.
 */
export function project(camera: Camera, pointMm: Vector): Pixel | undefined {
  const from = minus(pointMm, camera.positionMm);
  const depth = dot(from, camera.ahead);
  if (depth < 1) return undefined;
  const x = dot(from, camera.right) / depth;
  const y = dot(from, camera.down) / depth;
  const stretch = camera.focalPx * (1 + camera.k1 * (x * x + y * y));
  return [camera.sidesPx[0] / 2 + stretch * x, camera.sidesPx[1] / 2 + stretch * y];
}

const TABLE_STEPS = 8192;

/**
 * Undoes the lens: what a distorted position, in units of the focal length, must be multiplied by.
 * @param camera - The camera.
 * @returns The factor by the square of the distorted radius, which may not lie outside the picture by more than a tenth.
 */
export function undistortion(camera: Camera): (squareOfRadius: number) => number {
  const largest =
    (1.21 * ((camera.sidesPx[0] / 2) ** 2 + (camera.sidesPx[1] / 2) ** 2)) / camera.focalPx ** 2;
  const table = Float64Array.from({ length: TABLE_STEPS + 2 }, (_, i) => {
    const distorted = Math.sqrt((largest * i) / TABLE_STEPS);
    let r = distorted;
    // Newton on r + k1 r³ = r_d.
    for (let step = 0; step < 8; step += 1) {
      r -= (r + camera.k1 * r ** 3 - distorted) / (1 + 3 * camera.k1 * r * r);
    }
    return distorted === 0 ? 1 : r / distorted;
  });
  const scale = TABLE_STEPS / largest;
  return (squareOfRadius) => {
    const place = squareOfRadius * scale;
    const i = Math.min(TABLE_STEPS, Math.floor(place));
    return table[i]! + (place - i) * (table[i + 1]! - table[i]!);
  };
}
