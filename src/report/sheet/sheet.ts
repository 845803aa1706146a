import type { Row } from '../recordRows.js';

/** Charts as wide as the sheet are drawn for this width, px, and those of a column for the other. */
export const WIDE_PX = 900;
export const COLUMN_PX = 300;

/** A chart or a marked photo with its words. */
export interface SheetFigure {
  /** SVG of our charts, in a box from 0, 0. */
  readonly svg: string;
  readonly widthPx: number;
  readonly heightPx: number;
  /** What it shows, for those who do not see it. */
  readonly alt: string;
  /** What its signs mean. */
  readonly caption: string;
}

/** One part of the evidence. What is empty is left out. */
export interface SheetSection {
  readonly name: string;
  readonly lines?: readonly string[];
  /** What is to be done: each with a box to tick. */
  readonly boxes?: readonly string[];
  readonly rows?: readonly Row[];
  readonly figure?: SheetFigure;
}

/** The evidence of one reading. */
export interface SheetSide {
  /** Machine and print, above the verdict. */
  readonly heading: string;
  readonly axis: string;
  /** The number, or the reason where there is none. */
  readonly answer: string;
  readonly rest: string;
  readonly goodFor: string;
  /** To which axis the value belongs, once more in words. */
  readonly belongs: string;
  readonly mark: SheetFigure;
  /** Charts as wide as the sheet. */
  readonly pictures: readonly SheetFigure[];
  /** In the order of reading. */
  readonly sections: readonly SheetSection[];
}

/** A sheet of evidence, described once for every format. */
export interface Sheet {
  readonly title: string;
  readonly description: string;
  /** One reading, or two axes of one machine from left to right. */
  readonly sides: readonly [SheetSide] | readonly [SheetSide, SheetSide];
}
