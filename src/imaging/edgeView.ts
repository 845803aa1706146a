import type { CodeImage, PointPx } from '../core/image.js';
import type { EdgeBend } from './edgeLine.js';

/** Columns (or rows) that are taken together for one edge point: each adds its noise, few bend. */
export const BLOCK_PX = 6;

/**
 * Refuses what is no line to look along.
 * @param from - Where the edge begins.
 * @param to - Where it ends.
 * @param reachPx - How far off it may lie, px.
 * @throws {RangeError} When the two points are less than a block apart or the reach is not positive.
 */
export function checkLine(from: PointPx, to: PointPx, reachPx: number): void {
  const lengthPx = Math.hypot(to[0] - from[0], to[1] - from[1]);
  if (!(reachPx > 0 && lengthPx > BLOCK_PX)) {
    throw new RangeError(`Expected a line and a reach but received ${lengthPx} px and ${reachPx} px.`);
  }
}

/**
 * The picture read along u, the axis that the edge runs along, and v, the other; v(u) = v0 + slope·u is a line.
 * Pixel centres lie at whole numbers here.
 */
export interface View {
  readonly data: Uint8Array | Uint16Array;
  readonly lut: Float32Array;
  readonly offset: number;
  readonly uStride: number;
  readonly vStride: number;
  readonly vCount: number;
  /** First and last column that is looked at. */
  readonly u0: number;
  readonly u1: number;
  readonly given: ViewLine;
  /** Whether u is the photo's x. */
  readonly alongX: boolean;
  /** Which way is out of the shape, along v. */
  readonly outwards: 1 | -1;
  readonly bends: readonly ViewBend[];
}

/** A bend along u: how far a unit of its amplitude goes in v, from column u0 on. */
export interface ViewBend {
  readonly course: Float64Array;
  readonly low: number;
  readonly high: number;
  readonly courseSd: number;
}

/** A line in a view, with its bends. */
export interface ViewLine {
  readonly v0: number;
  readonly slope: number;
  /** Amplitude of each bend, px. */
  readonly bends: readonly number[];
}

/**
 * Where a line is at a column.
 * @param view - The view that it is in.
 * @param line - The line.
 * @param u - The column.
 * @returns Its v there, px, bends included.
 */
export function lineAt(view: View, line: ViewLine, u: number): number {
  return line.v0 + line.slope * u + bendAt(view, line, u);
}

/**
 * How far a line's bends move it at a column.
 * @param view - The view that it is in.
 * @param line - The line.
 * @param u - The column.
 * @returns Move along v, px.
 */
export function bendAt(view: View, line: ViewLine, u: number): number {
  let sum = 0;
  for (let k = 0; k < line.bends.length; k += 1) {
    sum += line.bends[k]! * view.bends[k]!.course[Math.round(u) - view.u0]!;
  }
  return sum;
}

/**
 * The picture as it is read along an edge.
 * @param codes - Grey codes, shape (rows, columns), any strides; not modified.
 * @param lut - Linear light of each code.
 * @param asked - Where the edge begins and ends, photo px, and how it may bend.
 * @returns The view, which reads the codes where they are.
 */
export function viewAlong(
  codes: CodeImage,
  lut: Float32Array,
  asked: { readonly from: PointPx; readonly to: PointPx; readonly bends: readonly EdgeBend[] },
): View {
  const { from, to, bends } = asked;
  const alongX = Math.abs(to[0] - from[0]) >= Math.abs(to[1] - from[1]);
  const [u, v] = alongX ? ([0, 1] as const) : ([1, 0] as const);
  // Shapes and strides come as rows first, points as columns first.
  const [uCount, vCount] = [codes.shape[1 - u]!, codes.shape[1 - v]!];
  const slope = (to[v] - from[v]) / (to[u] - from[u]);
  const u0 = Math.max(0, Math.ceil(Math.min(from[u], to[u]) - 0.5));
  const u1 = Math.min(uCount - 1, Math.floor(Math.max(from[u], to[u]) - 0.5));
  // One px outwards in v: along x the outside is up when the edge runs to the right; along y it is right when down.
  const outwards = to[u] > from[u] === alongX ? -1 : 1;
  return {
    data: codes.data,
    lut,
    offset: codes.offset,
    uStride: codes.stride[1 - u]!,
    vStride: codes.stride[1 - v]!,
    vCount,
    u0,
    u1,
    given: { slope, v0: from[v] - 0.5 - slope * (from[u] - 0.5), bends: bends.map(middleOf) },
    alongX,
    outwards,
    bends: bends.map(({ at, lowPx, highPx, courseSd = 0 }) => {
      const course = new Float64Array(Math.max(0, u1 - u0 + 1));
      const perPx = outwards * Math.hypot(1, slope);
      for (let i = 0; i < course.length; i += 1) {
        course[i] = perPx * at((u0 + i + 0.5 - from[u]) / (to[u] - from[u]));
      }
      return { course, low: lowPx, high: highPx, courseSd };
    }),
  };
}

/** The amplitude that a bend has as long as nothing is known: the one nearest to none. */
function middleOf({ lowPx, highPx }: EdgeBend): number {
  return Math.min(highPx, Math.max(lowPx, 0));
}
