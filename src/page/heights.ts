import { COVERAGE_95 } from '../core/estimate.js';
import type { Reading } from '../reading/schema.js';
import { sharedLimits, type HeightViewData } from '../report/charts/heightViews.js';
import { profileChart } from '../report/charts/profile.js';
import { heightY, type Column, type HeightScale } from '../report/charts/scale.js';
import { spectrumChart } from '../report/charts/spectrum.js';
import {
  BEST_END_PX,
  bestInterval,
  bestOf,
  FOOT_PX,
  HEAD_PX,
  STRIP_NAMES,
  stripCaption,
  stripCharts,
  stripNotes,
  type ReadingWithFace,
  type StripChart,
} from '../report/charts/strip.js';
import { decimals, withUncertainty, withUnit } from '../report/format.js';
import type { ResultView } from './api.js';
import { button, drawing, equip, h, put, s, textScale } from './dom.js';

/** Charts of a row, by how wide the page is: all at one vertical scale, so that the cursor is one height in all of them. */
const ROWS: readonly { readonly leastPx: number; readonly rows: readonly (readonly StripChart[])[] }[] = [
  { leastPx: 860, rows: [['face', 'heat', 'waist', 'rule', 'spacing']] },
  {
    leastPx: 560,
    rows: [
      ['face', 'rule', 'waist'],
      ['heat', 'rule', 'spacing'],
    ],
  },
  {
    leastPx: 0,
    rows: [['face'], ['waist', 'rule'], ['heat'], ['spacing', 'rule']],
  },
];
const GAP_PX = 20;
const RULE_PX = 122;
/** Labels at the edges stand out a little. */
const EDGE_PX = 6;
/** What the charts beside the rule have of the rest of the row, where there are several. */
const SHARES: Readonly<Record<StripChart, number>> = {
  face: 0.41,
  heat: 0.25,
  waist: 0.17,
  rule: 0,
  spacing: 0.17,
};
/** Height of the charts: never so flat that they cannot be read, nor higher than a screen. */
const LEAST_HIGH_PX = 220;
const MOST_HIGH_PX = 400;
/** Charts are drawn for their paper; read beside a machine, they are a little larger. */
const ENLARGED = 1.12;

/**
 * Face, heat map, waist, rule and spacing with one cursor through all of them, and profile and spectrum at it. The cursor
 * follows pointer, finger and keys.
 * @param reading - The reading.
 * @param view - What is drawn of it.
 * @returns The part of the page.
 */
