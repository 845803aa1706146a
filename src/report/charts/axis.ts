import { element, pathThrough } from '../svg.js';
import { HAIRLINE, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { textWidth } from './textWidth.js';

/** One mark of an axis. */
export interface Tick {
  /** x in px. */
  readonly at: number;
  readonly text: string;
}

const TICK_PX = 5;
const GAP_PX = 8;
/** How far a label may stand out over the axis' end, where there is room. */
const OVERHANG_PX = 14;

/**
 * A horizontal axis: a hairline, short ticks, and labels outside; a label that would touch the one before it
 * is left out, its tick stays.
 * @param ticks - The ticks; those beyond the ends are left out.
 * @param ends - x of the left and right end, px.
 * @param y - Where it lies, px.
 * @param side - On which side the labels stand.
 * @param rightRoomPx - How far a label may stand out over the right end; 0 at the picture's edge. @default 14
 * @returns A group.
 * @throws {RangeError} When a position is not finite.
 */
export function horizontalAxis(
  ticks: readonly Tick[],
  ends: readonly [left: number, right: number],
  y: number,
  side: 'above' | 'below',
  rightRoomPx: number = OVERHANG_PX,
): string {
  const [left, right] = ends;
  const out = side === 'below' ? 1 : -1;
  const inside = [...ticks]
    .sort((a, b) => a.at - b.at)
    .filter(({ at }) => at >= left - 0.5 && at <= right + 0.5);
  let freeFrom = -Infinity;
  const labels = inside.map(({ at, text }) => {
    const half = textWidth(text, SIZES.label) / 2;
    const centre = Math.min(right + rightRoomPx - half, Math.max(left - OVERHANG_PX + half, at));
    if (centre - half < freeFrom) return '';
    freeFrom = centre + half + GAP_PX;
    return label(text, centre, y + (side === 'below' ? TICK_PX + 12 : -TICK_PX - 4), {
      fill: SOFT_INK,
      anchor: 'middle',
    });
  });
  const marks = inside
    .map(({ at }) =>
      pathThrough([
        [at, y],
        [at, y + out * TICK_PX],
      ]),
    )
    .join('');
  return element(
    'g',
    {},
    element('path', {
      d:
        pathThrough([
          [left, y],
          [right, y],
        ]) + marks,
      stroke: HAIRLINE,
      fill: 'none',
    }),
    ...labels,
  );
}
