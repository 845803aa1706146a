import { COVERAGE_95, type Estimate } from '../../core/estimate.js';
import type { MmPerS2 } from '../../core/units.js';
import type { ProofChange } from '../../history/compareReadings.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { errorBar } from './errorBar.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks, type Frame, type Scale } from './scale.js';
import type { Part } from './strip.js';
import { textWidth, wrapText } from './textWidth.js';

const HEAD_PX = 30;
/** Two rows of words above the chart: up to where each side is quiet. */
const LIMITS_PX = 34;
const CHART_PX = 300;
const FOOT_PX = 34;
const Y_LABELS_PX = 52;
const NOTE_LINE_PX = 15;
const DOT_PX = 3.6;
/** Before stands a little to the left of its acceleration, after to the right. */
const ASIDE_PX = 6;
const ROOM = 1.08;
/** Lowest contrast that is drawn beside the largest: three decades. */
const DECADES = 1e-3;
/** Relative contrast: a tenth of a percent. */
const LEAST_CONTRAST = 1e-3;

/**
 * Ripples of two proof prints at each acceleration, by powers of ten: a factor between the two is the same distance
 * everywhere, however small the ripples. Before is hollow and left of its acceleration, after full and right of it.
 * @param proof - The two prints.
 * @param level - Contrast that is tolerated; undefined: none that stands out.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function beforeAfterAccelerations(
  proof: ProofChange,
  level: number | undefined,
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const name = 'Acceleration';
  const frame = {
    left: place.left + Y_LABELS_PX,
    top: place.top + HEAD_PX + LIMITS_PX,
    width: place.width - Y_LABELS_PX,
    height: CHART_PX,
  };
  const notesTop = frame.top + CHART_PX + FOOT_PX;
  const notes = wrapText(NOTE, place.width, SIZES.label);
  const svg = element(
    'g',
    { class: 'proofs' },
    label(name, place.left, place.top + 14, { sizePx: SIZES.body, bold: true }),
    label(
      'ripple contrast at the leading corner against the acceleration',
      place.left + textWidth(name, SIZES.body, true) + 8,
      place.top + 14,
      { sizePx: SIZES.note, fill: SOFT_INK },
    ),
    chart(proof, level, frame),
    ...notes.map((line, i) => label(line, place.left, notesTop + (i + 1) * NOTE_LINE_PX, { fill: SOFT_INK })),
  );
  return { svg, heightPx: HEAD_PX + LIMITS_PX + CHART_PX + FOOT_PX + notes.length * NOTE_LINE_PX };
}

const NOTE =
  'Hollow: before, full: after; bars span 95 %, and one that ends at the lower edge may be none at all. Curves: what a corner excites by theory, scaled to the dots, dashed before.';

type Model = NonNullable<ProofChange['modelBefore']>;

function chart(proof: ProofChange, level: number | undefined, frame: Frame): string {
  const { left, top, width, height } = frame;
  const [right, bottom] = [left + width, top + height];
  const { steps, quietBefore, quietAfter } = proof;
  const fastest = ROOM * Math.max(...steps.map(({ mmPerS2 }) => mmPerS2), 1);
  const inside = (model: Model = []) => model.filter(({ mmPerS2 }) => mmPerS2 <= fastest);
  const [modelBefore, modelAfter] = [inside(proof.modelBefore), inside(proof.modelAfter)];
  const known = steps.flatMap(({ before, after }) => [before, after]).filter((one) => one !== undefined);
  const largest = Math.max(
    LEAST_CONTRAST,
    level ?? 0,
    ...known.map(({ value, sd }) => value + COVERAGE_95 * sd),
    ...[...modelBefore, ...modelAfter].map(({ amplitude }) => amplitude),
  );
  // Half of what is still told of the faintest; nothing is drawn for three decades of noise.
  const faintest = Math.min(largest, ...known.map(({ value, sd }) => Math.max(value, sd) / 2));
  const floor = Math.max(DECADES * largest, faintest);
  const log = linearScale([Math.log10(floor), Math.log10(ROOM * largest)], [bottom, top]);
  const y: Scale = (contrast) => log(Math.log10(Math.max(floor, contrast)));
  const x = linearScale([0, fastest], [left, right]);
  const ticks = roundTicks(0, fastest, 8);
  const marks = ticks.values.map((value, i) => ({
    at: x(value),
    text: withUnit(decimals(value, ticks.digits), i === ticks.values.length - 1 ? 'mm/s²' : ''),
  }));
  const curve = (model: Model, dashed: boolean) =>
    model.length === 0
      ? ''
      : element('path', {
          class: 'model',
          d: pathThrough(model.map(({ mmPerS2, amplitude }) => [x(mmPerS2), y(amplitude)])),
          stroke: ACCENT,
          'stroke-width': 1,
          'stroke-opacity': 0.6,
          'stroke-dasharray': dashed ? '5 4' : undefined,
          fill: 'none',
        });
  return [
    contrastDecades([floor, ROOM * largest], y, [left, right]),
    quiet(quietBefore, 'before', 0, frame, x),
    quiet(quietAfter, 'after', 1, frame, x),
    level === undefined ? '' : levelLine(level, y(level), [left, right]),
    curve(modelBefore, true),
    curve(modelAfter, false),
    ...steps.map(
      ({ mmPerS2, before, after }) =>
        dot(before, x(mmPerS2) - ASIDE_PX, y, PAPER) + dot(after, x(mmPerS2) + ASIDE_PX, y, INK),
    ),
    horizontalAxis(marks, [left, right], bottom, 'below', 0),
  ].join('');
}

function dot(one: Estimate | undefined, atX: number, y: Scale, fill: string): string {
  if (one === undefined) return '';
  const { value, sd } = one;
  return (
    errorBar(atX, [y(value + COVERAGE_95 * sd), y(value - COVERAGE_95 * sd)], INK) +
    element('circle', { cx: atX, cy: y(value), r: DOT_PX, stroke: INK, fill })
  );
}

/** Hairlines at 1, 2 and 5 times each power of ten. */
function contrastDecades(
  [low, high]: readonly [number, number],
  y: Scale,
  ends: readonly [number, number],
): string {
  const lines: string[] = [];
  for (let power = Math.floor(Math.log10(100 * low)); 10 ** power <= 100 * high; power += 1) {
    for (const factor of [1, 2, 5]) {
      const percent = factor * 10 ** power;
      if (percent < 100 * low || percent > 100 * high) continue;
      const at = y(percent / 100);
      const stroke = { stroke: HAIRLINE, 'stroke-width': factor === 1 ? 1 : 0.6 };
      lines.push(
        element('line', { x1: ends[0], y1: at, x2: ends[1], y2: at, ...stroke }),
        label(withUnit(decimals(percent, Math.max(0, -power)), '%'), ends[0] - 7, at + 4, {
          fill: SOFT_INK,
          anchor: 'end',
        }),
      );
    }
  }
  return lines.join('');
}

