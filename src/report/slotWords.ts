import { interval95 } from '../core/estimate.js';
import type { Reading } from '../reading/schema.js';
import { decimals, halfWidth95, withUnit } from './format.js';

/**
 * What is told of the slots in a face.
 * @param reading - Its slots and walls.
 * @returns One line for each slot, and one where more than one wall counts.
 */
export function slotWords({ slots = [], walls }: Pick<Reading, 'slots' | 'walls'>): readonly string[] {
  const used = walls.filter(({ use }) => use === 'used').length;
  return [
    ...slots.map(slotLine),
    ...(used > 1 ? [`${String(used)} of ${String(walls.length)} walls were read, and count together`] : []),
  ];
}

function slotLine({
  toldMm,
  centreMm,
  widthMm,
  heights,
  closes,
}: NonNullable<Reading['slots']>[number]): string {
  if (centreMm === undefined || widthMm === undefined) {
    return `no gap shows at ${mm(toldMm)}, where a slot was told`;
  }
  const closed = heights.filter(({ widthMm: { value } }) => value === 0).length;
  const open = `the slot at ${mm(centreMm)} is ${plusMinus(widthMm)} wide`;
  if (closes === undefined) {
    return `${open}${closed === 0 ? ' and open at all heights' : `, and closed at ${String(closed)} of ${String(heights.length)} heights`}`;
  }
  const { heightMm, ladderHz } = closes;
  const hz =
    ladderHz === undefined ? '' : `, where the ladder stands at ${withUnit(decimals(ladderHz, 1), 'Hz')}`;
  return `${open}, and closed ${closes.closed} ${plusMinus(heightMm)}${hz}`;
}

function plusMinus(estimate: { readonly value: number; readonly sd: number }): string {
  return halfWidth95(interval95(estimate), 'mm');
}

function mm(value: number): string {
  return withUnit(decimals(value, 1), 'mm');
}
