import type { ChosenAxis, ShaperDecision, ShaperOption } from '../decide/decideShapers.js';
import { horizontalAxis } from './charts/axis.js';
import { axisMark, AXIS_MARK_PX, axisMarkWords } from './charts/axisMark.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './charts/ink.js';
import { label } from './charts/label.js';
import { linearScale, roundTicks, type Scale } from './charts/scale.js';
import type { Part } from './charts/strip.js';
import { textWidth, wrapText } from './charts/textWidth.js';
import { DECIDE_CAUTIONS, decideSections, millimetres, missingWords, mmPerS2 } from './decideReport.js';
import { decimals, halfWidth95, withUnit } from './format.js';
import type { SheetFigure } from './sheet/sheet.js';
import { element, pathThrough, svgDocument } from './svg.js';

const WIDTH_PX = 960;
const MARGIN_PX = 40;
const CONTENT_PX = WIDTH_PX - 2 * MARGIN_PX;
const GAP_PX = 36;
/** The corner's square, and what is left beside it for the drift. */
const CORNER_PX = 250;
const DRIFT_PX = CONTENT_PX - CORNER_PX - GAP_PX;
const HEAD_PX = 30;
const BAND_PX = 64;
const ROW_PX = 30;
const ROW_NAME_PX = 84;
const CARD_GAP_PX = 34;
/** What the corner's square shows at least, mm: two axes are then drawn alike. */
const WINDOW_MM = 1;
/** A rounding fills no more of it than this share. */
const FILLS = 0.3;
/** Room on the Hz axis beyond the widest band that is drawn. */
const ROOM = 0.12;
const DOT_PX = 4;
const CAP_PX = 5;

/**
 * Draws a decision, one card for each axis: what to enter, how far the axis may drift before ripples return as a band on a scale
 * of Hz, and the corner as the shapers round it, in mm.
 * @param decision - The decision.
 * @param all - Whether the shapers that were not chosen are drawn below, each as a thin band.
 * @returns An SVG document 960 px wide.
 * @throws {RangeError} When a number is not finite.
 */
export function drawDecision(decision: ShaperDecision, all: boolean): string {
  const parts: string[] = [];
  let y = MARGIN_PX;
  decision.axes.forEach((axis, i) => {
    if (i > 0) {
      parts.push(
        element('line', {
          x1: MARGIN_PX,
          y1: y - CARD_GAP_PX / 2,
          x2: WIDTH_PX - MARGIN_PX,
          y2: y - CARD_GAP_PX / 2,
          stroke: HAIRLINE,
        }),
      );
    }
    const card = cardOf(axis, decision, all, y);
    parts.push(card.svg);
    y += card.heightPx + CARD_GAP_PX;
  });
  const foot = [...missingWords(decision).map((text) => `Asked: ${text}`), ...DECIDE_CAUTIONS];
  const closing = lines(foot, y, CONTENT_PX, SIZES.note, SOFT_INK);
  parts.push(closing.svg);
  const height = y + closing.heightPx + MARGIN_PX;
  const paper = element('rect', { x: 0, y: 0, width: WIDTH_PX, height, fill: PAPER });
  const told = decision.axes.map((axis) => decideSections(axis, decision));
  return svgDocument(WIDTH_PX, height, [paper, ...parts].join('\n'), {
    title: told.map(({ verdict }) => verdict.replaceAll(/ {2,}/g, ': ')).join('; '),
    description: [
      ...told.flatMap(({ meaning, drift, corner }) => [meaning, ...drift, ...corner]),
      ...decision.axes.flatMap((axis) => (axis.state === 'chosen' ? axisMarkWords(markOf(axis)) : [])),
    ].join('. '),
  });
}

function lines(
  texts: readonly string[],
  top: number,
  widthPx: number,
  sizePx: number,
  fill: string = INK,
  bold = false,
): Part {
  const all = texts.flatMap((text) => wrapText(text, widthPx, sizePx, bold));
  const step = sizePx + 5;
  return {
    svg: all
      .map((text, i) => label(text, MARGIN_PX, top + (i + 1) * step - 4, { sizePx, fill, bold }))
      .join(''),
    heightPx: all.length * step,
  };
}

function markOf({ axis, choice }: ChosenAxis): { readonly axis: string; readonly value: string } {
  return { axis, value: choice.holds ? withUnit(decimals(choice.enterHz, 1), 'Hz') : 'not yet' };
}

