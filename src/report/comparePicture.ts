import { COVERAGE_95, interval95, type Estimate } from '../core/estimate.js';
import type { Comparison, ProofChange } from '../history/compareReadings.js';
import type { Reading } from '../reading/schema.js';
import { horizontalAxis } from './charts/axis.js';
import { contrastAxis } from './charts/contrastAxis.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './charts/ink.js';
import { label } from './charts/label.js';
import { heightY, linearScale, roundTicks, type HeightScale } from './charts/scale.js';
import { wrapText } from './charts/textWidth.js';
import { waistChart } from './charts/waist.js';
import { compareSections } from './compareReport.js';
import { decimals, halfWidth95, withUnit } from './format.js';
import { element, svgDocument } from './svg.js';

const WIDTH_PX = 960;
const MARGIN_PX = 40;
const CONTENT_PX = WIDTH_PX - 2 * MARGIN_PX;
const CHART_PX = 320;
const AXIS_PX = 52;
const CAP_PX = 4;
const DOT_PX = 3.6;
/** Before stands a little to the left of its acceleration, after to the right. */
const ASIDE_PX = 5;
const ROOM = 1.08;

/**
 * Draws a comparison: what it says, then the waists of both sides at one vertical scale, or of proof prints the ripples at
 * each acceleration; before is hollow, after is full.
 * @param comparison - The comparison.
 * @param before - The first reading before.
 * @param after - The first reading after.
 * @returns An SVG document 960 px wide.
 * @throws {RangeError} When a number is not finite.
 */
export function drawComparison(comparison: Comparison, before: Reading, after: Reading): string {
  const { verdict, meaning, numbers, notes } = compareSections(comparison);
  const parts: string[] = [];
  let y = MARGIN_PX;
  const say = (text: string, sizePx: number, fill: string, bold = false) => {
    for (const line of wrapText(text, CONTENT_PX, sizePx)) {
      y += sizePx + 6;
      parts.push(label(line, MARGIN_PX, y, { sizePx, fill, bold }));
    }
  };
  say(verdict.replaceAll(/ {2,}/g, ' · '), SIZES.lead + 4, INK, true);
  say(meaning, SIZES.body, SOFT_INK);
  y += 50;
  parts.push(
    comparison.proof === undefined ? waists(comparison, before, after, y) : proofChart(comparison.proof, y),
  );
  y += CHART_PX + 44;
  for (const text of [...numbers, ...notes]) say(text, SIZES.note, INK);
  const height = y + MARGIN_PX;
  const paper = element('rect', { x: 0, y: 0, width: WIDTH_PX, height, fill: PAPER });
  return svgDocument(WIDTH_PX, height, [paper, ...parts].join('\n'), {
    title: verdict.replaceAll(/ {2,}/g, ', '),
    description: [meaning, ...numbers].join('. '),
  });
}

