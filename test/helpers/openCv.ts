import { createRequire } from 'node:module';
import type { ColourImage } from '../../src/core/image.js';
import type { EdgeMap } from '../../src/imaging/colourEdges.js';

/** The few signatures that are used: the package's own types do not pass a strict compiler. */
interface Mat {
  readonly data: Uint8Array;
  readonly data16S: Int16Array;
  delete(): void;
}
interface Cv {
  readonly Mat: new (rows?: number, columns?: number, type?: number) => Mat;
  readonly CV_8UC3: number;
  readonly CV_16S: number;
  readonly CV_16SC1: number;
  Sobel(from: Mat, to: Mat, depth: number, dx: number, dy: number, size: number): void;
  /** Canny on gradients that are given. */
  Canny1(dx: Mat, dy: Mat, ridge: Mat, low: number, high: number, euclidean: boolean): void;
}

/** Events at which the package hangs handlers that end the whole process at any unhandled error. */
const HIJACKED_EVENTS = ['uncaughtException', 'unhandledRejection'] as const;

const require = createRequire(import.meta.url);

function loadOpenCv(): Cv {
  const before = HIJACKED_EVENTS.map((event) => new Set<unknown>(process.listeners(event as 'exit')));
  const { cv } = require('opencv-wasm') as { readonly cv: Cv };
  for (const [i, event] of HIJACKED_EVENTS.entries()) {
    for (const listener of process.listeners(event as 'exit')) {
      if (before[i]?.has(listener) !== true) process.removeListener(event, listener);
    }
  }
  return cv;
}

/**
 * What OpenCV makes of a picture: its Sobel gradients of each channel, the strongest of them, and its Canny of those.
 * @param image - The picture.
 * @param thresholds - Gradients above which an edge goes on, and begins.
 */
export function openCvEdges(
  { data, widthPx, heightPx }: ColourImage,
  [low, high]: readonly [number, number],
): EdgeMap {
  const cv = loadOpenCv();
  const picture = new cv.Mat(heightPx, widthPx, cv.CV_8UC3);
  picture.data.set(data);
  const channels = [new cv.Mat(), new cv.Mat()] as const;
  cv.Sobel(picture, channels[0], cv.CV_16S, 1, 0, 3);
  cv.Sobel(picture, channels[1], cv.CV_16S, 0, 1, 3);
  const gradients = channels.map(() => new cv.Mat(heightPx, widthPx, cv.CV_16SC1)) as [Mat, Mat];
  for (let i = 0; i < widthPx * heightPx; i += 1) {
    const squares = [0, 1, 2].map((k) =>
      channels.reduce((sum, one) => sum + one.data16S[3 * i + k]! ** 2, 0),
    );
    const strongest = squares.indexOf(Math.max(...squares));
    for (const [axis, one] of gradients.entries()) {
      one.data16S[i] = channels[axis as 0 | 1].data16S[3 * i + strongest]!;
    }
  }
  const ridge = new cv.Mat();
  cv.Canny1(...gradients, ridge, low, high, true);
  const [gradientX, gradientY] = [gradients[0].data16S.slice(), gradients[1].data16S.slice()];
  const edges = { ridge: ridge.data.slice(), gradientX, gradientY };
  for (const mat of [picture, ...channels, ...gradients, ridge]) mat.delete();
  return edges;
}
