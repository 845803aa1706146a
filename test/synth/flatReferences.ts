import type { Light } from './flatScene.js';

const WHITE: Light = [0.8, 0.8, 0.78];
const BLACK: Light = [0.03, 0.03, 0.03];

/**
 * Codes of OpenCV's predefined dictionary DICT_4X4_50, first four, as bytes of rows of cells, white is 1 (from memory).
 */
export const MARKER_CODES = [0xb532, 0x0f9a, 0x332d, 0x9946] as const;

/**
 * The marker card: squares of 18 mm with centres 70 and 35 mm apart; mm from the centre of the top-left one.
 * @param codes - Code of each square clockwise from top-left; undefined leaves it out.
 * @returns Its light.
 */
export function markerCard(
  codes: readonly (number | undefined)[] = MARKER_CODES,
): (x: number, y: number) => Light | undefined {
  const centres = [
    [0, 0],
    [70, 0],
    [70, 35],
    [0, 35],
  ] as const;
  return (x, y) => {
    if (x < -16 || x > 86 || y < -16 || y > 51) return undefined;
    for (const [i, [cx, cy]] of centres.entries()) {
      const code = codes[i];
      const column = Math.floor((x - cx + 9) / 3);
      const row = Math.floor((y - cy + 9) / 3);
      if (code === undefined || column < 0 || column > 5 || row < 0 || row > 5) continue;
      const isCell = column >= 1 && column <= 4 && row >= 1 && row <= 4;
      const bit = 15 - (4 * (row - 1) + column - 1);
      return isCell && (code >> bit) % 2 === 1 ? WHITE : BLACK;
    }
    return WHITE;
  };
}

/**
 * A card of format ID-1 lying, mm from its top-left corner (ISO/IEC 7810: 85.60 × 53.98 mm, radius 3.18 mm).
 * @param light - Its colour.
 * @param radiusMm - Radius of its corners; 0 makes it a piece of paper of that size.
 * @param sizeMm - Width and height.
 * @returns Its light.
 */
export function idCard(
  light: Light,
  radiusMm = 3.18,
  sizeMm: readonly [number, number] = [85.6, 53.98],
): (x: number, y: number) => Light | undefined {
  const [width, height] = sizeMm;
  return (x, y) => {
    const fromX = Math.min(x, width - x);
    const fromY = Math.min(y, height - y);
    if (fromX < 0 || fromY < 0) return undefined;
    const beyond =
      fromX < radiusMm && fromY < radiusMm && Math.hypot(radiusMm - fromX, radiusMm - fromY) > radiusMm;
    return beyond ? undefined : light;
  };
}

/** How a ruler is divided. */
export interface Division {
  /** Distance of neighbouring marks, mm. */
  readonly everyMm: number;
  /** Length of each mark by its number, mm. */
  readonly lengthMm: (number: number) => number;
  readonly lengthOfScaleMm: number;
  readonly bright?: boolean;
}

/** A scale in millimetres: fifth and tenth marks longer (common practice, no source). */
export const MILLIMETRES: Division = {
  everyMm: 1,
  lengthMm: (number) => (number % 10 === 0 ? 8 : number % 5 === 0 ? 5.5 : 3.5),
  lengthOfScaleMm: 100,
};
/** In half millimetres (common practice, no source). */
export const HALF_MILLIMETRES: Division = {
  everyMm: 0.5,
  lengthMm: (number) => (number % 20 === 0 ? 8 : number % 10 === 0 ? 6.5 : number % 2 === 0 ? 5 : 3),
  lengthOfScaleMm: 100,
};
/** In sixteenths of an inch: each second, fourth, eighth and sixteenth longer (common practice, no source). */
export const SIXTEENTHS: Division = {
  everyMm: 25.4 / 16,
  lengthMm: (number) =>
    number % 16 === 0 ? 8 : number % 8 === 0 ? 6.5 : number % 4 === 0 ? 5 : number % 2 === 0 ? 4 : 3,
  lengthOfScaleMm: 100,
};

/**
 * A ruler 25 mm wide with marks 0.2 mm thick from its upper edge, mm along from its first mark and down from that edge.
 * @param division - Its marks.
 * @returns Its light.
 */
export function ruler(division: Division): (x: number, y: number) => Light | undefined {
  const { everyMm, lengthMm, lengthOfScaleMm, bright = false } = division;
  const [ink, ground] = bright ? [WHITE, BLACK] : [BLACK, WHITE];
  return (x, y) => {
    if (y < 0 || y > 25 || x < -4 || x > lengthOfScaleMm + 4) return undefined;
    const number = Math.round(x / everyMm);
    const isOn = number >= 0 && number * everyMm <= lengthOfScaleMm + 1e-9;
    return isOn && Math.abs(x - number * everyMm) < 0.1 && y < lengthMm(number) ? ink : ground;
  };
}
