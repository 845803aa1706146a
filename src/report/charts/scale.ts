import type { Mm } from '../../core/units.js';

/** Straight map from one range to another. */
export type Scale = (value: number) => number;

/** Where a chart stands: px of the document. */
export interface Frame {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
}

/** The one vertical scale that all charts over the height share: a height has one y in all of them. */
export interface HeightScale {
  /** Height above the bed at the lower edge, mm. */
  readonly bottomMm: Mm;
  /** Height above the bed at the upper edge, mm; above `bottomMm`. */
  readonly topMm: Mm;
  /** y of the upper and of the lower edge, px. */
  readonly topY: number;
  readonly bottomY: number;
}

/** Columns of a vertical chart, px. */
export interface Column {
  readonly left: number;
  readonly width: number;
}

/**
 * A straight scale.
 * @param from - Two different values.
 * @param to - What they become.
 * @returns The map; beyond the ends it goes on straight.
 */
export function linearScale(from: readonly [number, number], to: readonly [number, number]): Scale {
  const slope = (to[1] - to[0]) / (from[1] - from[0]);
  return (value) => to[0] + (value - from[0]) * slope;
}

/**
 * Where a height is drawn.
 * @param scale - The shared vertical scale.
 * @param heightMm - Height above the bed.
 * @returns y in px.
 */
export function heightY(scale: HeightScale, heightMm: Mm): number {
  return linearScale([scale.bottomMm, scale.topMm], [scale.bottomY, scale.topY])(heightMm);
}

/** Round values on an axis. */
export interface Ticks {
  readonly values: readonly number[];
  /** Decimals that tell them apart. */
  readonly digits: number;
}

/**
 * Round values inside a range: multiples of 1, 2 or 5 times a power of ten.
 * @param low - Lower end.
 * @param high - Upper end, above `low`.
 * @param most - How many there may be at most, ≥ 2.
 * @returns The values, rising.
 */
export function roundTicks(low: number, high: number, most: number): Ticks {
  const least = (high - low) / most;
  const power = Math.floor(Math.log10(least));
  const factor = [1, 2, 5, 10].find((candidate) => candidate * 10 ** power >= least * (1 - 1e-9)) ?? 10;
  const step = factor * 10 ** power;
  const digits = Math.max(0, -(factor === 10 ? power + 1 : power));
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  const count = Math.max(0, last - first + 1);
  return { values: Array.from({ length: count }, (_, i) => (first + i) * step), digits };
}

/**
 * Pairs of two lists of equal length.
 * @param xs - First of each pair, shape (n,).
 * @param ys - Second of each pair, shape (n,).
 * @returns The pairs.
 * @throws {RangeError} When the lengths differ.
 */
export function zip(xs: ArrayLike<number>, ys: ArrayLike<number>): readonly (readonly [number, number])[] {
  if (xs.length !== ys.length) {
    throw new RangeError(`Expected two lists of equal length but received ${xs.length} and ${ys.length}`);
  }
  return Array.from(xs, (x, i) => [x, ys[i] ?? x] as const);
}

/**
 * Where a piecewise straight curve takes a value.
 * @param curve - Points (x, value), x rising.
 * @param value - The value looked for.
 * @returns The first x, or undefined when the curve does not pass it.
 */
export function crossing(curve: readonly (readonly [number, number])[], value: number): number | undefined {
  let before: readonly [number, number] | undefined;
  for (const point of curve) {
    if (point[1] === value) return point[0];
    if (before !== undefined && (before[1] - value) * (point[1] - value) < 0) {
      return linearScale([before[1], point[1]], [before[0], point[0]])(value);
    }
    before = point;
  }
  return undefined;
}
