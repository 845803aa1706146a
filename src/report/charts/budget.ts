import { COVERAGE_95 } from '../../core/estimate.js';
import type { Hz } from '../../core/units.js';
import type { Reading } from '../../reading/schema.js';
import { causeWords } from '../causes.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale } from './scale.js';
import type { Part } from './strip.js';
import { textWidth, wrapText } from './textWidth.js';

/** One cause with what it adds, ± Hz at 95 %. */
export interface BudgetRow {
  readonly cause: string;
  readonly nullHz: Hz;
  readonly spacingHz: Hz;
}

/** Less than this, ± Hz, is told together with what else is small. */
const SMALL_HZ = 0.005;

/**
 * What makes a frequency uncertain, the largest cause first.
 * @param reading - Budget of the reading.
 * @returns One row for each cause, small ones in one, and the last one of all together.
 */
export function budgetRows({ budget }: Pick<Reading, 'budget'>): readonly BudgetRow[] {
  const rows = budget.map(({ cause, nullHz, spacingHz }) => ({
    cause: causeWords(cause),
    nullHz: COVERAGE_95 * Math.abs(nullHz),
    spacingHz: COVERAGE_95 * Math.abs(spacingHz),
  }));
  if (rows.length === 0) return [];
  const size = (row: BudgetRow) => Math.max(row.nullHz, row.spacingHz);
  const large = rows.filter((row) => size(row) >= SMALL_HZ).sort((a, b) => size(b) - size(a));
  const small = rows.filter((row) => size(row) < SMALL_HZ);
  const [first, ...others] = small;
  const rest = first === undefined ? [] : [others.length === 0 ? first : together('smaller causes', small)];
  return [...large, ...rest, together('all together', rows)];
}

function together(cause: string, rows: readonly BudgetRow[]): BudgetRow {
  return {
    cause,
    nullHz: Math.hypot(...rows.map(({ nullHz }) => nullHz)),
    spacingHz: Math.hypot(...rows.map(({ spacingHz }) => spacingHz)),
  };
}

const HEAD_PX = 20;
const ROW_PX = 15;
const BARS_PX = 14;
const BAR_PX = 3.6;
/** Width of a column of numbers. */
const NUMBER_PX = 66;

/**
 * The uncertainty budget: for each cause what it adds to the frequency by height (full bar) and by spacing (hollow bar).
 * @param rows - From `budgetRows`.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function budgetChart(
  rows: readonly BudgetRow[],
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const { left, width } = place;
  const right = left + width;
  const withNull = rows.some(({ nullHz }) => nullHz > 0);
  const numbersPx = withNull ? 2 * NUMBER_PX : NUMBER_PX;
  const largest = Math.max(...rows.flatMap(({ nullHz, spacingHz }) => [nullHz, spacingHz]), 1e-9);
  const length = linearScale([0, largest], [0, width]);
  let y = place.top + 12;
  const head = [
    label(withUnit('±', 'Hz, 95 %'), left, y, { fill: SOFT_INK }),
    ...(withNull ? [sample('height', right - NUMBER_PX, y, true)] : []),
    sample('spacing', right, y, false),
  ];
  y = place.top + HEAD_PX;
  const drawn = rows.map((row, i) => {
    const isSum = i === rows.length - 1;
    const style = { bold: isSum, fill: INK };
    const lines = wrapText(row.cause, width - numbersPx, SIZES.label, isSum);
    const texts = lines.map((line, k) => label(line, left, y + 12 + k * 13, style));
    const number = (hz: Hz, x: number) =>
      label(hz === 0 ? '0' : decimals(hz, 2), x, y + 12, { ...style, anchor: 'end' });
    const barsTop = y + 12 + (lines.length - 1) * 13 + 4;
    const line = isSum
      ? element('path', {
          d: pathThrough([
            [left, y],
            [right, y],
          ]),
          stroke: INK,
          'stroke-width': 0.8,
          fill: 'none',
        })
      : '';
    const svg = [
      line,
      ...texts,
      withNull ? number(row.nullHz, right - NUMBER_PX) : '',
      number(row.spacingHz, right),
      withNull ? bar(left, barsTop, length(row.nullHz), true) : '',
      bar(left, barsTop + (withNull ? BAR_PX + 1 : 0), length(row.spacingHz), false),
    ].join('');
    y += ROW_PX + BARS_PX + (lines.length - 1) * 13;
    return svg;
  });
  return { svg: element('g', { class: 'budget' }, ...head, ...drawn), heightPx: y - place.top };
}

/** A word of the head with a sample of its bars before it, ending at the right. */
function sample(text: string, right: number, y: number, full: boolean): string {
  const width = textWidth(text, SIZES.label);
  return bar(right - width - 14, y - 6, 10, full) + label(text, right, y, { fill: SOFT_INK, anchor: 'end' });
}

function bar(x: number, y: number, width: number, full: boolean): string {
  if (width < 0.3) return '';
  return element('rect', {
    x,
    y,
    width,
    height: BAR_PX,
    fill: full ? INK : PAPER,
    stroke: full ? INK : SOFT_INK,
    'stroke-width': 0.7,
  });
}