function cardOf(
  axis: ShaperDecision['axes'][number],
  decision: ShaperDecision,
  all: boolean,
  top: number,
): Part {
  const sections = decideSections(axis, decision);
  const chosen = axis.state === 'chosen' ? axis : undefined;
  const headWidth = chosen === undefined ? CONTENT_PX : CONTENT_PX - AXIS_MARK_PX.width - GAP_PX;
  const parts: string[] = [];
  let y = top;
  const say = (part: Part) => {
    parts.push(part.svg);
    y += part.heightPx;
  };
  say(lines([sections.verdict.replaceAll(/ {2,}/g, ' · ')], y, headWidth, SIZES.lead, INK, true));
  say(lines([sections.meaning], y, headWidth, SIZES.body, SOFT_INK));
  if (chosen === undefined) {
    say(lines(sections.next, y + 4, CONTENT_PX, SIZES.body));
    return { svg: element('g', { class: 'card' }, ...parts), heightPx: y + 4 - top };
  }
  const mark = axisMark(markOf(chosen), { left: WIDTH_PX - MARGIN_PX - AXIS_MARK_PX.width, top });
  parts.push(mark.svg);
  y = Math.max(y, top + mark.heightPx) + 16;
  const drift = driftChart(chosen, all, y);
  const corner = chosen.corner === undefined ? undefined : cornerChart(chosen.corner, y);
  // What fits beside the corner's square stands there.
  const said = lines(
    [...sections.reading, ...sections.load, ...sections.drift],
    y + drift.heightPx,
    corner === undefined ? CONTENT_PX : DRIFT_PX,
    SIZES.note,
  );
  parts.push(drift.svg, corner?.svg ?? '', said.svg);
  y += Math.max(drift.heightPx + said.heightPx, corner?.heightPx ?? 0) + 6;
  say(
    lines([...sections.corner, ...sections.slot, ...(all ? sections.others : [])], y, CONTENT_PX, SIZES.note),
  );
  return { svg: element('g', { class: 'card' }, ...parts), heightPx: y - top };
}

/**
 * The charts of a card without its words, for a page that says these itself.
 * @param axis - An axis with a choice.
 * @returns Drift and corner side by side.
 * @throws {RangeError} When a number is not finite.
 */
export function chartsOfAxis(axis: ChosenAxis): SheetFigure {
  const drift = driftChart(axis, false, 0);
  const corner = axis.corner === undefined ? undefined : cornerChart(axis.corner, 0);
  const widthPx = corner === undefined ? DRIFT_PX : CONTENT_PX;
  const heightPx = Math.max(drift.heightPx, corner?.heightPx ?? 0);
  const { quietHz } = axis.choice;
  const alt = [
    quietHz === undefined
      ? 'No setting is quiet over all that the reading leaves open.'
      : `A band on a scale of Hz: quiet from ${decimals(quietHz.low, 1)} to ${withUnit(decimals(quietHz.high, 1), 'Hz')}, the axis at ${halfWidth95(axis.mode.naturalHz, 'Hz')} in it.`,
    axis.corner === undefined
      ? ''
      : `A corner of 90° as commanded and as shaped: cut by ${millimetres(axis.corner.roundingMm)} at most.`,
  ];
  return {
    svg: element('g', { transform: `translate(${String(-MARGIN_PX)} 0)` }, drift.svg, corner?.svg ?? ''),
    widthPx,
    heightPx,
    alt: alt.join(' ').trim(),
    caption: '',
  };
}

