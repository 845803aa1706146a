import { element, pathThrough } from '../svg.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import type { Part } from './strip.js';
import { textWidth } from './textWidth.js';

/** What the places for the values show. */
export interface AxisMark {
  /** The user's own name of the axis. */
  readonly axis: string;
  /** What stands in its place: a frequency, or why there is none. */
  readonly value: string;
}

/** Places for values, from left to right: an axis is always looked for in the same one. */
const PLACES = ['X', 'Y'] as const;

const PLAN_PX = 84;
const TOWER_PX = 34;
const PLACE_PX = { width: 84, height: 52, gap: 8 } as const;
/** Height and width of the mark. */
export const AXIS_MARK_PX = { width: PLAN_PX + 12 + 2 * PLACE_PX.width + PLACE_PX.gap, height: 92 } as const;

/**
 * Says which axis a value belongs to without colour: the tower from above with the photographed face and an arrow along the
 * axis, and the value in the axis' own place, X at the left and Y at the right, beside an empty one for the other.
 * @param mark - Axis and value.
 * @param place - Left and upper edge, px.
 * @returns The part, as large as `AXIS_MARK_PX`.
 * @throws {RangeError} When a position is not finite.
 */
export function axisMark(
  { axis, value }: AxisMark,
  place: { readonly left: number; readonly top: number },
): Part {
  const { left, top } = place;
  const placesLeft = left + PLAN_PX + 12;
  const named = PLACES.find((name) => name === axis.toUpperCase());
  const places = named === undefined ? [axis] : PLACES;
  const boxPx = named === undefined ? 2 * PLACE_PX.width + PLACE_PX.gap : PLACE_PX.width;
  const drawn = places.map((name, i) =>
    valuePlace(
      name === named || named === undefined ? { axis, value } : { axis: name },
      [placesLeft + i * (PLACE_PX.width + PLACE_PX.gap), top + 18],
      boxPx,
    ),
  );
  const svg = element(
    'g',
    { class: 'axis-mark' },
    plan(axis, [left + PLAN_PX / 2, top + 40], named === 'X'),
    label('value for', placesLeft, top + 11, { fill: SOFT_INK }),
    ...drawn,
  );
  return { svg, heightPx: AXIS_MARK_PX.height };
}

/**
 * The mark in words, for those who do not see it.
 * @param mark - Axis and value.
 * @returns Two sentences.
 */
export function axisMarkWords(mark: AxisMark): string {
  const { axis, value } = mark;
  return `The tower from above: the photographed face is a thick edge with the camera before it, and an arrow at right angles to it is axis ${axis}. Beside it the place for the value of axis ${axis}: ${value}.`;
}

type Point = readonly [x: number, y: number];

/** From above, X to the right and Y up: the face lies across the axis, the camera looks along it. */
function plan(axis: string, [x, y]: Point, alongX: boolean): string {
  const half = TOWER_PX / 2;
  /** From "along the view and to its right" to the drawing. */
  const at = (along: number, right: number): Point =>
    alongX ? [x - along, y + right] : [x + right, y + along];
  const line = (a: Point, b: Point, stroke: string, width: number) =>
    element('path', { d: pathThrough([a, b]), stroke, 'stroke-width': width, fill: 'none' });
  const head = (tip: number, back: number) =>
    element('path', { d: pathThrough([at(tip, 0), at(back, -4), at(back, 4)], true), fill: ACCENT });
  const [cameraX, cameraY] = at(half + 13, 0);
  const camera = { width: alongX ? 10 : 16, height: alongX ? 16 : 10 };
  const tip = at(-half - 9, 0);
  return [
    element('rect', { x: x - half, y: y - half, width: TOWER_PX, height: TOWER_PX, fill: HAIRLINE }),
    line(at(-half + 8, 0), at(half - 8, 0), ACCENT, 2),
    head(-half + 2, -half + 9),
    head(half - 3, half - 10),
    line(at(half, -half), at(half, half), INK, 4),
    element('rect', {
      x: cameraX - camera.width / 2,
      y: cameraY - camera.height / 2,
      ...camera,
      fill: PAPER,
      stroke: INK,
    }),
    label(shortName(axis), tip[0], tip[1] + (alongX ? 4 : 2), {
      sizePx: SIZES.body,
      bold: true,
      anchor: 'middle',
    }),
    label('from above', x, y + half + 34, { fill: SOFT_INK, anchor: 'middle' }),
  ].join('');
}

/** Full for the axis of this reading, empty and dashed for the other. */
function valuePlace(
  { axis, value }: { readonly axis: string; readonly value?: string },
  [x, y]: Point,
  width: number,
): string {
  const { height } = PLACE_PX;
  const middle = x + width / 2;
  const name = value === undefined ? axis : `axis ${axis}`;
  const box = { x, y, width, height };
  return value === undefined
    ? element('rect', { ...box, fill: 'none', stroke: SOFT_INK, 'stroke-dasharray': '4 3' }) +
        label(name, middle, y + 20, { sizePx: SIZES.body, fill: SOFT_INK, anchor: 'middle' }) +
        label('not this one', middle, y + 38, { fill: SOFT_INK, anchor: 'middle' })
    : element('rect', { ...box, fill: INK }) +
        label(name, middle, y + 19, {
          sizePx: fitting(name, SIZES.body, width - 10),
          fill: PAPER,
          bold: true,
          anchor: 'middle',
        }) +
        label(value, middle, y + 41, {
          sizePx: fitting(value, SIZES.lead, width - 10),
          fill: PAPER,
          bold: true,
          anchor: 'middle',
        });
}

/** Size of a bold text that must fit a width. */
function fitting(text: string, mostPx: number, widthPx: number): number {
  return Math.min(mostPx, (mostPx * widthPx) / textWidth(text, mostPx, true));
}

/** A long name is cut in the drawing; the place for the value has the whole. */
function shortName(axis: string): string {
  const fits = (text: string) => textWidth(text, SIZES.body, true) <= PLAN_PX;
  if (fits(axis)) return axis;
  const letters = Array.from(axis);
  while (letters.length > 1 && !fits(`${letters.join('')}…`)) letters.pop();
  return `${letters.join('')}…`;
}
