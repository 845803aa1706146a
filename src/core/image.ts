import type { NdArray } from 'ndarray';

/**
 * A position in the upright photo, px: x to the right, y down, origin at the top-left corner of the
 * top-left pixel, so that pixel centres lie at +0.5.
 */
export type PointPx = readonly [x: number, y: number];

/** Four corners in the order top-left, top-right, bottom-right, bottom-left. */
export type CornersPx = readonly [PointPx, PointPx, PointPx, PointPx];

/** Linear light, 0 (black) to 1 (white), shape (rows, columns). May be a strided view. */
export type GreyImage = NdArray<Float32Array>;

/** The same with some of them only: undefined where one is not known. */
export type PartialCornersPx = readonly [
  PointPx | undefined,
  PointPx | undefined,
  PointPx | undefined,
  PointPx | undefined,
];

/** A shrunk upright copy of a photo in colour: sRGB codes, interleaved RGB, row by row. */
export interface ColourImage {
  readonly data: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Grey code values as stored, 8 or 16 bit, shape (rows, columns). May be a strided view. */
export type CodeImage = NdArray<Uint8Array> | NdArray<Uint16Array>;