/** A band for each shaper on one scale of Hz, the chosen one large, with what the reading says in it. */
function driftChart(axis: ChosenAxis, all: boolean, top: number): Part {
  const { mode, loaded, choice, options } = axis;
  const others = all ? options.filter((option) => option !== choice) : [];
  const drawn = [choice, ...others];
  const states = [mode.naturalHz, ...(loaded === undefined ? [] : [loaded.naturalHz])];
  const ends = [
    ...drawn.flatMap(({ quietHz }) => (quietHz === undefined ? [] : [quietHz.low, quietHz.high])),
    ...states.flatMap(({ low95, high95 }) => [low95, high95]),
  ];
  const [low, high] = [Math.min(...ends), Math.max(...ends)];
  const room = ROOM * (high - low) + 0.02 * mode.naturalHz.value;
  const left = MARGIN_PX;
  const right = MARGIN_PX + DRIFT_PX;
  const nameLeft = all ? left + ROW_NAME_PX : left;
  const x = linearScale([low - room, high + room], [nameLeft, right]);
  const bandTop = top + HEAD_PX + 20;
  const bandBottom = bandTop + BAND_PX;
  const bottom = bandBottom + (all ? others.length * ROW_PX + 12 : 0) + 6;
  const ticks = roundTicks(low - room, high + room, 9);
  const marks = ticks.values.map((value, i) => ({
    at: x(value),
    text: withUnit(decimals(value, ticks.digits), i === ticks.values.length - 1 ? 'Hz' : ''),
  }));
  const name = 'Drift';
  return {
    svg: element(
      'g',
      { class: 'drift' },
      label(name, left, top + 12, { sizePx: SIZES.body, bold: true }),
      label(
        'where the axis may swing before ripples return',
        left + textWidth(name, SIZES.body, true) + 8,
        top + 12,
        { sizePx: SIZES.note, fill: SOFT_INK },
      ),
      quietBand(choice, x, [bandTop, bandBottom], [nameLeft, right], states.length === 1),
      all ? label(choice.family, left, bandTop + BAND_PX / 2 + 4, { sizePx: SIZES.note, bold: true }) : '',
      ...states.map((state, i) =>
        readingMark(
          state,
          x,
          bandTop + (states.length === 1 ? BAND_PX / 2 + 6 : ((i + 1) * BAND_PX) / 3),
          states.length === 1 ? 'above' : i === 0 ? 'right' : 'left',
        ),
      ),
      ...others.map((option, i) => otherBand(option, x, left, bandBottom + 14 + i * ROW_PX)),
      horizontalAxis(marks, [nameLeft, right], bottom, 'below', 0),
    ),
    heightPx: bottom + 26 - top,
  };
}

function quietBand(
  { quietHz, holds }: ShaperOption,
  x: Scale,
  [top, bottom]: readonly [number, number],
  [left, right]: readonly [number, number],
  named: boolean,
): string {
  if (quietHz === undefined || !holds) {
    return label('no setting of this shaper is quiet over all of it', left, top - 6, {
      fill: ACCENT,
      bold: true,
    });
  }
  const [from, to] = [x(quietHz.low), x(quietHz.high)];
  const edge = (at: number) =>
    element('line', { x1: at, y1: top, x2: at, y2: bottom, stroke: ACCENT, 'stroke-width': 1.6 });
  const hz = (value: number) => withUnit(decimals(value, 1), 'Hz');
  const beside = (text: string, fromX: number, toX: number) =>
    named && toX - fromX > textWidth(text, SIZES.label) + 8
      ? label(text, (fromX + toX) / 2, (top + bottom) / 2 + 4, { fill: SOFT_INK, anchor: 'middle' })
      : '';
  return [
    element('rect', {
      x: from,
      y: top,
      width: to - from,
      height: bottom - top,
      fill: ACCENT,
      'fill-opacity': 0.13,
    }),
    edge(from),
    edge(to),
    label(hz(quietHz.low), from, top - 6, { fill: ACCENT, bold: true, anchor: 'middle' }),
    label(hz(quietHz.high), to, top - 6, { fill: ACCENT, bold: true, anchor: 'middle' }),
    beside('ripples', left, from),
    beside('ripples', to, right),
  ].join('');
}

/** Where the axis is by the reading (above or at the right of its mark), and with the load (at the left). */
function readingMark(
  state: { readonly value: number; readonly low95: number; readonly high95: number },
  x: Scale,
  y: number,
  labelAt: 'above' | 'left' | 'right',
): string {
  const [low, middle, high] = [x(state.low95), x(state.value), x(state.high95)];
  const told = halfWidth95(state, 'Hz');
  return (
    element('path', {
      d:
        pathThrough([
          [low, y],
          [high, y],
        ]) +
        [low, high]
          .map((at) =>
            pathThrough([
              [at, y - CAP_PX],
              [at, y + CAP_PX],
            ]),
          )
          .join(''),
      stroke: INK,
      'stroke-width': 1.4,
      fill: 'none',
    }) +
    element('circle', { cx: middle, cy: y, r: DOT_PX, fill: INK }) +
    (labelAt === 'above'
      ? label(`the reading: ${told}`, middle, y - 9, { anchor: 'middle', rim: true })
      : labelAt === 'right'
        ? label(`the reading: ${told}`, high + 6, y + 4, { rim: true })
        : label(`with the load: ${told}`, low - 6, y + 4, { anchor: 'end', rim: true }))
  );
}