function waists(comparison: Comparison, before: Reading, after: Reading, topY: number): string {
  const heights = [...before.heights, ...after.heights].map(({ heightMm }) => heightMm);
  const scale: HeightScale = {
    bottomMm: Math.min(...heights, 0),
    topMm: Math.max(...heights, 1),
    topY,
    bottomY: topY + CHART_PX,
  };
  const gap = 40;
  const width = (CONTENT_PX - AXIS_PX - gap) / 2;
  const ticks = roundTicks(scale.bottomMm, scale.topMm, 8);
  const rule = ticks.values.map((mm, i) => {
    const at = heightY(scale, mm);
    const text = decimals(mm, ticks.digits);
    return (
      element('line', {
        x1: MARGIN_PX + AXIS_PX,
        y1: at,
        x2: WIDTH_PX - MARGIN_PX,
        y2: at,
        stroke: HAIRLINE,
      }) +
      label(i === ticks.values.length - 1 ? withUnit(text, 'mm') : text, MARGIN_PX + AXIS_PX - 6, at + 4, {
        fill: SOFT_INK,
        anchor: 'end',
      })
    );
  });
  const sides = [
    { name: 'Before', reading: before, side: comparison.before },
    { name: 'After', reading: after, side: comparison.after },
  ].map(({ name, reading, side }, i) => {
    const left = MARGIN_PX + AXIS_PX + i * (width + gap);
    const { proposal } = reading;
    const best = proposal.state === 'proposed' ? heightY(scale, proposal.bestHeightMm.value) : undefined;
    const head =
      side.frequencyHz === undefined ? name : `${name}: ${halfWidth95(interval95(side.frequencyHz), 'Hz')}`;
    return (
      label(head, left, topY - 14, { sizePx: SIZES.body, bold: true }) +
      waistChart(reading.heights, scale, { left, width }) +
      (best === undefined
        ? ''
        : element('line', {
            x1: left,
            y1: best,
            x2: left + width,
            y2: best,
            stroke: ACCENT,
            'stroke-width': 1.6,
          }))
    );
  });
  return element('g', { class: 'waists' }, ...rule, ...sides);
}

function proofChart({ steps, quietBefore, quietAfter }: ProofChange, topY: number): string {
  const [left, right, bottom] = [MARGIN_PX + AXIS_PX, WIDTH_PX - MARGIN_PX, topY + CHART_PX];
  const tops = steps.flatMap(({ before, after }) =>
    [before, after].flatMap((one) => (one === undefined ? [] : [one.value + COVERAGE_95 * one.sd])),
  );
  const largest = ROOM * Math.max(...tops, 1e-3);
  const fastest = ROOM * Math.max(...steps.map(({ mmPerS2 }) => mmPerS2));
  const x = linearScale([0, fastest], [left, right]);
  const y = linearScale([0, largest], [bottom, topY]);
  const ticks = roundTicks(0, fastest, 8);
  const marks = ticks.values.map((value, i) => ({
    at: x(value),
    text: withUnit(decimals(value, ticks.digits), i === ticks.values.length - 1 ? 'mm/s²' : ''),
  }));
  const whisker = (at: number, { value, sd }: Estimate, full: boolean) => {
    const [high, low] = [y(value + COVERAGE_95 * sd), y(Math.max(0, value - COVERAGE_95 * sd))];
    return (
      element('path', {
        d: `M${at} ${low}L${at} ${high}M${at - CAP_PX} ${high}L${at + CAP_PX} ${high}M${at - CAP_PX} ${low}L${at + CAP_PX} ${low}`,
        stroke: INK,
        fill: 'none',
      }) + element('circle', { cx: at, cy: y(value), r: DOT_PX, stroke: INK, fill: full ? INK : PAPER })
    );
  };
  const limit = (mmPerS2: number | undefined, text: string, row: number) =>
    mmPerS2 === undefined
      ? ''
      : element('line', {
          x1: x(mmPerS2),
          y1: topY,
          x2: x(mmPerS2),
          y2: bottom,
          stroke: ACCENT,
          'stroke-dasharray': row === 0 ? '5 4' : undefined,
        }) + label(text, x(mmPerS2) + 5, topY - 6 + row * 14 - 14, { fill: ACCENT, rim: true });
  return element(
    'g',
    { class: 'proofs' },
    contrastAxis([0, largest], y, [left, right]),
    limit(quietBefore, 'quiet up to here before', 0),
    limit(quietAfter, 'quiet up to here after', 1),
    ...steps.map(
      ({ mmPerS2, before, after }) =>
        (before === undefined ? '' : whisker(x(mmPerS2) - ASIDE_PX, before, false)) +
        (after === undefined ? '' : whisker(x(mmPerS2) + ASIDE_PX, after, true)),
    ),
    horizontalAxis(marks, [left, right], bottom, 'below', 0),
    label('hollow: before, full: after; bars span 95 %', left, bottom + 36, { fill: SOFT_INK }),
  );
}
