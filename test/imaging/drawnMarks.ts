import ndarray from 'ndarray';
import type { CodeImage, PointPx } from '../../src/core/image.js';
import { seeded } from '../synth/random.js';

/** A row of marks as on a ruler: each a third of the spacing wide. */
export interface DrawnMarks {
  /** Where the first one crosses the row's axis, and the axis's direction, clockwise from the right as pictures have it. */
  readonly from: PointPx;
  readonly angleDeg: number;
  readonly spacingPx: number;
  readonly count: number;
  /** Where marks begin and end across the axis, px; every tenth is longer where that is told. */
  readonly low: number;
  readonly high: number;
  readonly everyTenthHigh?: number;
  /** By how much marks move along the axis for each px across. @default 0 */
  readonly lean?: number;
  /** Codes. */
  readonly marks: number;
  readonly ground: number;
}

/**
 * Draws rows of marks, each with some of its ground around it, with a noise of one code.
 * @param widthPx - Width.
 * @param heightPx - Height.
 * @param rows - The rows; code 128 lies around all of them.
 */
export function drawMarks(widthPx: number, heightPx: number, rows: readonly DrawnMarks[]): CodeImage {
  const random = seeded(17);
  const data = new Uint8Array(widthPx * heightPx);
  for (let i = 0; i < data.length; i += 1) {
    const [x, y] = [(i % widthPx) + 0.5, Math.floor(i / widthPx) + 0.5];
    const code = rows.reduce<number>((under, row) => codeAt(row, x, y) ?? under, 128);
    data[i] = Math.round(code + random.even(-1, 1));
  }
  return ndarray(data, [heightPx, widthPx]);
}

/** Undefined outside the row's ground. */
function codeAt(row: DrawnMarks, x: number, y: number): number | undefined {
  const { from, angleDeg, spacingPx, count, low, high, everyTenthHigh = high, lean = 0 } = row;
  const angle = (angleDeg * Math.PI) / 180;
  const [dx, dy] = [x - from[0], y - from[1]];
  const across = -dx * Math.sin(angle) + dy * Math.cos(angle);
  const along = dx * Math.cos(angle) + dy * Math.sin(angle);
  const room = 3 * spacingPx;
  const last = (count - 1) * spacingPx;
  if (along < -room || along > last + room || across < low - room || across > everyTenthHigh + room) {
    return undefined;
  }
  const atAxis = along - lean * across;
  const k = Math.round(atAxis / spacingPx);
  const end = k % 10 === 0 ? everyTenthHigh : high;
  if (k < 0 || k >= count || across < low || across > end) return row.ground;
  const cover = Math.min(1, Math.max(0, 0.5 + spacingPx / 6 - Math.abs(atAxis - k * spacingPx)));
  return row.ground + cover * (row.marks - row.ground);
}
