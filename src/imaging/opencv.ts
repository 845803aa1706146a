import { createRequire } from 'node:module';
import type { ColourImage, PointPx } from '../core/image.js';

/** Edges of a colour picture, each array one value a pixel, row by row. */
export interface EdgeMap {
  /** 255 on the ridge of an edge, 0 elsewhere. */
  readonly ridge: Uint8Array;
  /** Sobel gradient of the channel where it is strongest: 8 times the difference of codes from px to px. */
  readonly gradientX: Int16Array;
  readonly gradientY: Int16Array;
}

const require = createRequire(import.meta.url);

/** What is used of OpenCV, with plain typed arrays in and out. */
export interface Vision {
  /**
   * Edges of a colour picture: at each pixel the channel with the strongest gradient counts.
   * @param image - The picture; not modified.
   * @param thresholds - Gradients (of Sobel's scale) from which an edge goes on, and from which it begins.
   * @returns Ridges and gradient.
   * @see Canny, "A computational approach to edge detection", IEEE PAMI 8(6), 1986 (from memory).
   */
  readonly colourEdges: (image: ColourImage, thresholds: readonly [low: number, high: number]) => EdgeMap;
  /**
   * The homography that most pairs of points agree with, fitted to those.
   * @param from - Points of the first plane, at least four.
   * @param to - Their images, same order and number.
   * @param tolerance - How far an image may lie from its place, units of the second plane.
   * @returns The homography, 3 × 3 row-major, and which pairs agree; undefined when no four pairs tell one.
   * @throws {RangeError} When there are fewer than four pairs or the counts differ.
   * @see Fischler & Bolles, "Random sample consensus", Comm. ACM 24(6), 1981 (from memory).
   */
  readonly robustHomography: (
    from: readonly PointPx[],
    to: readonly PointPx[],
    tolerance: number,
  ) => { readonly homography: Float64Array; readonly agrees: readonly boolean[] } | undefined;
}

/** The few signatures that are used: the package's own types do not pass a strict compiler. */
interface Mat {
  readonly data: Uint8Array;
  readonly data16S: Int16Array;
  readonly data64F: Float64Array;
  readonly rows: number;
  delete(): void;
}
interface Cv {
  readonly Mat: new (rows?: number, columns?: number, type?: number) => Mat;
  readonly CV_8UC1: number;
  readonly CV_8UC3: number;
  readonly CV_16S: number;
  readonly CV_16SC1: number;
  readonly CV_64FC2: number;
  readonly RANSAC: number;
  readonly HEAP8: Int8Array;
  Sobel(from: Mat, to: Mat, depth: number, dx: number, dy: number, size: number): void;
  /** Canny on gradients that are given. */
  Canny1(dx: Mat, dy: Mat, ridge: Mat, low: number, high: number, euclidean: boolean): void;
  findHomography(from: Mat, to: Mat, method: number, tolerance: number, mask: Mat): Mat;
  exceptionFromPtr(pointer: number): { readonly msg: string };
}

/** Events at which the package hangs handlers that end the whole process at any unhandled error. */
const HIJACKED_EVENTS = ['uncaughtException', 'unhandledRejection'] as const;

let loaded: { readonly cv: Cv } | undefined;

/**
 * Loads OpenCV on the first call, which takes some tenths of a second, and keeps it.
 * @returns Its functions.
 */
export function loadVision(): Vision {
  // The module itself must not be handed out: it has a `then`, and waiting for it never ends.
  loaded ??= load();
  const { cv } = loaded;
  return {
    colourEdges: (image, thresholds) => withMats(cv, (own) => colourEdges(cv, own, image, thresholds)),
    robustHomography: (from, to, tolerance) => {
      if (from.length < 4 || to.length !== from.length) {
        throw new RangeError(
          `Expected at least four pairs of points but received ${from.length} and ${to.length} points.`,
        );
      }
      return withMats(cv, (own) => robustHomography(cv, own, from, to, tolerance));
    },
  };
}

/**
 * Bytes that OpenCV's heap holds, whether in use or not.
 * @returns Size of the heap, bytes.
 * @internal
 */
export function visionHeapBytes(): number {
  loaded ??= load();
  return loaded.cv.HEAP8.byteLength;
}

