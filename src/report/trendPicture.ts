import type { AxisTrend } from '../history/axisTrends.js';
import { HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './charts/ink.js';
import { label } from './charts/label.js';
import type { Part } from './charts/strip.js';
import { wrapText } from './charts/textWidth.js';
import { TREND_ROOM_PX, trendChart } from './charts/trend.js';
import { EXCHANGED } from './pairWords.js';
import { WIDE_PX, type SheetFigure } from './sheet/sheet.js';
import { element, svgDocument } from './svg.js';
import { trendAdvice, trendVerdict } from './trendReport.js';

const WIDTH_PX = 960;
const MARGIN_PX = 40;
const CONTENT_PX = WIDTH_PX - 2 * MARGIN_PX;
const CHART_PX = { frequency: 170, damping: 80 } as const;
const NAME_PX = 20;

/** Axes that are drawn in one picture: more of them are looked at one machine after the other. */
export const MOST_TRENDS = 40;

/** What the signs in a trend's charts mean. */
const TREND_LEGEND =
  'Readings in the order in which they were saved, bars span 95 %. Line and veil: the mean of the first three readings of a stretch, and the limits within which a single value counts as steady, three standard deviations. Diamond: moved, by so much. Dashed: a change on the machine that was told.';

/**
 * Draws the history of axes: of each what it says, then frequency and damping ratio with their control limits.
 * @param trends - One for each axis of a machine, at most `MOST_TRENDS`.
 * @returns An SVG document 960 px wide.
 * @throws {RangeError} When a number is not finite, or there are too many.
 */
export function drawTrends(trends: readonly AxisTrend[]): string {
  if (trends.length > MOST_TRENDS) {
    throw new RangeError(`Expected at most ${MOST_TRENDS} trends but received ${trends.length}`);
  }
  const parts: string[] = [];
  let top = MARGIN_PX;
  const add = ({ svg, heightPx }: Part, spaceBelow: number) => {
    parts.push(svg);
    top += heightPx + spaceBelow;
  };
  if (trends.length === 0) {
    add(words('No frequency has been measured yet.', top, { sizePx: SIZES.lead, bold: true }), 20);
  }
  for (const trend of trends) {
    add(trendHead(trend, top), 14);
    add(trendCharts(trend, { left: MARGIN_PX, top, width: CONTENT_PX }), 34);
  }
  add(
    {
      svg: element('rect', { x: MARGIN_PX, y: top, width: CONTENT_PX, height: 1, fill: HAIRLINE }),
      heightPx: 4,
    },
    0,
  );
  add(words(TREND_LEGEND, top, { sizePx: SIZES.note, fill: SOFT_INK }), MARGIN_PX - 10);
  const paper = element('rect', { x: 0, y: 0, width: WIDTH_PX, height: top, fill: PAPER });
  return svgDocument(WIDTH_PX, top, [paper, ...parts].join('\n'), {
    title: 'Frequency and damping ratio over time',
    description: trends.map((trend) => said(trend).join('. ')).join('. '),
  });
}

/**
 * The charts of one axis over time as a figure of a page.
 * @param trend - The axis.
 * @returns The figure; its words stand in `trendVerdict` and `trendRows`.
 * @throws {RangeError} When a number is not finite.
 */
export function trendFigure(trend: AxisTrend): SheetFigure {
  const { svg, heightPx } = trendCharts(trend, { left: 0, top: 0, width: WIDE_PX });
  return {
    svg,
    widthPx: WIDE_PX,
    heightPx,
    alt: `Frequency and damping ratio of axis ${trend.axis} over time with their control limits; the values stand in the table below.`,
    caption: TREND_LEGEND,
  };
}

/**
 * Frequency and damping ratio of one axis over time, one above the other with the same steps.
 * @param trend - The axis.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
function trendCharts(
  trend: AxisTrend,
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const { frequency, damping, changesSince, exchanged } = trend;
  const names = [...new Set([...frequency, ...damping].map(({ name }) => name))];
  const left = place.left + TREND_ROOM_PX.left;
  const width = place.width - TREND_ROOM_PX.left;
  let top = place.top;
  const panel = (name: string, height: number, chart: (frameTop: number) => string): string => {
    const head = label(name, place.left, top + 14, { sizePx: SIZES.body, bold: true });
    const svg = chart(top + NAME_PX + TREND_ROOM_PX.above);
    top += NAME_PX + TREND_ROOM_PX.above + height + TREND_ROOM_PX.below;
    return head + svg;
  };
  const svg = [
    panel('Frequency', CHART_PX.frequency, (frameTop) =>
      trendChart(
        {
          points: frequency,
          names,
          unit: 'Hz',
          changesSince,
          ...(exchanged === undefined ? {} : { doubt: `like axis ${exchanged}?` }),
        },
        { left, top: frameTop, width, height: CHART_PX.frequency },
      ),
    ),
    damping.length === 0
      ? ''
      : panel('Damping ratio', CHART_PX.damping, (frameTop) =>
          trendChart(
            // Changes that were told stand above the frequency.
            {
              points: damping.map((point) => ({ ...point, changes: [] })),
              names,
              unit: '',
              changesSince: [],
            },
            { left, top: frameTop, width, height: CHART_PX.damping },
          ),
        ),
  ];
  return { svg: svg.join(''), heightPx: top - place.top };
}

function said(trend: AxisTrend): readonly string[] {
  return [
    trendVerdict(trend).replaceAll(/ {2,}/g, ', '),
    ...(trend.exchanged === undefined ? [] : [`With axis ${trend.exchanged}: ${EXCHANGED}`]),
    ...trendAdvice(trend),
  ];
}

/** Which axis, then the answer, then what to do. */
function trendHead(trend: AxisTrend, top: number): Part {
  const [head = '', ...answer] = trendVerdict(trend).split(/ {2,}/);
  const lines: Part[] = [];
  let y = top;
  const add = (
    text: string,
    style: { readonly sizePx: number; readonly fill?: string; readonly bold?: boolean },
  ) => {
    const part = words(text, y, style);
    lines.push(part);
    y += part.heightPx;
  };
  add(`${head}:  ${answer.join(' · ')}`, { sizePx: SIZES.lead, bold: true });
  for (const text of said(trend).slice(1)) add(text, { sizePx: SIZES.note, fill: SOFT_INK });
  return { svg: lines.map(({ svg }) => svg).join(''), heightPx: y - top };
}

function words(
  text: string,
  top: number,
  {
    sizePx,
    fill = INK,
    bold = false,
  }: { readonly sizePx: number; readonly fill?: string; readonly bold?: boolean },
): Part {
  const stepPx = Math.round(1.35 * sizePx);
  const lines = wrapText(text, CONTENT_PX, sizePx, bold);
  return {
    svg: lines
      .map((line, i) => label(line, MARGIN_PX, top + (i + 1) * stepPx - 4, { sizePx, fill, bold }))
      .join(''),
    heightPx: lines.length * stepPx,
  };
}
