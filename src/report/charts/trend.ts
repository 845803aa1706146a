import { COVERAGE_95 } from '../../core/estimate.js';
import type { TrendPoint } from '../../history/trend.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { errorBar } from './errorBar.js';
import { ACCENT, HAIRLINE, INK, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks, type Frame, type Scale } from './scale.js';
import { textWidth } from './textWidth.js';

/** One value over time. */
export interface TrendData {
  readonly points: readonly TrendPoint[];
  /** Names of all readings of the axis in their order: equal steps, whatever the days between them. */
  readonly names: readonly string[];
  /** Empty for a plain number. */
  readonly unit: string;
  /** What was changed on the machine since the last reading. */
  readonly changesSince: readonly string[];
  /** What is said of the last value, where it looks like another axis' value. */
  readonly doubt?: string;
}

/** Rows above the chart in which changes are told. */
const CHANGE_ROWS = 2;
const ROW_PX = 14;
/** Room above the chart for the changes that were told, and below it for the days. */
export const TREND_ROOM_PX = { above: CHANGE_ROWS * ROW_PX + 4, below: 24, left: 56 } as const;

const DOT_PX = 3.6;
const DIAMOND_PX = 6;
const MARGIN = 0.08;

/**
 * Values in their order with 95 % bars; behind each the mean that it is held against and the limits within which a single
 * value counts as steady. One that has moved is a diamond, told by how much; a change on the machine that was told is a
 * dashed line between two readings.
 * @param data - The values.
 * @param frame - The chart's own place, with `TREND_ROOM_PX` around it.
 * @returns A group.
 * @throws {RangeError} When a number is not finite.
 */
export function trendChart(data: TrendData, frame: Frame): string {
  const { points, names, unit, changesSince, doubt } = data;
  const { left, top, width, height } = frame;
  const [right, bottom] = [left + width, top + height];
  const stepPx = width / Math.max(1, names.length);
  const x = (name: string) => left + (names.indexOf(name) + 0.5) * stepPx;
  const [low, high] = rangeOf(points);
  const y = linearScale([low, high], [bottom, top]);
  const days = points.map(({ name, on }) => ({ at: x(name), text: on ?? name }));
  const told = [
    ...points.flatMap(({ name, changes }) =>
      changes.length === 0 ? [] : [{ at: x(name) - stepPx / 2, text: changes.join(', ') }],
    ),
    ...(changesSince.length === 0 ? [] : [{ at: right, text: changesSince.join(', ') }]),
  ];
  const last = points.at(-1);
  return element(
    'g',
    { class: 'trend' },
    valueAxis([low, high], y, [left, right], unit),
    ...points.map((point) => limits(point, [x(point.name) - stepPx / 2, x(point.name) + stepPx / 2], y)),
    ...changeMarks(told, frame),
    ...points.map((point) => mark(point, x(point.name), y, stepPx, unit, [top, right])),
    last === undefined || doubt === undefined ? '' : doubtMark(doubt, [x(last.name), y(last.value.value)]),
    horizontalAxis(days, [left, right], bottom, 'below', 0),
  );
}

function rangeOf(points: readonly TrendPoint[]): readonly [number, number] {
  const ends = points.flatMap(({ value, limits: within }) => [
    value.value - COVERAGE_95 * value.sd,
    value.value + COVERAGE_95 * value.sd,
    ...(within === undefined ? [] : [within.low, within.high]),
  ]);
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  // Exact values that are all one have an axis all the same.
  const room = Math.max(MARGIN * (high - low), 1e-3 * Math.abs(high), 1e-6);
  return ends.length === 0 ? [0, 1] : [low - room, high + room];
}

function valueAxis(
  range: readonly [number, number],
  y: Scale,
  ends: readonly [number, number],
  unit: string,
): string {
  const { values, digits } = roundTicks(range[0], range[1], 5);
  const highest = values.at(-1);
  const lines = values.map((value) =>
    pathThrough([
      [ends[0], y(value)],
      [ends[1], y(value)],
    ]),
  );
  return [
    element('path', { d: lines.join(''), stroke: HAIRLINE, 'stroke-width': 0.6, fill: 'none' }),
    ...values.map((value) =>
      label(withUnit(decimals(value, digits), value === highest ? unit : ''), ends[0] - 7, y(value) + 4, {
        fill: SOFT_INK,
        anchor: 'end',
      }),
    ),
  ].join('');
}

