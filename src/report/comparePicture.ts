import { interval95 } from '../core/estimate.js';
import type { Comparison } from '../history/compareReadings.js';
import type { Reading } from '../reading/schema.js';
import { beforeAfterAccelerations } from './charts/beforeAfterAccelerations.js';
import { beforeAfterValues } from './charts/beforeAfterValues.js';
import { bandVeil, bestLine } from './charts/heightMarks.js';
import { HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './charts/ink.js';
import { label, type LabelStyle } from './charts/label.js';
import { heightY, roundTicks, type HeightScale } from './charts/scale.js';
import type { Part } from './charts/strip.js';
import { textWidth, wrapText } from './charts/textWidth.js';
import { largestAmplitude, waistChart } from './charts/waist.js';
import { compareSections, SPAN, type CompareSections } from './compareReport.js';
import { decimals, halfWidth95, withUnit } from './format.js';
import type { SheetFigure } from './sheet/sheet.js';
import { element, svgDocument } from './svg.js';

const WIDTH_PX = 960;
const MARGIN_PX = 48;
const CONTENT_PX = WIDTH_PX - 2 * MARGIN_PX;
const COLUMN_GAP_PX = 48;
const COLUMN_PX = (CONTENT_PX - COLUMN_GAP_PX) / 2;
const WAIST_PX = 320;
const AXIS_PX = 52;
/** Size of the verdict: two of them are a long line. */
const VERDICT_PX = 24;

/**
 * Draws a comparison: what it says, then both sides at one scale, before hollow and after full, then the numbers.
 * @param comparison - The comparison.
 * @param before - The first reading before.
 * @param after - The first reading after.
 * @returns An SVG document 960 px wide.
 * @throws {RangeError} When a number is not finite.
 */
export function drawComparison(comparison: Comparison, before: Reading, after: Reading): string {
  const sections = compareSections(comparison);
  const { verdict, meaning, numbers, steps, notes } = sections;
  const parts: string[] = [];
  let top = MARGIN_PX;
  const add = ({ svg, heightPx }: Part, spaceBelow: number) => {
    parts.push(svg);
    top += heightPx + spaceBelow;
  };
  const [axis = '', ...said] = verdict.split(/ {2,}/);
  add(text(`${axis}:  ${said.join(', ')}`, [MARGIN_PX, top], { sizePx: VERDICT_PX, bold: true }), 8);
  add(text(meaning, [MARGIN_PX, top], { sizePx: SIZES.body, fill: SOFT_INK }), 28);
  add(charts(comparison, [before, after], { left: MARGIN_PX, top }), 26);
  add(wordsAndSteps(sections, top), MARGIN_PX - 8);
  const paper = element('rect', { x: 0, y: 0, width: WIDTH_PX, height: top, fill: PAPER });
  return svgDocument(WIDTH_PX, top, [paper, ...parts].join('\n'), {
    title: verdict.replaceAll(/ {2,}/g, ', '),
    description: [
      meaning,
      ...numbers,
      ...steps.map(([at, one, other]) => `${at}: ${one} before, ${other} after`),
      ...notes,
    ].join('. '),
  });
}

/**
 * The charts of a comparison as a figure of a page, whose words stand beside it.
 * @param comparison - The comparison.
 * @param before - The first reading before.
 * @param after - The first reading after.
 * @returns The figure.
 * @throws {RangeError} When a number is not finite.
 */
export function comparisonFigure(comparison: Comparison, before: Reading, after: Reading): SheetFigure {
  const { svg, heightPx } = charts(comparison, [before, after], { left: 0, top: 0 });
  return {
    svg,
    widthPx: CONTENT_PX,
    heightPx,
    alt:
      comparison.proof === undefined
        ? 'Ripple contrast against height before and after at one scale, and both frequencies; the values stand in the text.'
        : 'Ripple contrast against the acceleration before and after; the values stand in the table.',
    caption: '',
  };
}

interface Corner {
  readonly left: number;
  readonly top: number;
}

function charts(
  comparison: Comparison,
  [before, after]: readonly [Reading, Reading],
  { left, top }: Corner,
): Part {
  const width = CONTENT_PX;
  const { proof, level, frequency } = comparison;
  if (proof !== undefined) return beforeAfterAccelerations(proof, level, { left, top, width });
  const upper = waists(comparison, [before, after], { left, top });
  if (frequency === undefined) return upper;
  const gap = 26;
  const place = { left, top: top + upper.heightPx + gap, width };
  const lower = beforeAfterValues(frequency, 'Frequency', 'Hz', place);
  return { svg: upper.svg + lower.svg, heightPx: upper.heightPx + gap + lower.heightPx };
}

function text(
  said: string,
  [left, top]: readonly [left: number, top: number],
  style: LabelStyle & { readonly sizePx: number },
  widthPx: number = CONTENT_PX,
): Part {
  const stepPx = Math.round(1.35 * style.sizePx);
  const lines = wrapText(said, widthPx, style.sizePx, style.bold);
  return {
    svg: lines
      .map((line, i) => label(line, left, top + (i + 1) * stepPx - 0.25 * style.sizePx, style))
      .join(''),
    heightPx: lines.length * stepPx,
  };
}

/** What was found, in words, and beside it the accelerations of proof prints as a table. */
function wordsAndSteps({ numbers, steps, notes, next }: CompareSections, top: number): Part {
  const rule = element('rect', { x: MARGIN_PX, y: top, width: CONTENT_PX, height: 1, fill: HAIRLINE });
  const widthPx = steps.length === 0 ? CONTENT_PX : COLUMN_PX;
  let y = top + 12;
  const words = [...numbers, SPAN, ...notes, ...next.map((line) => `Next: ${line}`)].map((said) => {
    const part = text(
      said.replaceAll(/ {2,}/g, ', '),
      [MARGIN_PX, y],
      { sizePx: SIZES.note, fill: INK },
      widthPx,
    );
    y += part.heightPx + 5;
    return part.svg;
  });
  if (steps.length === 0) return { svg: rule + words.join(''), heightPx: y - top };
  const left = MARGIN_PX + COLUMN_PX + COLUMN_GAP_PX;
  const columns = [left + 92, left + 220, left + COLUMN_PX - 20];
  const rows = [['', 'before', 'after'], ...steps].map((cells, row) =>
    cells
      .map((cell, i) =>
        label(cell, columns[i] ?? left, top + 24 + row * 20, {
          sizePx: SIZES.note,
          anchor: 'end',
          ...(row === 0 || i === 0 ? { fill: SOFT_INK } : {}),
        }),
      )
      .join(''),
  );
  const heightPx = Math.max(y - top, 12 + (steps.length + 1) * 20);
  return { svg: rule + words.join('') + rows.join(''), heightPx };
}

/** Both waists at one vertical and one horizontal scale. */
function waists(
  comparison: Comparison,
  [before, after]: readonly [Reading, Reading],
  { left: start, top }: Corner,
): Part {
  const heights = [...before.heights, ...after.heights].map(({ heightMm }) => heightMm);
  const topY = top + 34;
  const scale: HeightScale = {
    bottomMm: Math.min(...heights, 0),
    topMm: Math.max(...heights, 1),
    topY,
    bottomY: topY + WAIST_PX,
  };
  const gap = 40;
  const width = (CONTENT_PX - AXIS_PX - gap) / 2;
  const columns = [0, 1].map((i) => ({ left: start + AXIS_PX + i * (width + gap), width }));
  const ticks = roundTicks(scale.bottomMm, scale.topMm, 8);
  const rule = ticks.values.map((mm, i) => {
    const y = heightY(scale, mm);
    const said = decimals(mm, ticks.digits);
    const lines = columns.map(({ left }) =>
      element('line', { x1: left, y1: y, x2: left + width, y2: y, stroke: HAIRLINE, 'stroke-width': 0.6 }),
    );
    const style = { fill: SOFT_INK, anchor: 'end' } as const;
    const isLast = i === ticks.values.length - 1;
    return lines.join('') + label(isLast ? withUnit(said, 'mm') : said, start + AXIS_PX - 6, y + 4, style);
  });
  const largest = Math.max(largestAmplitude(before.heights), largestAmplitude(after.heights));
  const sides = [
    { name: 'Before', reading: before, side: comparison.before },
    { name: 'After', reading: after, side: comparison.after },
  ].map(({ name, reading: { proposal, heights: own }, side }, i) => {
    const column = columns[i] ?? { left: start, width };
    const marks = proposal.state === 'proposed' ? proposal : undefined;
    const said =
      side.frequencyHz === undefined ? 'no frequency' : halfWidth95(interval95(side.frequencyHz), 'Hz');
    const best =
      marks === undefined ? '' : `, best ${withUnit(decimals(marks.bestHeightMm.value, 1), 'mm')} up`;
    const lines = marks && { bestHeightMm: marks.bestHeightMm.value, cleanBandMm: marks.cleanBandMm };
    return [
      label(name, column.left, top + 14, { sizePx: SIZES.body, bold: true }),
      label(said + best, column.left + textWidth(name, SIZES.body, true) + 8, top + 14, {
        sizePx: SIZES.note,
        fill: SOFT_INK,
      }),
      lines === undefined ? '' : bandVeil(lines, scale, column),
      waistChart(own, scale, column, largest),
      lines === undefined ? '' : bestLine(lines, scale, column),
    ].join('');
  });
  return { svg: element('g', { class: 'waists' }, ...rule, ...sides), heightPx: 34 + WAIST_PX + 22 };
}
