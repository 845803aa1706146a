import type { Reading } from '../../reading/schema.js';
import { decimals, percent, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { faceChart } from './face.js';
import { bandVeil, bestLine, type BandMarks } from './heightMarks.js';
import { heatChart, type HeatData } from './heatMap.js';
import { ACCENT, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { makeLadder } from '../../print/ladder.js';
import { ruleChart } from './rule.js';
import { heightY, type Column, type HeightScale } from './scale.js';
import { spacingChart } from './spacing.js';
import { textWidth, wrapText } from './textWidth.js';
import { waistChart } from './waist.js';

/** Px above the charts for captions and upper axes, and below for lower axes. */
export const HEAD_PX = 48;
export const FOOT_PX = 26;
/** What the interval of the best height and its words take behind the charts. */
export const BEST_END_PX = 98;

/** How a strip shares out its width, px. */
interface StripLayout {
  readonly gapPx: number;
  readonly rulePx: number;
  /** At the right end: the interval of the best height, and words. */
  readonly endPx: number;
  /**
   * The face is as large as fits into this, but never so flat that the charts beside it cannot be read. A narrow
   * one has room for its caption.
   */
  readonly face: {
    readonly width: number;
    readonly height: number;
    readonly leastHeight: number;
    readonly leastWidth: number;
  };
  /** Of what is left beside face and rule, the waist's share and the heat map's; the spacing has the rest. */
  readonly waist: number;
  readonly heat: number;
}

/** As on a screen, with what the signs mean below each chart. */
const WIDE: StripLayout = {
  gapPx: 22,
  rulePx: 150,
  endPx: 86,
  face: { width: 500, height: 430, leastHeight: 230, leastWidth: 130 },
  waist: 0.47,
  heat: 0,
};

/** With the heat map, as on a sheet of paper, which has no room for words below each chart. */
const WITH_HEAT: StripLayout = {
  gapPx: 18,
  rulePx: 122,
  endPx: BEST_END_PX,
  face: { width: 212, height: 270, leastHeight: 230, leastWidth: 130 },
  waist: 0.31,
  heat: 0.38,
};

const NOTE_LINE_PX = 15;

/** A reading of a face that was found. */
export type ReadingWithFace = Reading & { readonly face: NonNullable<Reading['face']> };

/** A finished part of the picture. */
export interface Part {
  readonly svg: string;
  readonly heightPx: number;
}

/** Height of the face of a proof, below which another chart stands. */
const LOW_PX = 190;

/** The same where there is no heat map. */
const WITHOUT_HEAT: StripLayout = {
  ...WITH_HEAT,
  face: { ...WITH_HEAT.face, width: 330 },
  waist: WIDE.waist,
  heat: 0,
};

interface StripPlace {
  readonly left: number;
  readonly top: number;
  readonly width: number;
}

/**
 * Face, waist, rule and spacing side by side at one vertical scale, with the band and the best height through
 * all of them, and below each what its signs mean.
 * @param reading - The reading.
 * @param faceDataUri - The flattened face as a picture.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function heightStrip(reading: ReadingWithFace, faceDataUri: string, place: StripPlace): Part {
  const { svg, heightPx, columns, notesTop } = stripOf(reading, { faceDataUri }, place, WIDE);
  const notes = notesBelow(stripNotes(reading), columns, notesTop);
  return { svg: element('g', { class: 'strip' }, svg, notes.svg), heightPx: heightPx + notes.heightPx };
}

/** The pictures of a strip; what is absent leaves its place empty. */
export interface StripPictures {
  /** The flattened face in a data URI. */
  readonly faceDataUri?: string | undefined;
  readonly heat?: HeatData | undefined;
}

/**
 * The same with the heat map between face and waist, and without words below: `stripNotes` has them.
 * @param reading - The reading.
 * @param pictures - Face and heat map.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function heatStrip(reading: ReadingWithFace, pictures: StripPictures, place: StripPlace): Part {
  const chosen = pictures.heat === undefined ? WITHOUT_HEAT : WITH_HEAT;
  const face = { ...chosen.face, height: LOW_PX, leastHeight: LOW_PX };
  const layout = reading.proposal.state === 'proof' ? { ...chosen, face } : chosen;
  const { svg, heightPx } = stripOf(reading, pictures, place, layout);
  return { svg: element('g', { class: 'strip' }, svg), heightPx };
}

function stripOf(
  reading: ReadingWithFace,
  pictures: StripPictures,
  place: StripPlace,
  layout: StripLayout,
): Part & { readonly columns: Columns; readonly notesTop: number } {
  const { face } = reading;
  const room = layout.face;
  const pxPerMm = Math.min(
    room.height / face.heightMm,
    Math.max(room.width / face.widthMm, room.leastHeight / face.heightMm),
  );
  const topY = place.top + HEAD_PX;
  const scale: HeightScale = {
    bottomMm: face.bottomMm,
    topMm: face.bottomMm + face.heightMm,
    topY,
    bottomY: topY + face.heightMm * pxPerMm,
  };
  const best = bestOf(reading);
  const columns = columnsOf(
    place,
    Math.min(room.width, face.widthMm * pxPerMm),
    best.length === 0 ? { ...layout, endPx: 0 } : layout,
  );
  const through = { left: place.left, width: columns.spacing.left + columns.spacing.width + 10 - place.left };
  const charts = stripCharts(reading, pictures, scale);
  const svg = [
    charts.veils(through),
    charts.draw.rule(columns.rule),
    charts.draw.waist(columns.waist),
    charts.draw.spacing(columns.spacing),
    charts.lines(through),
    charts.draw.heat(columns.heat),
    charts.draw.face(columns.face),
    captions(columns, place.top, charts.says),
    ...best.map(({ bestHeightMm }) => bestInterval(bestHeightMm, scale, through.left + through.width)),
  ].join('');
  const notesTop = scale.bottomY + FOOT_PX;
  return { svg, heightPx: notesTop - place.top, columns, notesTop };
}

/**
 * The heights that a proposal names.
 * @param reading - The reading.
 * @returns One for each ladder that has the frequency; none where nothing is proposed.
 */
export function bestOf({ proposal }: Reading) {
  return proposal.state === 'proposed' ? (proposal.bestHeights ?? [proposal]) : [];
}

/** The charts that stand side by side. */
export type StripChart = 'face' | 'heat' | 'waist' | 'rule' | 'spacing';

/** The charts over the height, for whoever places them; veils and lines of the best heights run through all of them. */
export interface StripCharts {
  /** Draws each in a column; the heat map draws nothing where there is none. */
  readonly draw: Readonly<Record<StripChart, (column: Column) => string>>;
  /** The cleanest bands, which belong behind the charts. */
  readonly veils: (through: Column) => string;
  /** The best heights, which belong before them; the face and the heat map draw their own over their pictures. */
  readonly lines: (through: Column) => string;
  /** What each shows, in a few words. */
  readonly says: Readonly<Record<StripChart, string>>;
}

/**
 * The charts over the height at one vertical scale.
 * @param reading - The reading.
 * @param pictures - Face and heat map.
 * @param scale - The shared vertical scale.
 * @returns What draws them.
 */
export function stripCharts(
  reading: ReadingWithFace,
  { faceDataUri, heat }: StripPictures,
  scale: HeightScale,
): StripCharts {
  const { face, heights, printRecord, proposal, penLine } = reading;
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm } = printRecord;
  const marks = bestOf(reading).map(({ bestHeightMm, cleanBandMm }): BandMarks => ({
    bestHeightMm: bestHeightMm.value,
    cleanBandMm,
  }));
  const expected = expectedSpacing(reading);
  return {
    veils: (through) => marks.map((one) => bandVeil(one, scale, through)).join(''),
    lines: (through) => marks.map((one) => bestLine(one, scale, through)).join(''),
    says: {
      face: 'flattened photo',
      heat: 'contrast',
      waist: heat === undefined ? 'ripple contrast' : 'contrast',
      rule: proposal.state === 'proof' ? 'height, mm/s²' : 'height, ladder',
      spacing: 'of ripples',
    },
    draw: {
      rule: (column) =>
        ruleChart(
          {
            layerHeightMm,
            firstLayerHeightMm,
            ladder: makeLadder(printRecord.ladder, layerHeightMm, firstLayerHeightMm),
            bestHeightsMm: marks.map(({ bestHeightMm }) => bestHeightMm),
            accelerations: proposal.state === 'proof' ? proposal.steps : undefined,
          },
          scale,
          column,
        ),
      waist: (column) => waistChart(heights, scale, column),
      spacing: (column) =>
        spacingChart(
          { speedMmPerS: printRecord.speedMmPerS, heights, expectedMm: expected?.spacingMm },
          scale,
          column,
        ),
      heat: (column) => (heat === undefined ? '' : heatChart(heat, scale, column, marks)),
      face: (column) =>
        faceChart(
          {
            ...(faceDataUri === undefined ? {} : { dataUri: faceDataUri }),
            widthMm: face.widthMm,
            mirrored: face.mirrored,
            marks,
            ...(penLine === undefined
              ? {}
              : { penLineMm: penLine.heightMm.value, penSlantDeg: penLine.slantDeg ?? 0 }),
          },
          scale,
          column,
        ),
    },
  };
}

/** What each chart is called. */
export const STRIP_NAMES: Readonly<Record<StripChart, string>> = {
  face: 'Face',
  heat: 'Heat map',
  waist: 'Waist',
  rule: 'Rule',
  spacing: 'Spacing',
};

type Columns = Readonly<Record<StripChart, Column>>;

function columnsOf(
  place: { readonly left: number; readonly width: number },
  faceWidth: number,
  layout: StripLayout,
): Columns {
  const { gapPx, rulePx, endPx } = layout;
  const faceRoom = Math.max(layout.face.leastWidth, faceWidth);
  const heatGap = layout.heat === 0 ? 0 : gapPx;
  const free = place.width - faceRoom - rulePx - endPx - 3 * gapPx - heatGap;
  const heat = { left: place.left + faceRoom + gapPx, width: free * layout.heat };
  const waist = { left: heat.left + heat.width + heatGap, width: free * layout.waist };
  const rule = { left: waist.left + waist.width + gapPx, width: rulePx };
  const spacing = { left: rule.left + rulePx + gapPx, width: free * (1 - layout.waist - layout.heat) };
  return { face: { left: place.left, width: faceWidth }, heat, waist, rule, spacing };
}

function captions(columns: Columns, top: number, says: StripCharts['says']): string {
  const shown = Object.keys(STRIP_NAMES).filter((name) => name !== 'heat' || columns.heat.width > 0);
  return (shown as StripChart[])
    .map((name) => stripCaption(STRIP_NAMES[name], says[name], columns[name], top))
    .join('');
}

/**
 * A chart's name over its column, and in a wide one what it shows.
 * @param name - From `STRIP_NAMES`.
 * @param what - What it shows.
 * @param column - Its place.
 * @param top - Upper edge, px; the caption is 16 px high.
 * @returns The labels.
 * @throws {RangeError} When a position is not finite.
 */
export function stripCaption(name: string, what: string, column: Column, top: number): string {
  const nameWidth = textWidth(name, SIZES.body, true) + 6;
  // In a narrow column the name has to do.
  const fits = nameWidth + textWidth(what, SIZES.note) < column.width + 40;
  return (
    label(name, column.left, top + 12, { sizePx: SIZES.body, bold: true }) +
    (fits ? label(what, column.left + nameWidth, top + 12, { sizePx: SIZES.note, fill: SOFT_INK }) : '')
  );
}

/**
 * The 95 % interval of a best height, which is not the cleanest band: a bar with caps at the line's end, and words.
 * @param best - The best height.
 * @param scale - The shared vertical scale.
 * @param left - Where the charts end, px; it takes `BEST_END_PX` from there.
 * @returns The bar and its words.
 * @throws {RangeError} When a height is not finite.
 */
export function bestInterval(
  best: { readonly value: number; readonly low95: number; readonly high95: number },
  scale: HeightScale,
  left: number,
): string {
  const x = left + 6;
  const [top, middle, bottom] = [best.high95, best.value, best.low95].map((heightMm) =>
    heightY(scale, heightMm),
  ) as [number, number, number];
  const bar =
    pathThrough([
      [x, top],
      [x, bottom],
    ]) +
    pathThrough([
      [x - 4, top],
      [x + 4, top],
    ]) +
    pathThrough([
      [x - 4, bottom],
      [x + 4, bottom],
    ]);
  return (
    element('path', { d: bar, stroke: ACCENT, 'stroke-width': 1.4, fill: 'none' }) +
    label('best height', x + 9, middle - 1, { fill: ACCENT, bold: true }) +
    label(withUnit(decimals(best.value, 1), 'mm'), x + 9, middle + 13, { fill: ACCENT, bold: true })
  );
}

/** Where the spacing is expected: by the height where ringing vanishes, or where all heights together put it. */
function expectedSpacing(
  reading: Reading,
): { readonly spacingMm: number; readonly says: string } | undefined {
  const { nullFit, spacingCheck, printRecord } = reading;
  if (nullFit !== undefined && spacingCheck.state !== 'not-measurable') {
    const dampedHz = nullFit.naturalHz * Math.sqrt(1 - nullFit.dampingRatio ** 2);
    return { spacingMm: printRecord.speedMmPerS / dampedHz, says: 'Line: expected where ringing vanishes.' };
  }
  const together = spacingCheck.spacingMm?.value;
  return together === undefined ? undefined : { spacingMm: together, says: 'Line: all heights together.' };
}

/** What the signs of each chart mean. */
export type StripNotes = Readonly<Record<'face' | 'waist' | 'rule' | 'spacing', string>>;

/**
 * What the signs of a strip mean, in words.
 * @param reading - The reading.
 * @returns For each chart; empty where nothing needs saying.
 */
export function stripNotes(reading: Reading): StripNotes {
  const { face, heights, printRecord, proposal } = reading;
  const some = (has: (height: Reading['heights'][number]) => boolean) => heights.some(has);
  const line = expectedSpacing(reading)?.says;
  const waist = some((height) => height.amplitude !== undefined)
    ? [
        'Grey core: noise.',
        some((height) => height.fittedAmplitude !== undefined) ? 'Line: fit.' : '',
        some((height) => height.signedAmplitude !== undefined)
          ? 'The tones change sides where the ripples turn over.'
          : '',
      ].join(' ')
    : 'No ripples could be fitted.';
  return {
    face: [
      ...(proposal.state === 'proposed'
        ? [
            `${(proposal.bestHeights?.length ?? 1) > 1 ? 'Lines: best heights of the ladders. Veils: cleanest bands' : 'Line: best height. Veil: cleanest band'}, where at most ${percent(proposal.cleanBandMm.mostLeft)} of the ringing is left.`,
          ]
        : []),
      ...(face?.mirrored === true ? ['Mirrored: in the photo the leading corner is on the right.'] : []),
    ].join(' '),
    waist,
    rule: printRecord.ladder.kind === 'off' ? 'The shaper was off.' : '',
    spacing: some((height) => height.spacingMm !== undefined)
      ? `Full dots stand out of the noise, hollow ones do not; wedges lie beyond the edge. Bars: ± 1 sd. ${line ?? ''}`
      : 'No spacing could be measured.',
  };
}

function notesBelow(notes: StripNotes, columns: Columns, top: number): Part {
  const blocks = (['face', 'waist', 'rule', 'spacing'] as const).map((name) => ({
    column: columns[name],
    lines: wrapText(notes[name], columns[name].width, SIZES.label),
  }));
  return {
    svg: blocks
      .flatMap(({ column, lines }) =>
        lines.map((text, i) => label(text, column.left, top + 12 + i * NOTE_LINE_PX, { fill: SOFT_INK })),
      )
      .join(''),
    heightPx: 12 + NOTE_LINE_PX * Math.max(...blocks.map(({ lines }) => lines.length)),
  };
}
