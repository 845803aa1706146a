/** A place on a page: x from its left edge, y down from its top edge, mm. */
export type Place = readonly [xMm: number, yMm: number];

/** One thing on a page. Later ones cover earlier ones. */
export type Shape =
  /** Closed outlines, filled; an outline within another leaves a hole. */
  | { readonly kind: 'area'; readonly rings: readonly (readonly Place[])[]; readonly fill: string }
  | {
      readonly kind: 'line';
      readonly points: readonly Place[];
      readonly widthMm: number;
      readonly stroke: string;
    }
  | {
      readonly kind: 'text';
      readonly text: string;
      /** Where the baseline begins, ends or has its middle, by `anchor`. */
      readonly at: Place;
      /** Height of the font's em square. */
      readonly sizeMm: number;
      readonly fill: string;
      readonly bold?: boolean;
      /** @default 'start' */
      readonly anchor?: 'start' | 'middle' | 'end';
    };

/** A page at true size, drawn once for every format. */
export interface Drawing {
  readonly widthMm: number;
  readonly heightMm: number;
  /** What a screen reader says, and the document's name. */
  readonly title: string;
  readonly description: string;
  readonly shapes: readonly Shape[];
}
