import type { Mm, Seconds } from '../../core/units.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { contrastAxis } from './contrastAxis.js';
import { ACCENT, INK } from './ink.js';
import { crossing, linearScale, roundTicks, zip, type Frame } from './scale.js';

/** Brightness along the wall at one height, less its slow changes, and the fitted ripple. Each shape (columns,). */
export interface ProfileData {
  /** From the leading corner, rising. */
  readonly positionsMm: ArrayLike<Mm>;
  /** Travel time from the leading corner, rising. */
  readonly timeS: ArrayLike<Seconds>;
  /** Relative contrast. */
  readonly measured: ArrayLike<number>;
  readonly fitted: ArrayLike<number>;
}

/** Neighbours farther apart than this many usual steps have something left out between them. */
const GAP_STEPS = 2.5;

/**
 * A profile with the fitted ripple over it; x in mm below and in ms of travel time above.
 * @param data - The profile.
 * @param frame - Its place.
 * @param limit - Relative contrast at the upper and lower edge, so that two profiles can share a scale.
 * @returns A group, with labels up to 20 px above and below and 40 px to the left.
 * @throws {RangeError} When a number is not finite, or the lists differ in length.
 */
export function profileChart(data: ProfileData, frame: Frame, limit: number): string {
  const { left, top, width, height } = frame;
  const bottom = top + height;
  const right = left + width;
  const positions = Array.from(data.positionsMm);
  const lastMm = positions.at(-1);
  if (lastMm === undefined) return element('g', { class: 'profile' });
  const x = linearScale([0, lastMm], [left, right]);
  const y = linearScale([-limit, limit], [bottom, top]);
  const clamp = (value: number) => Math.min(limit, Math.max(-limit, value));
  const pathOf = (values: ArrayLike<number>) =>
    withoutGaps(zip(positions, values))
      .map((run) => pathThrough(run.map(([mm, value]) => [x(mm), y(clamp(value))] as const)))
      .join('');
  const mm = roundTicks(0, lastMm, width / 70);
  const lastTick = mm.values.at(-1);
  const xTicks = mm.values.map((value) => ({
    at: x(value),
    text: withUnit(decimals(value, mm.digits), value === lastTick ? 'mm' : ''),
  }));
  return element(
    'g',
    { class: 'profile' },
    contrastAxis([-limit, limit], y, [left, right]),
    element('path', {
      class: 'measured',
      d: pathOf(data.measured),
      stroke: INK,
      'stroke-width': 1,
      'stroke-opacity': 0.75,
      fill: 'none',
    }),
    element('path', {
      class: 'fitted',
      d: pathOf(data.fitted),
      stroke: ACCENT,
      'stroke-width': 1.8,
      fill: 'none',
    }),
    horizontalAxis(xTicks, [left, right], bottom, 'below'),
    horizontalAxis(timeTicks(), [left, right], top, 'above'),
  );

  function timeTicks() {
    const curve = zip(positions, data.timeS).map(([position, s]) => [position, 1000 * s] as const);
    const times = curve.map(([, ms]) => ms);
    const { values, digits } = roundTicks(Math.min(...times), Math.max(...times), width / 70);
    const last = values.at(-1);
    return values.flatMap((ms) => {
      const position = crossing(curve, ms);
      return position === undefined
        ? []
        : [{ at: x(position), text: withUnit(decimals(ms, digits), ms === last ? 'ms' : '') }];
    });
  }
}

/** Cuts a curve where columns were left out. */
function withoutGaps(
  curve: readonly (readonly [number, number])[],
): readonly (readonly (readonly [number, number])[])[] {
  const steps = curve.slice(1).map(([position], i) => position - (curve[i]?.[0] ?? position));
  const usual = [...steps].sort((a, b) => a - b)[Math.floor(steps.length / 2)] ?? 0;
  const runs: (readonly [number, number])[][] = [];
  curve.forEach((point, i) => {
    const run = runs.at(-1);
    if (run === undefined || (steps[i - 1] ?? 0) > GAP_STEPS * usual) runs.push([point]);
    else run.push(point);
  });
  return runs;
}