function limits(
  { baseline, limits: within }: TrendPoint,
  [from, to]: readonly [number, number],
  y: Scale,
): string {
  if (baseline === undefined || within === undefined) return '';
  const [high, low] = [y(within.high), y(within.low)];
  const at = y(baseline.value);
  return (
    element('rect', {
      x: from,
      y: high,
      width: to - from,
      height: low - high,
      fill: ACCENT,
      'fill-opacity': 0.13,
    }) + element('line', { x1: from, y1: at, x2: to, y2: at, stroke: ACCENT, 'stroke-width': 1.4 })
  );
}

function hasMoved({ state, since }: TrendPoint): boolean {
  return state === 'jumped' || state === 'drifted' || (state === 'first' && since?.changed === true);
}

function mark(
  point: TrendPoint,
  atX: number,
  y: Scale,
  stepPx: number,
  unit: string,
  [top, right]: readonly [top: number, right: number],
): string {
  const { value, since } = point;
  const half = COVERAGE_95 * value.sd;
  const ends = [y(value.value + half), y(value.value - half)] as const;
  const dotPx = Math.min(DOT_PX, Math.max(1, 0.35 * stepPx));
  const bar = errorBar(atX, ends, INK, Math.min(4, 0.35 * stepPx));
  if (!hasMoved(point)) return bar + element('circle', { cx: atX, cy: y(value.value), r: dotPx, fill: INK });
  const at = y(value.value);
  const diamond = pathThrough(
    [
      [atX, at - DIAMOND_PX],
      [atX + DIAMOND_PX, at],
      [atX, at + DIAMOND_PX],
      [atX - DIAMOND_PX, at],
    ],
    true,
  );
  const by = since?.by.value ?? 0;
  const digits = unit === '' ? 3 : 1;
  const text = `${by < 0 ? '' : '+'}${withUnit(decimals(by, digits), unit)}`;
  const above = Math.min(ends[0], at - 9) - 5;
  // Below, where there is no room above.
  const baseline = above - SIZES.label > top ? above : Math.max(ends[1], at + 9) + 13;
  return (
    bar +
    element('path', { d: diamond, fill: ACCENT }) +
    label(text, Math.min(atX, right - textWidth(text, SIZES.label, true) / 2), baseline, {
      fill: ACCENT,
      bold: true,
      rim: true,
      anchor: 'middle',
    })
  );
}

/** Dashed lines, each told above the chart; where there is no room the words end early, or are left to the report. */
function changeMarks(
  told: readonly { readonly at: number; readonly text: string }[],
  { top, left, width, height }: Frame,
): readonly string[] {
  const freeFrom: number[] = Array.from({ length: CHANGE_ROWS }, () => left);
  return told.map(({ at, text }) => {
    const line = element('line', {
      x1: at,
      y1: top,
      x2: at,
      y2: top + height,
      stroke: SOFT_INK,
      'stroke-dasharray': '4 3',
    });
    const wide = textWidth(text, SIZES.label);
    // At the right end the words stand before their line.
    const start = Math.max(left, Math.min(at + 3, left + width - wide));
    const row = freeFrom.findIndex((free) => free <= start);
    if (row < 0) return line;
    freeFrom[row] = start + wide + 10;
    return line + label(text, start, top - 6 - (CHANGE_ROWS - 1 - row) * ROW_PX, { fill: SOFT_INK });
  });
}

/** The last value in a frame, with a question before it. */
function doubtMark(text: string, [atX, atY]: readonly [number, number]): string {
  const box = { x: atX - 9, y: atY - 9, width: 18, height: 18 };
  return (
    element('rect', { ...box, fill: 'none', stroke: ACCENT, 'stroke-width': 1.6 }) +
    label(text, atX - 14, atY + 4, { fill: ACCENT, bold: true, rim: true, anchor: 'end' })
  );
}
