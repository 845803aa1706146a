import { createRequire } from 'node:module';
import type { CornersPx, PointPx } from '../core/image.js';
import type { Px } from '../core/units.js';

/** A printed square of ArUco's dictionary DICT_4X4_50, as found in a picture. */
export interface Marker {
  /** Number in the dictionary, 0 to 49. */
  readonly id: number;
  /** Corners of the black square, to about 1 px: top-left, top-right, bottom-right, bottom-left as it is printed. */
  readonly cornersPx: CornersPx;
}

/** The detector skips contours that are shorter than this, px; and a smaller picture upsets its blur. */
const LEAST_SIDE_PX = 16;
/** Codes in DICT_4X4_50: the first 50 of the package's list of 1000 (so OpenCV's dictionaries are nested). */
const DICTIONARY_SIZE = 50;
const OUR_DICTIONARY = 'DICT_4X4_50';
/** Bits that may be wrong are fewer than this: none, as one marker missed costs less than one invented. */
const BIT_ERRORS_BELOW = 1;

/**
 * Finds the markers of DICT_4X4_50 in a small grey picture. A mirrored marker is none, and neither is one of another
 * dictionary; one that stands on its head is found as it stands.
 * @param grey - Grey codes, row by row, shape (heightPx · widthPx,); not modified.
 * @param widthPx - Columns.
 * @param heightPx - Rows.
 * @returns The markers in no particular order; the same number more than once where it is seen more than once, empty
 * when there is none or the picture is smaller than any marker could be.
 * @throws {RangeError} When the sides do not fit the data.
 * @see Garrido-Jurado et al., "Automatic generation and detection of highly reliable fiducial markers under
 * occlusion", Pattern Recognition 47(6), 2014 (from memory); codes: OpenCV's predefined dictionaries.
 */
export function detectMarkers(grey: Uint8Array, widthPx: Px, heightPx: Px): readonly Marker[] {
  if (grey.length !== widthPx * heightPx) {
    throw new RangeError(`Expected ${widthPx} × ${heightPx} grey codes but received ${grey.length} of them.`);
  }
  if (Math.min(widthPx, heightPx) < LEAST_SIDE_PX) return [];
  const rgba = new Uint8Array(4 * grey.length);
  for (let i = 0; i < grey.length; i += 1) {
    const code = grey[i]!;
    rgba[4 * i] = code;
    rgba[4 * i + 1] = code;
    rgba[4 * i + 2] = code;
  }
  const found = newDetector(grey.length).detectImage(widthPx, heightPx, rgba);
  return found.map(({ id, corners: [a, b, c, d] }) => ({
    id,
    cornersPx: [centreOf(a), centreOf(b), centreOf(c), centreOf(d)],
  }));
}

/** The detector's corners are indices of px that belong to the outline. */
function centreOf({ x, y }: { readonly x: number; readonly y: number }): PointPx {
  return [x + 0.5, y + 0.5];
}

// The package has no types, and gives no way to say how large its buffers are but to set them.
interface Package {
  readonly AR: {
    readonly DICTIONARIES: Record<string, { nBits: number; tau: number | null; codeList: unknown[] }>;
    readonly Detector: new (config: { dictionaryName: string; maxHammingDistance: number }) => Detector;
  };
}
type Four<T> = [T, T, T, T];

interface Detector {
  readonly grey: { data: Uint8Array | number[] };
  readonly thres: { data: Uint8Array | number[] };
  detectImage(
    width: number,
    height: number,
    rgba: Uint8Array,
  ): { id: number; corners: Four<{ x: number; y: number }> }[];
}

let loaded: Package['AR'] | undefined;

/** A detector for pictures of so many px: its buffers keep the end of a larger picture, so each gets its own. */
function newDetector(pixels: number): Detector {
  loaded ??= loadPackage();
  const detector = new loaded.Detector({
    dictionaryName: OUR_DICTIONARY,
    maxHammingDistance: BIT_ERRORS_BELOW,
  });
  detector.grey.data = new Uint8Array(pixels);
  detector.thres.data = new Uint8Array(pixels);
  return detector;
}

/** Loaded when it is first needed: most photos show no marker card. */
function loadPackage(): Package['AR'] {
  const require = createRequire(import.meta.url);
  const { AR } = require('js-aruco2') as Package;
  require('js-aruco2/src/dictionaries/aruco_4x4_1000.js');
  const large = AR.DICTIONARIES['ARUCO_4X4_1000'];
  if (large === undefined) throw new RangeError('Expected js-aruco2 to hold ARUCO_4X4_1000.');
  AR.DICTIONARIES[OUR_DICTIONARY] = {
    ...large,
    tau: BIT_ERRORS_BELOW,
    codeList: large.codeList.slice(0, DICTIONARY_SIZE),
  };
  return AR;
}
