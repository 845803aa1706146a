import type { Mm } from './units.js';

/** Contrast along the wall at one height: a row of the heat map. */
export interface HeatRow {
  readonly heightMm: Mm;
  /** From the leading corner, rising; where nothing was read there is a gap. Shape (columns,). */
  readonly positionsMm: ArrayLike<Mm>;
  /** Brightness less its slow changes, relative contrast, shape (columns,). */
  readonly contrast: ArrayLike<number>;
}
