import type { Mm } from '../../core/units.js';
import type { Place, Shape } from '../drawing.js';

/** A box of a page that is filled from its top, mm. */
export interface Column {
  readonly left: Mm;
  readonly top: Mm;
  readonly width: Mm;
  readonly height: Mm;
}

/** Finished shapes, and how much room they took. */
export interface Block {
  readonly shapes: readonly Shape[];
  readonly heightMm: Mm;
}

/** Something that stays together: drawn with its upper left corner at a place. */
export type Piece = (at: Place) => Block;

/** Halvings until columns are of one length to a tenth of a millimetre. */
const ROUNDS = 12;

/**
 * Fills columns one after the other, page after page.
 * @param pieces - In their order, each as wide as a column.
 * @param columnsOf - The columns of a page, counted from 0; all of one width.
 * @param even - Whether the columns of a page that holds all are made as short as can be. @default false
 * @returns The shapes of each page, at least one.
 */
export function flow(
  pieces: readonly Piece[],
  columnsOf: (page: number) => readonly Column[],
  even = false,
): readonly (readonly Shape[])[] {
  const heights = pieces.map((piece) => piece([0, 0]).heightMm);
  const pages: (readonly Shape[])[] = [];
  let from = 0;
  while (from < pieces.length) {
    const columns = columnsOf(pages.length);
    const { to, places: full } = fill(heights, from, columns, Infinity);
    const fits = to === pieces.length && even;
    const { places } = fits
      ? fill(heights, from, columns, shortest(heights, from, columns))
      : { places: full };
    // A whole page for itself, and still too long: it runs over the edge, but is not lost.
    if (places.length === 0 && pages.length > 0) places.push([columns[0]?.left ?? 0, columns[0]?.top ?? 0]);
    pages.push(places.flatMap((place, i) => pieces[from + i]?.(place).shapes ?? []));
    from += places.length;
  }
  return pages.length === 0 ? [[]] : pages;
}

/** How far down columns must reach to hold all. */
function shortest(heights: readonly Mm[], from: number, columns: readonly Column[]): Mm {
  let [low, high] = [0, Math.max(...columns.map(({ height }) => height))];
  for (let round = 0; round < ROUNDS; round += 1) {
    const middle = (low + high) / 2;
    if (fill(heights, from, columns, middle).to === heights.length) high = middle;
    else low = middle;
  }
  return high;
}

/** Places of as many pieces as fit. */
function fill(
  heights: readonly Mm[],
  from: number,
  columns: readonly Column[],
  most: Mm,
): { readonly to: number; readonly places: Place[] } {
  const places: Place[] = [];
  let to = from;
  for (const { left, top, height } of columns) {
    let y = 0;
    for (;;) {
      const next = heights[to];
      if (next === undefined) break;
      if (y + next > Math.min(height, most)) break;
      places.push([left, top + y]);
      y += next;
      to += 1;
    }
  }
  return { to, places };
}
