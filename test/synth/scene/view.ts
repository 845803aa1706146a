import type { Random } from '../random.js';
import { lookAt, type Camera, type Pixel } from './camera.js';
import { plus, times, type Vector } from './vector.js';

/** A camera with what its file says of it. */
export interface View {
  readonly camera: Camera;
  /** The tag for the focal length on 36 × 24 mm film; undefined: the file has no EXIF. */
  readonly tagMm: number | undefined;
  /** When the file says that it was taken, as EXIF writes it; the same day for all unless told. */
  readonly takenAt?: string;
  readonly distanceMm: number;
  readonly azimuthDeg: number;
  readonly elevationDeg: number;
  readonly rollDeg: number;
}

/** Whole pictures of cameras, px (common practice, no source); most have 12 megapixels. */
const SIDES: readonly Pixel[] = [
  [4032, 3024],
  [4032, 3024],
  [4032, 3024],
  [4032, 3024],
  [4032, 3024],
  [4000, 3000],
  [3264, 2448],
  [3264, 2448],
  [2592, 1944],
  [2048, 1536],
];
/** Film's diagonal, mm: by it a tag's 35-mm-equivalent focal length counts. Source: CIPA DCG-001 (from memory). */
const FILM_DIAGONAL_MM = Math.hypot(36, 24);
const MOST_OBLIQUE_DEG = 25;
/** Nearer than this nobody goes; how near differs. */
const NEAREST_MM = [180, 260] as const;
const FURTHEST_MM = 500;

/**
 * A camera in front of a face.
 * @param random - Where chance comes from.
 * @param middleMm - Middle of the face, which looks towards z.
 * @param widthMm - Width of the face.
 * @param away - Shifts the camera back, to have more in the picture; 1: as somebody would who wants the face large.
 * @param offShare - How far the face's middle lies from the picture's middle, shares of its sides.
 */
export function drawView(
  random: Random,
  middleMm: Vector,
  widthMm: number,
  away: number,
  offShare: Pixel,
): View {
  const { even, pick, chance, normal } = random;
  const long = pick(SIDES);
  const sidesPx: Pixel = chance(0.6) ? long : [long[1], long[0]];
  const tag = pick([24, 25, 26, 26, 27, 28, 28, 35, 50, 52, 70]);
  // Two conventions of the tag are 4 % apart, and it is rounded.
  const focalPx = ((tag * Math.hypot(...sidesPx)) / FILM_DIAGONAL_MM) * even(0.965, 1.035);
  const fill = even(0.35, 0.65);
  const wantedMm = ((widthMm * focalPx) / (fill * sidesPx[0])) * away;
  const distanceMm = Math.max(even(...NEAREST_MM), Math.min(FURTHEST_MM, wantedMm));
  const oblique = (MOST_OBLIQUE_DEG * Math.sqrt(even(0, 1)) * Math.PI) / 180;
  const direction = even(-0.25 * Math.PI, 1.25 * Math.PI);
  const azimuth = oblique * Math.cos(direction);
  // Nobody holds a camera below the desk.
  const lowest = Math.asin(Math.min(0, (25 - middleMm[1]) / distanceMm));
  const elevation = Math.max(lowest, -0.05, oblique * Math.sin(direction));
  const positionMm = plus(
    middleMm,
    times(
      [Math.sin(azimuth) * Math.cos(elevation), Math.sin(elevation), Math.cos(azimuth) * Math.cos(elevation)],
      distanceMm,
    ),
  );
  const roll = (Math.max(-6, Math.min(6, 2.5 * normal())) * Math.PI) / 180;
  const first = lookAt(positionMm, middleMm, roll);
  const shift = (share: number, sidePx: number) => (-share * sidePx * distanceMm) / focalPx;
  const target = plus(
    middleMm,
    plus(
      times(first.right, shift(offShare[0], sidesPx[0])),
      times(first.down, shift(offShare[1], sidesPx[1])),
    ),
  );
  const degrees = 180 / Math.PI;
  return {
    camera: { ...lookAt(positionMm, target, roll), sidesPx, focalPx, k1: even(-0.06, 0.03) },
    tagMm: chance(0.15) ? undefined : tag,
    distanceMm,
    azimuthDeg: azimuth * degrees,
    elevationDeg: elevation * degrees,
    rollDeg: roll * degrees,
  };
}
