import ndarray from 'ndarray';
import type { CodeImage, ColourImage, CornersPx, PartialCornersPx } from '../../src/core/image.js';
import { believeCamera } from '../../src/face/camera.js';
import { seeded } from '../synth/random.js';

/** A flat thing in a drawn picture: convex, of one colour, some with stripes across its height. */
export interface Patch {
  readonly cornersPx: CornersPx;
  readonly rgb: readonly [number, number, number];
  /** Period of its layers in px, and by how many codes they change its brightness. */
  readonly layers?: { readonly periodPx: number; readonly codes: number };
  /** Mean codes of a line drawn along the height's middle, and its width as a share of the height. */
  readonly line?: { readonly codes: number; readonly at: number; readonly share: number };
}

export interface Desk {
  readonly codes: CodeImage;
  readonly shrunk: ColourImage;
  readonly scale: number;
}

/** The camera looks square on, so shapes are plain ratios. */
export const camera = believeCamera({
  format: 'jpeg',
  widthPx: 1600,
  heightPx: 1200,
  orientation: 1,
  bits: 8,
  capture: { focalLength35Mm: 50 },
});

/** Corners of an upright rectangle. */
export const box = (left: number, top: number, width: number, height: number): CornersPx => [
  [left, top],
  [left + width, top],
  [left + width, top + height],
  [left, top + height],
];

export const NO_CLICKS: PartialCornersPx = [undefined, undefined, undefined, undefined];
export const LAYERS = { periodPx: 5, codes: 8 } as const;
/** Height ÷ width 0.75. */
export const FACE: Patch = { cornersPx: box(300.4, 250.7, 600, 450), rgb: [190, 90, 40], layers: LAYERS };

/** Width over which an edge rises in the picture, px: that of a sharp camera. */
const EDGE_PX = 2;

/**
 * Draws patches on a grey ground with some noise, 1600 × 1200 px, and its shrunk copy of half that size.
 * @param patches - From back to front.
 */
export function drawDesk(patches: readonly Patch[]): Desk {
  const [width, height, scale] = [1600, 1200, 2];
  const random = seeded(7);
  const full = new Float32Array(3 * width * height).fill(152);
  for (const patch of patches) drawPatch(full, width, height, patch);
  const grey = new Uint8Array(width * height);
  for (let i = 0; i < grey.length; i += 1) {
    const luma = 0.2126 * full[3 * i]! + 0.7152 * full[3 * i + 1]! + 0.0722 * full[3 * i + 2]!;
    grey[i] = Math.min(255, Math.round(luma + random.even(-1.5, 1.5)));
  }
  const [w, h] = [width / scale, height / scale];
  const shrunk = new Uint8Array(3 * w * h);
  for (let at = 0; at < shrunk.length; at += 1) {
    const pixel = (at / 3) | 0;
    const start = 3 * (scale * ((pixel / w) | 0) * width + scale * (pixel % w)) + (at % 3);
    const below = start + 3 * width;
    const mean = (full[start]! + full[start + 3]! + full[below]! + full[below + 3]!) / 4;
    shrunk[at] = Math.min(255, mean + random.even(-1, 1));
  }
  return {
    codes: ndarray(grey, [height, width]),
    shrunk: { data: shrunk, widthPx: w, heightPx: h },
    scale,
  };
}

function drawPatch(full: Float32Array, width: number, height: number, patch: Patch): void {
  const { cornersPx, rgb, layers, line } = patch;
  const xs = cornersPx.map(([x]) => x);
  const ys = cornersPx.map(([, y]) => y);
  // Distance inside each side is a x + b y + c.
  const sides = cornersPx.map(([x, y], i) => {
    const [toX, toY] = cornersPx[(i + 1) % 4]!;
    const length = Math.hypot(toX - x, toY - y);
    const [a, b] = [-(toY - y) / length, (toX - x) / length];
    return [a, b, -(a * x + b * y)] as const;
  });
  const [first, last] = [Math.max(0, Math.floor(Math.min(...ys)) - 2), Math.min(height, Math.max(...ys) + 2)];
  const [start, end] = [Math.max(0, Math.floor(Math.min(...xs)) - 2), Math.min(width, Math.max(...xs) + 2)];
  for (let row = first; row < last; row += 1) {
    for (let column = start; column < end; column += 1) {
      const [top, right, bottom, left] = sides.map(([a, b, c]) => a * (column + 0.5) + b * (row + 0.5) + c);
      const cover = Math.min(1, Math.max(0, 0.5 + Math.min(top!, right!, bottom!, left!) / EDGE_PX));
      if (cover === 0) continue;
      const wave = layers === undefined ? 0 : layers.codes * Math.sin((2 * Math.PI * top!) / layers.periodPx);
      const isLine = line !== undefined && Math.abs(top! / (top! + bottom!) - line.at) < line.share / 2;
      for (let k = 0; k < 3; k += 1) {
        const code = isLine ? line.codes : rgb[k]! + wave;
        const at = 3 * (row * width + column) + k;
        full[at] = full[at]! + cover * (code - full[at]!);
      }
    }
  }
}