export function heightsPart(reading: ReadingWithFace, view: ResultView): HTMLElement {
  const { face } = reading;
  const heights = reading.heights.map(({ heightMm }) => heightMm);
  const best = bestOf(reading);
  const loudest = reading.heights.reduce(
    (most, one, i) =>
      (one.amplitude?.value ?? 0) > (reading.heights[most]?.amplitude?.value ?? 0) ? i : most,
    0,
  );
  let at = best[0] === undefined ? loudest : nearest(heights, best[0].bestHeightMm.value);
  let cursors: readonly { readonly line: SVGElement; readonly scale: HeightScale }[] = [];
  let drawnFor = 0;

  const strips = h('div', {
    class: 'strips',
    tabindex: 0,
    role: 'slider',
    'aria-label': 'Height of the cursor',
    'aria-orientation': 'vertical',
    'aria-valuemin': heights[0],
    'aria-valuemax': heights.at(-1),
    on: { keydown: byKey, pointerdown: follow, pointermove: follow },
  });
  const said = h('p', { class: 'cursor-says' });
  const profile = h('div', { class: 'chart' });
  const spectrum = h('div', { class: 'chart' });
  const jumps = h(
    'p',
    { class: 'actions' },
    ...best.map((one, i) =>
      button(best.length > 1 ? `Best height ${i + 1}` : 'Best height', () => {
        go(nearest(heights, one.bestHeightMm.value));
      }),
    ),
    button('Strongest ripples', () => {
      go(loudest);
    }),
    button('Up', () => {
      go(at + 1);
    }),
    button('Down', () => {
      go(at - 1);
    }),
  );
  const limits = view.heights.length === 0 ? undefined : sharedLimits(view.heights);
  const notes = stripNotes(reading);
  const element = h(
    'section',
    { class: 'heights', 'aria-label': 'Charts over the height' },
    strips,
    h(
      'p',
      { class: 'help' },
      'Touch the charts, or move the line with the arrow keys: it is one height in all of them.',
    ),
    jumps,
    said,
    ...(limits === undefined ? [] : [h('div', { class: 'at-cursor' }, profile, spectrum)]),
    h(
      'details',
      { class: 'signs' },
      h('summary', {}, 'What the signs mean'),
      h(
        'dl',
        {},
        ...(['face', 'heat', 'waist', 'rule', 'spacing'] as const).flatMap((name) => {
          const note = name === 'heat' ? (view.heat === undefined ? '' : HEAT_NOTE) : notes[name];
          return note === '' ? [] : [h('dt', {}, STRIP_NAMES[name]), h('dd', {}, note)];
        }),
      ),
    ),
  );
  new ResizeObserver(() => {
    const width = Math.floor(strips.clientWidth);
    if (width === drawnFor || width === 0) return;
    drawnFor = width;
    draw();
  }).observe(strips);
  return element;

  function draw(): void {
    const scale = ENLARGED * textScale();
    const width = strips.clientWidth / scale;
    const { rows } = ROWS.find(({ leastPx }) => width >= leastPx) ?? { rows: [] };
    const shownRows = rows.map((row) => row.filter((name) => name !== 'heat' || view.heat !== undefined));
    const endPx = width >= 700 && best.length > 0 ? BEST_END_PX : 0;
    const firstFace = columnsOf(shownRows[0] ?? [], width - (shownRows.length === 1 ? endPx : 0)).face;
    const fitting = ((firstFace?.width ?? 300) / face.widthMm) * face.heightMm;
    const highPx = Math.min(MOST_HIGH_PX, Math.max(LEAST_HIGH_PX, fitting));
    const drawnRows = shownRows.map((row, i) => {
      const end = i === 0 ? endPx : 0;
      const heightScale: HeightScale = {
        bottomMm: face.bottomMm,
        topMm: face.bottomMm + face.heightMm,
        topY: HEAD_PX,
        bottomY: HEAD_PX + highPx,
      };
      const columns = columnsOf(row, width - end);
      const charts = stripCharts(reading, { faceDataUri: view.faceDataUri, heat: view.heat }, heightScale);
      const through = { left: EDGE_PX, width: width - end - 2 * EDGE_PX };
      const place = (name: StripChart) => {
        const column = columns[name];
        return column === undefined ? '' : charts.draw[name](column);
      };
      const svg = [
        charts.veils(through),
        ...(['rule', 'waist', 'spacing'] as const).map(place),
        charts.lines(through),
        ...(['heat', 'face'] as const).map(place),
        ...row.map((name) => {
          const column = columns[name];
          return column === undefined ? '' : stripCaption(STRIP_NAMES[name], charts.says[name], column, 0);
        }),
        ...(end === 0
          ? []
          : best.map(({ bestHeightMm }) => bestInterval(bestHeightMm, heightScale, width - end - EDGE_PX))),
      ].join('');
      const size = [width, HEAD_PX + highPx + FOOT_PX] as const;
      const alt = row.map((name) => STRIP_NAMES[name]).join(', ');
      const made = drawing(svg, size, `${alt}; the cursor's values stand below.`);
      made.style.width = '100%';
      made.style.height = 'auto';
      const line = s('g', { class: 'cursor' }, s('path', { class: 'casing' }), s('path', { class: 'line' }));
      for (const path of line.children) equip(path, { d: `M${EDGE_PX} 0H${width - end}` });
      made.append(line);
      return { made, cursor: { line, scale: heightScale } };
    });
    put(strips, ...drawnRows.map(({ made }) => made));
    cursors = drawnRows.map(({ cursor }) => cursor);
    go(at);
  }

  function go(to: number): void {
    at = Math.min(heights.length - 1, Math.max(0, to));
    const height = reading.heights[at];
    if (height === undefined) return;
    for (const { line, scale } of cursors) {
      equip(line, { transform: `translate(0 ${heightY(scale, height.heightMm).toFixed(2)})` });
    }
    const words = wordsOf(height);
    put(said, words);
    equip(strips, { 'aria-valuenow': height.heightMm, 'aria-valuetext': words });
    drawViews(height.heightMm);
  }

  function drawViews(heightMm: number): void {
    if (limits === undefined) return;
    const shown =
      view.heights[
        nearest(
          view.heights.map((one) => one.heightMm),
          heightMm,
        )
      ];
    if (shown === undefined || Math.abs(shown.heightMm - heightMm) > 0.51 * Math.abs(stepOf(heights))) {
      put(profile, h('p', { class: 'help' }, 'Nothing was read at this height.'));
      put(spectrum);
      return;
    }
    drawView(shown);
  }

  function drawView(shown: HeightViewData): void {
    if (limits === undefined) return;
    const scale = ENLARGED * textScale();
    const room = (box: HTMLElement) => Math.max(240, box.clientWidth / scale);
    const [left, top, high] = [44, 24, 120];
    const profileWidth = room(profile);
    const frame = { left, top, width: profileWidth - left - 16, height: high };
    const mm = withUnit(decimals(shown.heightMm, 1), 'mm');
    put(
      profile,
      h(
        'p',
        { class: 'chart-name' },
        h('b', {}, 'Profile'),
        ` ${mm} up: contrast along the wall; `,
        h('span', { class: 'key measured' }, 'measured'),
        ' ',
        h('span', { class: 'key fitted' }, 'fitted'),
      ),
      drawing(
        profileChart(shown.profile, frame, limits.contrast),
        [profileWidth, top + high + 24],
        `Contrast along the wall ${mm} up, with the fitted ripple over it.`,
      ),
    );
    const spectrumWidth = room(spectrum);
    put(
      spectrum,
      h('p', { class: 'chart-name' }, h('b', {}, 'Spectrum'), ' of it; dotted: noise floor'),
      drawing(
        spectrumChart(shown.spectrum, { ...frame, top: 10, width: spectrumWidth - left - 8 }, limits),
        [spectrumWidth, 10 + high + 24],
        `Spectrum of the profile: ${shown.spectrum.significant ? `highest at ${decimals(shown.spectrum.peakHz.value, 1)} Hz` : 'nothing stands out'}.`,
      ),
    );
    for (const chart of [profile, spectrum]) {
      const made = chart.querySelector('svg');
      if (made !== null) {
        made.style.width = '100%';
        made.style.height = 'auto';
      }
    }
  }

  function byKey(event: KeyboardEvent): void {
    const many = Math.max(1, Math.round(5 / Math.abs(stepOf(heights))));
    const to: Readonly<Record<string, number>> = {
      ArrowUp: at + 1,
      ArrowRight: at + 1,
      ArrowDown: at - 1,
      ArrowLeft: at - 1,
      PageUp: at + many,
      PageDown: at - many,
      Home: 0,
      End: heights.length - 1,
    };
    const next = to[event.key];
    if (next === undefined) return;
    event.preventDefault();
    go(next);
  }

  function follow(event: PointerEvent): void {
    // A mouse shows a height by passing over it; a finger that moves scrolls the page, and one that taps chooses.
    if (event.type === 'pointermove' && event.pointerType !== 'mouse' && event.buttons === 0) return;
    const svg = (event.target as Element).closest('.strips > svg');
    const row = [...strips.children].indexOf(svg ?? strips);
    const cursor = cursors[row];
    if (!(svg instanceof SVGSVGElement) || cursor === undefined) return;
    const matrix = svg.getScreenCTM();
    if (matrix === null) return;
    const { y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const { scale } = cursor;
    if (y < scale.topY || y > scale.bottomY) return;
    const share = (scale.bottomY - y) / (scale.bottomY - scale.topY);
    go(nearest(heights, scale.bottomMm + share * (scale.topMm - scale.bottomMm)));
  }
}

const HEAT_NOTE =
  'Brightness along the wall at each height, slow changes taken out; blue and dark: darker, amber and pale: brighter.';

function columnsOf(row: readonly StripChart[], width: number): Partial<Record<StripChart, Column>> {
  const hasRule = row.includes('rule');
  const gaps = GAP_PX * (row.length - 1);
  const free = width - 2 * EDGE_PX - gaps - (hasRule ? RULE_PX : 0);
  const all = row.reduce((sum, name) => sum + SHARES[name], 0);
  const columns: Partial<Record<StripChart, Column>> = {};
  let left = EDGE_PX;
  for (const name of row) {
    const own = name === 'rule' ? RULE_PX : (free * SHARES[name]) / all;
    columns[name] = { left, width: own };
    left += own + GAP_PX;
  }
  return columns;
}

function nearest(heights: readonly number[], heightMm: number): number {
  return heights.reduce(
    (best, one, i) =>
      Math.abs(one - heightMm) < Math.abs((heights[best] ?? Infinity) - heightMm) ? i : best,
    0,
  );
}

function stepOf([first = 0, second = first + 1]: readonly number[]): number {
  return second - first;
}

/** The cursor's height in words: each value with its unit. */
function wordsOf(height: Reading['heights'][number]): string {
  const { heightMm, layer, ladderHz, accelerationMmPerS2, spacingMm, amplitude, significant } = height;
  const estimate = (value: { readonly value: number; readonly sd: number }, unit: string) => {
    const text = withUncertainty({ value: value.value, sd: COVERAGE_95 * value.sd });
    return `${withUnit(text.value, unit)} ± ${text.sd}`;
  };
  return [
    `${withUnit(decimals(heightMm, 1), 'mm')} up`,
    `layer ${layer}`,
    ladderHz !== undefined && `ladder ${withUnit(decimals(ladderHz, 1), 'Hz')}`,
    accelerationMmPerS2 !== undefined && withUnit(decimals(accelerationMmPerS2, 0), 'mm/s²'),
    spacingMm !== undefined && `spacing ${significant ? estimate(spacingMm, 'mm') : 'lost in the noise'}`,
    amplitude !== undefined &&
      `contrast ${estimate({ value: 100 * amplitude.value, sd: 100 * amplitude.sd }, '%')}`,
  ]
    .filter((part) => part !== false)
    .join(' · ');
}
