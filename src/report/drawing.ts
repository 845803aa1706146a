/** A place on a page: x from its left edge, y down from its top edge, mm. */
export type Place = readonly [xMm: number, yMm: number];

/** One thing on a page. Later ones cover earlier ones. */
export type Shape =
  /** Closed outlines, filled; an outline within another leaves a hole. */
  | {
      readonly kind: 'area';
      readonly rings: readonly (readonly Place[])[];
      readonly fill: string;
      /** @default 1 */
      readonly opacity?: number;
    }
  | {
      readonly kind: 'line';
      readonly points: readonly Place[];
      readonly widthMm: number;
      readonly stroke: string;
      /** @default 1 */
      readonly opacity?: number;
      /** Lengths drawn and left out in turn. @default drawn throughout */
      readonly dashesMm?: readonly number[];
    }
  /** A JPEG or PNG in a data URI, stretched over a box. */
  | {
      readonly kind: 'picture';
      readonly dataUri: string;
      /** Its upper left corner. */
      readonly at: Place;
      readonly widthMm: number;
      readonly heightMm: number;
    }
  /** Things of which only what lies in a box is seen. */
  | {
      readonly kind: 'window';
      readonly at: Place;
      readonly widthMm: number;
      readonly heightMm: number;
      readonly shapes: readonly Shape[];
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
      /** A colour behind the text, where it stands on a picture. */
      readonly behind?: string;
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
