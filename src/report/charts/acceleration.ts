import type { MmPerS2 } from '../../core/units.js';
import { COVERAGE_95 } from '../../core/estimate.js';
import { decimals, withUnit } from '../format.js';
import type { ProofReading } from '../proofWords.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { contrastAxis } from './contrastAxis.js';
import { errorBar } from './errorBar.js';
import { ACCENT, INK, NOISE_GREY, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks, type Frame } from './scale.js';
import type { Part } from './strip.js';
import { textWidth, wrapText } from './textWidth.js';

const HEAD_PX = 46;
const CHART_PX = 200;
const FOOT_PX = 46;
const Y_LABELS_PX = 46;
const NOTE_LINE_PX = 15;
const DOT_PX = 3.6;
/** Half the width of the mark of what would have shown. */
const LIMIT_PX = 13;
/** Room beyond the largest acceleration and amplitude. */
const ROOM = 1.08;

/**
 * Ripple amplitude against acceleration: full dots ring, hollow ones do not stand out, a grey step says how large ripples would
 * have had to be to stand out; behind them the curve that theory gives a corner, and the accelerations without ringing as a veil.
 * @param proof - The proof print.
 * @param place - Left and upper edge and width, px.
 * @param chartPx - Height of the chart without its words. @default 200
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function accelerationPart(
  proof: ProofReading,
  place: { readonly left: number; readonly top: number; readonly width: number },
  chartPx: number = CHART_PX,
): Part {
  const name = 'Acceleration';
  const headY = place.top + 12;
  const frame = {
    left: place.left + Y_LABELS_PX,
    top: place.top + HEAD_PX,
    width: place.width - Y_LABELS_PX,
    height: chartPx,
  };
  const notes = wrapText(noteOf(proof), place.width, SIZES.label);
  const notesTop = frame.top + chartPx + FOOT_PX;
  const svg = element(
    'g',
    { class: 'acceleration' },
    label(name, place.left, headY, { sizePx: SIZES.body, bold: true }),
    label(
      'ripple contrast at the leading corner against the acceleration',
      place.left + textWidth(name, SIZES.body, true) + 8,
      headY,
      { sizePx: SIZES.note, fill: SOFT_INK },
    ),
    chart(proof, frame),
    ...notes.map((text, i) => label(text, place.left, notesTop + i * NOTE_LINE_PX, { fill: SOFT_INK })),
  );
  return { svg, heightPx: notesTop + notes.length * NOTE_LINE_PX - place.top };
}

function chart(proof: ProofReading, frame: Frame): string {
  const { left, top, width, height } = frame;
  const [right, bottom] = [left + width, top + height];
  const { steps, model = [], quietUpTo } = proof;
  const fastest = ROOM * Math.max(...[...steps, ...model].map(({ mmPerS2 }) => mmPerS2));
  const largest = Math.max(
    ...steps.flatMap(({ amplitude, detectable = 0 }) => [
      detectable,
      amplitude === undefined ? 0 : amplitude.value + COVERAGE_95 * amplitude.sd,
    ]),
    ...model.map(({ amplitude }) => amplitude),
    // A face on which nothing was read has an axis all the same.
    LEAST_CONTRAST,
  );
  const x = linearScale([0, fastest], [left, right]);
  const y = linearScale([0, ROOM * largest], [bottom, top]);
  const ticks = roundTicks(0, fastest, width / 110);
  const last = ticks.values.at(-1);
  const marks = ticks.values.map((value) => ({
    at: x(value),
    text: withUnit(decimals(value, ticks.digits), value === last ? 'mm/s²' : ''),
  }));
  const curve = element('path', {
    class: 'model',
    d: pathThrough(model.map(({ mmPerS2, amplitude }) => [x(mmPerS2), y(amplitude)])),
    stroke: ACCENT,
    'stroke-width': 1.4,
    'stroke-opacity': 0.8,
    fill: 'none',
  });
  return [
    quietUpTo === undefined ? '' : veil(quietUpTo.mmPerS2, frame, x),
    contrastAxis([0, ROOM * largest], y, [left, right]),
    model.length === 0 ? '' : curve,
    ...steps.map((step) => stepMarks(step, x(step.mmPerS2), y)),
    horizontalAxis(marks, [left, right], bottom, 'below', 0),
  ].join('');
}

/** Relative contrast: a tenth of a percent. */
const LEAST_CONTRAST = 1e-3;

function veil(upTo: MmPerS2, { left, top, width, height }: Frame, x: (value: MmPerS2) => number): string {
  const edge = x(upTo);
  const text = `no ringing seen up to ${withUnit(String(Number(upTo.toPrecision(6))), 'mm/s²')}`;
  const fits = edge - left > textWidth(text, SIZES.label, true) + 12;
  return (
    element('rect', { x: left, y: top, width: edge - left, height, fill: ACCENT, 'fill-opacity': 0.13 }) +
    element('line', { x1: edge, y1: top, x2: edge, y2: top + height, stroke: ACCENT, 'stroke-width': 1.4 }) +
    label(text, fits ? edge - 6 : Math.min(edge, left + width) + 6, top - 6, {
      fill: ACCENT,
      bold: true,
      anchor: fits ? 'end' : 'start',
    })
  );
}

function stepMarks(
  { amplitude, detectable, significant }: ProofReading['steps'][number],
  atX: number,
  y: (value: number) => number,
): string {
  const limit =
    detectable === undefined || significant
      ? ''
      : element('path', {
          class: 'limit',
          d: pathThrough([
            [atX - LIMIT_PX, y(detectable)],
            [atX + LIMIT_PX, y(detectable)],
          ]),
          stroke: NOISE_GREY,
          'stroke-width': 3,
          fill: 'none',
        });
  if (amplitude === undefined) return limit;
  const half = COVERAGE_95 * amplitude.sd;
  const [high, low] = [y(amplitude.value + half), y(Math.max(0, amplitude.value - half))];
  const colour = significant ? INK : SOFT_INK;
  return (
    limit +
    errorBar(atX, [high, low], colour) +
    element('circle', {
      cx: atX,
      cy: y(amplitude.value),
      r: DOT_PX,
      fill: significant ? INK : PAPER,
      stroke: colour,
    })
  );
}

function noteOf({ steps, model, quietUpTo }: ProofReading): string {
  const some = (has: (step: ProofReading['steps'][number]) => boolean) => steps.some(has);
  return [
    some(({ amplitude }) => amplitude !== undefined)
      ? 'Full dots stand out of the noise, hollow ones do not. Bars: 95 %.'
      : '',
    some(({ significant, detectable }) => detectable !== undefined && !significant)
      ? 'Grey: ripples of this size would have stood out.'
      : '',
    model === undefined
      ? ''
      : 'Curve: what a corner excites by theory, scaled to the dots; a speed ramp of whole swings excites nothing.',
    quietUpTo === undefined ? '' : 'Veil: no ringing seen at any acceleration tested.',
  ]
    .filter((text) => text !== '')
    .join(' ');
}
