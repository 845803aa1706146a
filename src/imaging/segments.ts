import type { EdgeMap } from './colourEdges.js';

/** A straight piece of an edge. */
export interface Segment {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

/** How far a pixel's gradient may turn from that of the piece it is added to: 22.5°, eight directions to a turn. */
const LEAST_COSINE = Math.cos(Math.PI / 8);
/** Pieces bend by less than this, rms px, or are split. */
const MOST_BEND_PX = 0.7;

/**
 * Straight pieces of the edges of a picture: neighbouring ridge pixels whose gradients point the same way, as a line by
 * least squares; what bends is split.
 * @param edges - Ridges and gradients, shape (height, width).
 * @param widthPx - Width of the picture.
 * @param leastLengthPx - Shorter pieces are left out, px.
 * @returns Pieces in px, pixel centres at +0.5.
 * @see Grompone von Gioi et al., "LSD: a line segment detector", IPOL 2, 2012 (from memory), for the growing by
 * direction; here on thinned edges.
 */
export function edgeSegments(edges: EdgeMap, widthPx: number, leastLengthPx: number): Segment[] {
  const { ridge } = edges;
  const left = ridge.slice();
  const heightPx = ridge.length / widthPx;
  const segments: Segment[] = [];
  for (let i = 0; i < left.length; i += 1) {
    if (left[i] === 0) continue;
    const region = grow(edges, left, i, widthPx, heightPx);
    if (region.length >= leastLengthPx / Math.SQRT2) fitPieces(region, widthPx, leastLengthPx, segments);
  }
  return segments;
}

/** Takes a connected piece of like direction out of what is left. */
function grow(edges: EdgeMap, left: Uint8Array, seed: number, widthPx: number, heightPx: number): number[] {
  const { gradientX, gradientY } = edges;
  const region = [seed];
  left[seed] = 0;
  let [sumX, sumY] = [0, 0];
  for (let k = 0; k < region.length; k += 1) {
    const at = region[k]!;
    const [gx, gy] = [gradientX[at]!, gradientY[at]!];
    const size = Math.hypot(gx, gy) || 1;
    sumX += gx / size;
    sumY += gy / size;
    const mean = Math.hypot(sumX, sumY) || 1;
    const [x, y] = [at % widthPx, (at / widthPx) | 0];
    for (let ny = Math.max(0, y - 1); ny <= Math.min(heightPx - 1, y + 1); ny += 1) {
      for (let nx = Math.max(0, x - 1); nx <= Math.min(widthPx - 1, x + 1); nx += 1) {
        const next = ny * widthPx + nx;
        if (left[next] === 0) continue;
        const [hx, hy] = [gradientX[next]!, gradientY[next]!];
        if (hx * sumX + hy * sumY < LEAST_COSINE * mean * Math.hypot(hx, hy)) continue;
        left[next] = 0;
        region.push(next);
      }
    }
  }
  return region;
}

/** Fits a line to pixels; where they bend, to each half of them. */
function fitPieces(
  region: readonly number[],
  widthPx: number,
  leastLengthPx: number,
  segments: Segment[],
): void {
  const n = region.length;
  let [mx, my] = [0, 0];
  for (const at of region) {
    mx += (at % widthPx) / n;
    my += ((at / widthPx) | 0) / n;
  }
  let [xx, xy, yy] = [0, 0, 0];
  for (const at of region) {
    const [dx, dy] = [(at % widthPx) - mx, ((at / widthPx) | 0) - my];
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const angle = Math.atan2(2 * xy, xx - yy) / 2;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const along = (at: number) => c * ((at % widthPx) - mx) + s * (((at / widthPx) | 0) - my);
  const places = region.map(along);
  const start = places.reduce((least, t) => Math.min(least, t), 0);
  const end = places.reduce((most, t) => Math.max(most, t), 0);
  if (end - start < leastLengthPx) return;
  const bend = Math.sqrt(Math.max(0, (xx + yy) / 2 - Math.hypot((xx - yy) / 2, xy)) / n);
  if (bend > MOST_BEND_PX) {
    const middle = (start + end) / 2;
    const halves = [true, false].map((first) => region.filter((_, i) => places[i]! < middle === first));
    for (const half of halves) fitPieces(half, widthPx, leastLengthPx, segments);
    return;
  }
  const [x, y] = [mx + 0.5, my + 0.5];
  segments.push({ x0: x + c * start, y0: y + s * start, x1: x + c * end, y1: y + s * end });
}