function otherBand(option: ShaperOption, x: Scale, left: number, y: number): string {
  const { quietHz, family, roundingMm, holds } = option;
  const name = label(family, left, y + 10, { sizePx: SIZES.note, fill: SOFT_INK });
  if (quietHz === undefined || !holds) {
    return name + label('not quiet over all of it', left + ROW_NAME_PX, y + 10, { fill: SOFT_INK });
  }
  const [from, to] = [x(quietHz.low), x(quietHz.high)];
  const cut = roundingMm === undefined ? '' : `corner cut by ${millimetres(roundingMm)}`;
  return (
    name +
    element('rect', { x: from, y, width: to - from, height: 13, fill: 'none', stroke: SOFT_INK }) +
    label(cut, (from + to) / 2, y + 10.5, { anchor: 'middle', rim: true, fill: SOFT_INK })
  );
}

/** The commanded corner as a hairline and the shaped path over it, with a scale of mm. */
function cornerChart(corner: NonNullable<ChosenAxis['corner']>, top: number): Part {
  const { roundingMm, path, accelerationMmPerS2 } = corner;
  const windowMm = Math.max(WINDOW_MM, roundUp(roundingMm / FILLS));
  const left = WIDTH_PX - MARGIN_PX - CORNER_PX;
  const squareTop = top + HEAD_PX + 4;
  const bottom = squareTop + CORNER_PX * 0.72;
  const right = left + CORNER_PX;
  const inset = 16;
  const pxPerMm = (CORNER_PX * 0.72 - inset) / windowMm;
  const [cornerX, cornerY] = [right - inset, bottom - inset];
  /** It comes from the left and goes on upwards. */
  const at = ([before, behind]: readonly [number, number]) =>
    [cornerX - before * pxPerMm, cornerY - behind * pxPerMm] as const;
  const endMm = windowMm;
  const ends = { first: [endMm, 0] as const, last: [0, endMm] as const };
  const inside = path.filter(([before, behind]) => before <= endMm && behind <= endMm);
  const nearest = path.reduce((best, point) => (Math.hypot(...point) < Math.hypot(...best) ? point : best));
  const [nearX, nearY] = at(nearest);
  const barMm = windowMm / 5;
  const barY = squareTop + 14;
  const barLeft = left + 4;
  const name = 'Corner';
  return {
    svg: element(
      'g',
      { class: 'corner' },
      label(name, left, top + 12, { sizePx: SIZES.body, bold: true }),
      label(`at ${mmPerS2(accelerationMmPerS2)}`, left + textWidth(name, SIZES.body, true) + 8, top + 12, {
        sizePx: SIZES.note,
        fill: SOFT_INK,
      }),
      element('path', {
        d: pathThrough([at(ends.first), [cornerX, cornerY], at(ends.last)]),
        stroke: SOFT_INK,
        'stroke-dasharray': '4 3',
        fill: 'none',
      }),
      element('path', {
        d: pathThrough([ends.first, ...inside, ends.last].map(at)),
        stroke: ACCENT,
        'stroke-width': 2.4,
        'stroke-linejoin': 'round',
        fill: 'none',
      }),
      element('line', { x1: nearX, y1: nearY, x2: cornerX, y2: cornerY, stroke: INK, 'stroke-width': 1.4 }),
      label(`cut by ${millimetres(roundingMm)} at most`, nearX - 8, nearY - 10, {
        sizePx: SIZES.note,
        bold: true,
        anchor: 'end',
        rim: true,
      }),
      element('path', {
        d: pathThrough([
          [barLeft, barY - 4],
          [barLeft, barY],
          [barLeft + barMm * pxPerMm, barY],
          [barLeft + barMm * pxPerMm, barY - 4],
        ]),
        stroke: INK,
        fill: 'none',
      }),
      label(withUnit(String(Number(barMm.toPrecision(2))), 'mm'), barLeft, barY + 14),
      label('dashed: as commanded', barLeft, barY + 34, { fill: SOFT_INK }),
      label('line: as shaped', barLeft, barY + 48, { fill: SOFT_INK }),
    ),
    heightPx: bottom + 8 - top,
  };
}

/** The next of 1, 2, 5, 10, … */
function roundUp(mm: number): number {
  const power = 10 ** Math.floor(Math.log10(mm));
  return power * ([1, 2, 5].find((factor) => factor * power >= mm) ?? 10);
}
