import type { Mm, MmPerS } from '../../core/units.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis, type Tick } from './axis.js';
import { ACCENT, HAIRLINE, INK, PAPER, SOFT_INK } from './ink.js';
import { heightY, linearScale, roundTicks, type Column, type HeightScale } from './scale.js';

/** Ripple spacing over the height. */
export interface SpacingData {
  readonly speedMmPerS: MmPerS;
  readonly heights: readonly {
    readonly heightMm: Mm;
    readonly spacingMm?: { readonly value: Mm; readonly sd: Mm } | undefined;
    readonly significant: boolean;
  }[];
  /** Where the spacing is expected. */
  readonly expectedMm?: Mm | undefined;
}

const DOT_PX = 2.6;
/** This share of dots at each end may lie outside the chart, as wedges. */
const STRAY_SHARE = 0.05;

/**
 * Ripple spacing at each height as dots with bars of one standard deviation; full dots stand out of the noise,
 * hollow ones do not. Below it is read in mm, above in Hz (print speed ÷ spacing).
 * @param data - Spacings.
 * @param scale - The shared vertical scale.
 * @param column - Its place.
 * @returns A group, with labels up to 20 px above and below.
 * @throws {RangeError} When a number is not finite.
 */
export function spacingChart(data: SpacingData, scale: HeightScale, column: Column): string {
  const { left, width } = column;
  const right = left + width;
  const frame = element('path', {
    d: [left, right]
      .map((x) =>
        pathThrough([
          [x, scale.topY],
          [x, scale.bottomY],
        ]),
      )
      .join(''),
    stroke: HAIRLINE,
    fill: 'none',
  });
  const range = rangeOf(data);
  if (range === undefined) return element('g', { class: 'spacing' }, frame);
  const x = linearScale(range, [left, right]);
  const inside = (value: Mm) => Math.min(right, Math.max(left, x(value)));
  const dots = data.heights.map(({ heightMm, spacingMm, significant }) => {
    if (spacingMm === undefined) return '';
    const y = heightY(scale, heightMm);
    const { value, sd } = spacingMm;
    if (value < range[0] || value > range[1]) {
      return outside(value < range[0] ? left : right, y, value < range[0], significant);
    }
    const bar = { x1: inside(value - sd), y1: y, x2: inside(value + sd), y2: y };
    return (
      element('line', {
        ...bar,
        stroke: significant ? INK : SOFT_INK,
        'stroke-width': significant ? 1 : 0.6,
      }) +
      element('circle', {
        cx: x(value),
        cy: y,
        r: DOT_PX,
        fill: significant ? INK : PAPER,
        stroke: significant ? INK : SOFT_INK,
        'stroke-width': 0.9,
      })
    );
  });
  const { expectedMm } = data;
  return element(
    'g',
    { class: 'spacing' },
    frame,
    expectedMm === undefined
      ? ''
      : element('line', {
          class: 'expected',
          x1: x(expectedMm),
          y1: scale.topY,
          x2: x(expectedMm),
          y2: scale.bottomY,
          stroke: ACCENT,
          'stroke-width': 1.4,
        }),
    ...dots,
    horizontalAxis(mmTicks(range, x, width), [left, right], scale.bottomY, 'below', 0),
    horizontalAxis(hzTicks(range, x, width, data.speedMmPerS), [left, right], scale.topY, 'above', 0),
  );
}

/** A wedge at the edge: the value lies beyond it; full or hollow like the dots. */
function outside(edgeX: number, y: number, pointsLeft: boolean, significant: boolean): string {
  const inward = pointsLeft ? 1 : -1;
  const wedge = pathThrough(
    [
      [edgeX + inward * 7, y - 2.6],
      [edgeX + inward * 2, y],
      [edgeX + inward * 7, y + 2.6],
    ],
    true,
  );
  const colour = significant ? INK : SOFT_INK;
  return element('path', { d: wedge, stroke: colour, 'stroke-width': 0.9, fill: significant ? INK : PAPER });
}

/** Room for nearly everything that stands out of the noise, and at least a third around the expected spacing. */
function rangeOf(data: SpacingData): readonly [Mm, Mm] | undefined {
  const clear = data.heights.flatMap(({ spacingMm, significant }) =>
    significant && spacingMm ? [spacingMm] : [],
  );
  const any = clear.length > 0 ? clear : data.heights.flatMap(({ spacingMm }) => spacingMm ?? []);
  const expected = data.expectedMm === undefined ? [] : [data.expectedMm * 0.66, data.expectedMm * 1.34];
  const ends = any.flatMap(({ value, sd }) => [value - sd, value + sd]).sort((a, b) => a - b);
  // A single stray dot must not squeeze all the others.
  const strays = Math.floor(STRAY_SHARE * ends.length);
  const values = [...ends.slice(strays, ends.length - strays), ...expected];
  if (values.length === 0) return undefined;
  const low = Math.min(...values);
  const high = Math.max(...values);
  const margin = Math.max(0.06 * (high - low), 0.02 * high);
  return [Math.max(high * 0.05, low - margin), high + margin];
}

function mmTicks(range: readonly [Mm, Mm], x: (value: Mm) => number, width: number): readonly Tick[] {
  const { values, digits } = roundTicks(range[0], range[1], Math.max(2, width / 45));
  const last = values.at(-1);
  return values.map((value) => {
    const text = decimals(value, digits);
    return { at: x(value), text: value === last ? withUnit(text, 'mm') : text };
  });
}

/** The frequency falls as the spacing grows, so the unit stands with the lowest, at the right. */
function hzTicks(
  range: readonly [Mm, Mm],
  x: (value: Mm) => number,
  width: number,
  speed: MmPerS,
): readonly Tick[] {
  const { values, digits } = roundTicks(speed / range[1], speed / range[0], Math.max(3, width / 30));
  const lowest = values[0];
  return values.map((value) => {
    const text = decimals(value, digits);
    return { at: x(speed / value), text: value === lowest ? withUnit(text, 'Hz') : text };
  });
}
