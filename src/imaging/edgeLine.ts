import type { PointPx } from '../core/image.js';

/** A straight edge of a shape in the photo, to a fraction of a pixel. */
export interface EdgeLine {
  /** Unit normal pointing out of the shape; n·p = offsetPx along the line. */
  readonly normal: readonly [number, number];
  readonly offsetPx: number;
  /** Sub-pixel edge points that the line rests on, photo px, in order along it; bends that were fitted are taken off. */
  readonly points: readonly PointPx[];
  /** Robust rms distance of the points from the line, px. */
  readonly residualPx: number;
  /** Standard uncertainty of the line's position in its middle, px; neighbouring points may err alike. */
  readonly sdPx: number;
  /** Median Gaussian width of the edge's spread, px: the blur. */
  readonly blurPx: number;
  /** Share of the places looked at where an edge was found, 0 to 1. */
  readonly support: number;
  /** Amplitude of each bend asked for, px outwards. */
  readonly bendsPx: readonly number[];
}

/** A way in which an edge may leave its straight line: amplitude · at(share), outwards. */
export interface EdgeBend {
  /** Its course, from share 0 at the edge's beginning to 1 at its end; of the order of 1. */
  readonly at: (share: number) => number;
  /** Least and largest amplitude, px outwards. Both equal: known. */
  readonly lowPx: number;
  readonly highPx: number;
  /** How well its course is known, as a share of the amplitude: where it bends much, places count less. None: exactly. */
  readonly courseSd?: number;
}

/** How an edge is looked for. */
export interface EdgeSearch {
  /** How far from the line given, to both sides, an edge may lie, px. */
  readonly reachPx: number;
  /** Least difference of linear light across the edge; smaller ones count as none. */
  readonly leastStep?: number;
  /** Ways in which the edge may bend; they are fitted with the line and then taken off its points. */
  readonly bends?: readonly EdgeBend[];
}

/**
 * Where two edges meet.
 * @param a - One line.
 * @param b - The other, not parallel to it.
 * @returns Their common point, px.
 * @throws {RangeError} When they are parallel.
 */
export function cornerOf(
  a: Pick<EdgeLine, 'normal' | 'offsetPx'>,
  b: Pick<EdgeLine, 'normal' | 'offsetPx'>,
): PointPx {
  const det = a.normal[0] * b.normal[1] - a.normal[1] * b.normal[0];
  if (Math.abs(det) < 1e-9) throw new RangeError('Expected two lines that meet but received parallel ones.');
  return [
    (a.offsetPx * b.normal[1] - b.offsetPx * a.normal[1]) / det,
    (b.offsetPx * a.normal[0] - a.offsetPx * b.normal[0]) / det,
  ];
}