function load(): { readonly cv: Cv } {
  const before = HIJACKED_EVENTS.map((event) => new Set<unknown>(process.listeners(event as 'exit')));
  const { cv } = require('opencv-wasm') as { readonly cv: Cv };
  for (const [i, event] of HIJACKED_EVENTS.entries()) {
    for (const listener of process.listeners(event as 'exit')) {
      if (before[i]?.has(listener) !== true) process.removeListener(event, listener);
    }
  }
  return { cv };
}

/** Keeps what is made until the work is done. */
type Owner = (mat: Mat) => Mat;

/** Runs work whose matrices are deleted at its end, whatever happens, and whose errors are errors. */
function withMats<Result>(cv: Cv, work: (own: Owner) => Result): Result {
  const mats: Mat[] = [];
  try {
    return work((mat) => {
      mats.push(mat);
      return mat;
    });
  } catch (error) {
    // What C++ throws arrives as the address of its exception.
    if (typeof error === 'number') throw new Error(`OpenCV: ${cv.exceptionFromPtr(error).msg}`);
    throw error;
  } finally {
    for (const mat of mats) mat.delete();
  }
}

function colourEdges(
  cv: Cv,
  own: Owner,
  image: ColourImage,
  [low, high]: readonly [number, number],
): EdgeMap {
  const { widthPx, heightPx } = image;
  const picture = own(new cv.Mat(heightPx, widthPx, cv.CV_8UC3));
  picture.data.set(image.data);
  const [dx3, dy3] = [own(new cv.Mat()), own(new cv.Mat())];
  cv.Sobel(picture, dx3, cv.CV_16S, 1, 0, 3);
  cv.Sobel(picture, dy3, cv.CV_16S, 0, 1, 3);
  const dx = own(new cv.Mat(heightPx, widthPx, cv.CV_16SC1));
  const dy = own(new cv.Mat(heightPx, widthPx, cv.CV_16SC1));
  takeStrongest(dx3.data16S, dy3.data16S, dx.data16S, dy.data16S);
  const ridge = own(new cv.Mat());
  cv.Canny1(dx, dy, ridge, low, high, true);
  return { ridge: ridge.data.slice(), gradientX: dx.data16S.slice(), gradientY: dy.data16S.slice() };
}

function takeStrongest(dx3: Int16Array, dy3: Int16Array, dx: Int16Array, dy: Int16Array): void {
  const count = dx.length;
  for (let i = 0, at = 0; i < count; i += 1, at += 3) {
    const [x0, x1, x2] = [dx3[at]!, dx3[at + 1]!, dx3[at + 2]!];
    const [y0, y1, y2] = [dy3[at]!, dy3[at + 1]!, dy3[at + 2]!];
    const first = Math.imul(x0, x0) + Math.imul(y0, y0);
    const second = Math.imul(x1, x1) + Math.imul(y1, y1);
    const third = Math.imul(x2, x2) + Math.imul(y2, y2);
    // All ones where the later channel is stronger: no processor can guess that from pixel to pixel.
    const bySecond = (first - second) >> 31;
    const byThird = (Math.max(first, second) - third) >> 31;
    const x = x0 ^ ((x0 ^ x1) & bySecond);
    const y = y0 ^ ((y0 ^ y1) & bySecond);
    dx[i] = x ^ ((x ^ x2) & byThird);
    dy[i] = y ^ ((y ^ y2) & byThird);
  }
}

function robustHomography(
  cv: Cv,
  own: Owner,
  from: readonly PointPx[],
  to: readonly PointPx[],
  tolerance: number,
): { readonly homography: Float64Array; readonly agrees: readonly boolean[] } | undefined {
  const matOf = (points: readonly PointPx[]) => {
    const mat = own(new cv.Mat(points.length, 1, cv.CV_64FC2));
    mat.data64F.set(points.flat());
    return mat;
  };
  const mask = own(new cv.Mat());
  const found = own(cv.findHomography(matOf(from), matOf(to), cv.RANSAC, tolerance, mask));
  if (found.rows !== 3) return undefined;
  return { homography: found.data64F.slice(), agrees: Array.from(mask.data, (one) => one !== 0) };
}
