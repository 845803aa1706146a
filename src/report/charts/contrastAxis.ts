import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { HAIRLINE, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { roundTicks, type Scale } from './scale.js';

/**
 * A vertical axis of relative contrast in %: hairlines across the chart, labels at the left.
 * @param limits - Relative contrast at the lower and the upper edge.
 * @param y - Where a contrast is drawn.
 * @param ends - x of the left and right end of the hairlines.
 * @returns SVG, with labels up to 40 px to the left.
 * @throws {RangeError} When a position is not finite.
 */
export function contrastAxis(
  limits: readonly [low: number, high: number],
  y: Scale,
  ends: readonly [left: number, right: number],
): string {
  const [left, right] = ends;
  const { values, digits } = roundTicks(100 * limits[0], 100 * limits[1], 4);
  const highest = values.at(-1);
  const at = values.map((value) => ({
    y: y(value / 100),
    text: withUnit(decimals(value, value === 0 ? 0 : digits), value === highest ? '%' : ''),
  }));
  const lines = at
    .map((tick) =>
      pathThrough([
        [left, tick.y],
        [right, tick.y],
      ]),
    )
    .join('');
  return [
    element('path', { d: lines, stroke: HAIRLINE, 'stroke-width': 0.6, fill: 'none' }),
    ...at.map((tick) => label(tick.text, left - 7, tick.y + 4, { fill: SOFT_INK, anchor: 'end' })),
  ].join('');
}