function levelLine(level: number, at: number, [left, right]: readonly [number, number]): string {
  const said = `tolerated: ${withUnit(String(Number((100 * level).toPrecision(3))), '%')}`;
  return (
    element('line', { x1: left, y1: at, x2: right, y2: at, stroke: ACCENT, 'stroke-width': 1.4 }) +
    label(said, right - 4, at + 14, { fill: ACCENT, bold: true, rim: true, anchor: 'end' })
  );
}

/** Up to where a side is quiet: a bar above the chart, and a line through it. */
function quiet(
  upTo: MmPerS2 | undefined,
  side: 'before' | 'after',
  row: number,
  { left, top, width, height }: Frame,
  x: Scale,
): string {
  const at = top - LIMITS_PX + row * 15 + 11;
  const style = { fill: ACCENT, bold: true } as const;
  if (upTo === undefined)
    return label(`${side}: not quiet at the lowest acceleration tested`, left, at, style);
  const said = `${side}: quiet up to ${withUnit(String(Number(upTo.toPrecision(6))), 'mm/s²')}`;
  const edge = x(upTo);
  const wide = textWidth(said, SIZES.label, true);
  const fits = edge - left > wide + 12;
  return [
    element('rect', { x: left, y: top, width: edge - left, height, fill: ACCENT, 'fill-opacity': 0.07 }),
    element('line', {
      x1: edge,
      y1: at - 10,
      x2: edge,
      y2: top + height,
      stroke: ACCENT,
      'stroke-width': 1.4,
      'stroke-dasharray': side === 'before' ? '5 4' : undefined,
    }),
    label(said, fits ? edge - 6 : Math.min(edge + 6, left + width - wide), at, {
      ...style,
      anchor: fits ? 'end' : 'start',
    }),
  ].join('');
}
