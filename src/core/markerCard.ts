import type { Mm } from './units.js';

/**
 * Our printable marker card, for those who draw it and those who look for it. Positions are mm from the centre of the
 * square with id 0, x to the right and y down as the card is held upright.
 */

/** A rectangle on the card, mm. */
export interface CardBox {
  readonly left: Mm;
  readonly top: Mm;
  readonly right: Mm;
  readonly bottom: Mm;
}

/** Centres of the squares: ids 0 to 3 clockwise from top-left. */
export const MARKER_CENTRES_MM: readonly (readonly [Mm, Mm])[] = [
  [0, 0],
  [70, 0],
  [70, 35],
  [0, 35],
];

/**
 * What the squares show, white = 1, rows from the top: ArUco's dictionary DICT_4X4_50, ids 0 to 3. A test holds them
 * against js-aruco2's list.
 */
export const MARKER_CELLS: readonly (readonly string[])[] = [
  ['1011', '0101', '0011', '0010'],
  ['0000', '1111', '1001', '1010'],
  ['0011', '0011', '0010', '1101'],
  ['1001', '1001', '0100', '0110'],
];

/** Side of a square: four cells and a black rim of one cell all around. */
export const MARKER_SIDE_MM: Mm = 18;
export const MARKER_CELL_MM: Mm = MARKER_SIDE_MM / 6;

/** One cell around the squares stays white, or their edges are not seen. */
export const MARKER_FIELD_MM: CardBox = fieldAround(MARKER_SIDE_MM / 2 + MARKER_CELL_MM);

/** Where the card is cut: beyond the white rim, with a strip for writing below. */
export const CARD_MM: CardBox = { left: -15, top: -15, right: 85, bottom: 71 };

/** The code's middle, the room that it has between the squares, and its longest side. */
export const CODE_CENTRE_MM: readonly [Mm, Mm] = [35, 17.5];
export const CODE_FIELD_MM: Mm = 70 - MARKER_SIDE_MM;
export const CODE_SIDE_MM: Mm = 44;
/** White around a code, in its cells: ISO/IEC 18004, 6.3.8 (from memory). */
export const CODE_BORDER_CELLS = 4;

/** The length that is measured with calipers, from the middle of one mark to that of the other. */
export const CHECK_LENGTH_MM: Mm = 90;
/** What it may measure: a printer is off by less, and a page that was fitted to another one, too (common practice, no source). */
export const CHECK_LENGTHS_MM = { least: 0.8 * CHECK_LENGTH_MM, most: 1.2 * CHECK_LENGTH_MM } as const;
export const CHECK_MARKS_MM = { left: -10, right: -10 + CHECK_LENGTH_MM, y: 53 } as const;

function fieldAround(rim: Mm): CardBox {
  const xs = MARKER_CENTRES_MM.map(([x]) => x);
  const ys = MARKER_CENTRES_MM.map(([, y]) => y);
  return {
    left: Math.min(...xs) - rim,
    top: Math.min(...ys) - rim,
    right: Math.max(...xs) + rim,
    bottom: Math.max(...ys) + rim,
  };
}
