import { COVERAGE_95, type Estimate } from '../../core/estimate.js';
import type { Change } from '../../history/change.js';
import { decimals, withUnit } from '../format.js';
import { element } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks } from './scale.js';
import type { Part } from './strip.js';

const ROW_PX = 22;
const HEAD_PX = 26;
const NAMES_PX = 52;
const CAP_PX = 4;
const DOT_PX = 3.6;
const MARGIN = 0.15;

/**
 * A value before and after a change on one axis, each with its 95 % bar: before hollow, after full.
 * @param change - The two values.
 * @param name - What they are.
 * @param unit - Their unit.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function beforeAfterValues(
  { before, after }: Pick<Change, 'before' | 'after'>,
  name: string,
  unit: string,
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const [left, right] = [place.left + NAMES_PX, place.left + place.width];
  const ends = [before, after].flatMap(({ value, sd }) => [
    value - COVERAGE_95 * sd,
    value + COVERAGE_95 * sd,
  ]);
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  const room = Math.max(MARGIN * (high - low), 1e-3 * Math.abs(high));
  const x = linearScale([low - room, high + room], [left, right]);
  const bottom = place.top + HEAD_PX + 2 * ROW_PX;
  const row = (said: string, { value, sd }: Estimate, i: number) => {
    const y = place.top + HEAD_PX + (i + 0.5) * ROW_PX;
    const [from, to] = [x(value - COVERAGE_95 * sd), x(value + COVERAGE_95 * sd)];
    const bar = [from, to].map((at) => `M${at.toFixed(2)} ${y - CAP_PX}L${at.toFixed(2)} ${y + CAP_PX}`);
    return [
      label(said, left - 7, y + 4, { fill: SOFT_INK, anchor: 'end' }),
      element('path', {
        d: `M${from.toFixed(2)} ${y}L${to.toFixed(2)} ${y}${bar.join('')}`,
        stroke: INK,
        fill: 'none',
      }),
      element('circle', { cx: x(value), cy: y, r: DOT_PX, stroke: INK, fill: i === 0 ? PAPER : INK }),
    ].join('');
  };
  const ticks = roundTicks(low - room, high + room, 8);
  const last = ticks.values.at(-1);
  const marks = ticks.values.map((value) => ({
    at: x(value),
    text: withUnit(decimals(value, ticks.digits), value === last ? unit : ''),
  }));
  const svg = element(
    'g',
    { class: 'before-after' },
    label(name, place.left, place.top + 14, { sizePx: SIZES.body, bold: true }),
    row('before', before, 0),
    row('after', after, 1),
    horizontalAxis(marks, [left, right], bottom, 'below', 0),
  );
  return { svg, heightPx: HEAD_PX + 2 * ROW_PX + 22 };
}
