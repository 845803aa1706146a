import type { Reading } from '../../reading/schema.js';
import { decimals, percent, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { faceChart } from './face.js';
import { bandVeil, bestLine, type BandMarks } from './heightMarks.js';
import { ACCENT, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { makeLadder } from '../../print/ladder.js';
import { ruleChart } from './rule.js';
import { heightY, type Column, type HeightScale } from './scale.js';
import { spacingChart } from './spacing.js';
import { textWidth, wrapText } from './textWidth.js';
import { waistChart } from './waist.js';

/** Px above the charts for captions and upper axes, and below for lower axes. */
const HEAD_PX = 48;
const FOOT_PX = 26;
const GAP_PX = 22;
const RULE_PX = 150;
/** At the right end: the interval of the best height, and words. */
const END_PX = 86;
/**
 * The face is as large as fits into this, but never so flat that the charts beside it cannot be read. A narrow
 * one has room for its caption.
 */
const FACE_PX = { width: 500, height: 430, leastHeight: 230, leastWidth: 130 } as const;
/** Of what is left beside face and rule, the waist's share. */
const WAIST_SHARE = 0.47;
const NOTE_LINE_PX = 15;

/** A reading of a face that was found. */
export type ReadingWithFace = Reading & { readonly face: NonNullable<Reading['face']> };

/** A finished part of the picture. */
export interface Part {
  readonly svg: string;
  readonly heightPx: number;
}

/**
 * Face, waist, rule and spacing side by side at one vertical scale, with the band and the best height through
 * all of them.
 * @param reading - The reading.
 * @param faceDataUri - The flattened face as a picture.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function heightStrip(
  reading: ReadingWithFace,
  faceDataUri: string,
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const { face, heights, printRecord, proposal, penLine } = reading;
  const { layerHeightMm, firstLayerHeightMm = layerHeightMm } = printRecord;
  const pxPerMm = Math.min(
    FACE_PX.height / face.heightMm,
    Math.max(FACE_PX.width / face.widthMm, FACE_PX.leastHeight / face.heightMm),
  );
  const topY = place.top + HEAD_PX;
  const scale: HeightScale = {
    bottomMm: face.bottomMm,
    topMm: face.bottomMm + face.heightMm,
    topY,
    bottomY: topY + face.heightMm * pxPerMm,
  };
  const best = proposal.state === 'proposed' ? (proposal.bestHeights ?? [proposal]) : [];
  const marks = best.map(({ bestHeightMm, cleanBandMm }): BandMarks => ({
    bestHeightMm: bestHeightMm.value,
    cleanBandMm,
  }));
  const columns = columnsOf(
    place,
    Math.min(FACE_PX.width, face.widthMm * pxPerMm),
    marks.length === 0 ? 0 : END_PX,
  );
  const through = { left: place.left, width: columns.spacing.left + columns.spacing.width + 10 - place.left };
  const expected = expectedSpacing(reading);
  const notes = notesOf(reading, columns, scale.bottomY + FOOT_PX, expected?.says);
  const svg = element(
    'g',
    { class: 'strip' },
    ...marks.map((one) => bandVeil(one, scale, through)),
    ruleChart(
      {
        layerHeightMm,
        firstLayerHeightMm,
        ladder: makeLadder(printRecord.ladder, layerHeightMm, firstLayerHeightMm),
        bestHeightsMm: marks.map(({ bestHeightMm }) => bestHeightMm),
        accelerations: proposal.state === 'proof' ? proposal.steps : undefined,
      },
      scale,
      columns.rule,
    ),
    waistChart(heights, scale, columns.waist),
    spacingChart(
      { speedMmPerS: printRecord.speedMmPerS, heights, expectedMm: expected?.spacingMm },
      scale,
      columns.spacing,
    ),
    ...marks.map((one) => bestLine(one, scale, through)),
    faceChart(
      {
        dataUri: faceDataUri,
        widthMm: face.widthMm,
        mirrored: face.mirrored,
        marks,
        ...(penLine === undefined ? {} : { penLineMm: penLine.heightMm.value }),
      },
      scale,
      columns.face,
    ),
    captions(columns, place.top, proposal.state === 'proof' ? 'height, mm/s²' : 'height, ladder'),
    ...best.map(({ bestHeightMm }) => bestInterval(bestHeightMm, scale, through.left + through.width)),
    notes.svg,
  );
  return { svg, heightPx: scale.bottomY + FOOT_PX + notes.heightPx - place.top };
}

type Columns = Readonly<Record<'face' | 'waist' | 'rule' | 'spacing', Column>>;

function columnsOf(
  place: { readonly left: number; readonly width: number },
  faceWidth: number,
  endPx: number,
): Columns {
  const faceRoom = Math.max(FACE_PX.leastWidth, faceWidth);
  const free = place.width - faceRoom - RULE_PX - endPx - 3 * GAP_PX;
  const waist = { left: place.left + faceRoom + GAP_PX, width: free * WAIST_SHARE };
  const rule = { left: waist.left + waist.width + GAP_PX, width: RULE_PX };
  const spacing = { left: rule.left + RULE_PX + GAP_PX, width: free * (1 - WAIST_SHARE) };
  return { face: { left: place.left, width: faceWidth }, waist, rule, spacing };
}

function captions(columns: Columns, top: number, onRule: string): string {
  const caption = (column: Column, name: string, what: string) =>
    label(name, column.left, top + 12, { sizePx: SIZES.body, bold: true }) +
    label(what, column.left + textWidth(name, SIZES.body, true) + 6, top + 12, {
      sizePx: SIZES.note,
      fill: SOFT_INK,
    });
  return (
    caption(columns.face, 'Face', 'flattened photo') +
    caption(columns.waist, 'Waist', 'ripple contrast') +
    caption(columns.rule, 'Rule', onRule) +
    caption(columns.spacing, 'Spacing', 'of ripples')
  );
}

/** The 95 % interval of the best height, which is not the cleanest band: a bar with caps at the line's end. */
function bestInterval(
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

/** What the signs mean, in words below each chart. */
function notesOf(reading: Reading, columns: Columns, top: number, line: string | undefined): Part {
  const { heights, printRecord, proposal } = reading;
  const some = (has: (height: Reading['heights'][number]) => boolean) => heights.some(has);
  const face =
    proposal.state === 'proposed'
      ? `${(proposal.bestHeights?.length ?? 1) > 1 ? 'Lines: best heights of the ladders. Veils: cleanest bands' : 'Line: best height. Veil: cleanest band'}, where at most ${percent(proposal.cleanBandMm.mostLeft)} of the ringing is left.`
      : '';
  const waist = some((height) => height.amplitude !== undefined)
    ? [
        'Grey core: noise.',
        some((height) => height.fittedAmplitude !== undefined) ? 'Line: fit.' : '',
        some((height) => height.signedAmplitude !== undefined)
          ? 'The tones change sides where the ripples turn over.'
          : '',
      ].join(' ')
    : 'No ripples could be fitted.';
  const rule = printRecord.ladder.kind === 'off' ? 'The shaper was off.' : '';
  const spacing = some((height) => height.spacingMm !== undefined)
    ? `Full dots stand out of the noise, hollow ones do not; wedges lie beyond the edge. Bars: ± 1 sd. ${line ?? ''}`
    : 'No spacing could be measured.';
  const texts: readonly (readonly [Column, string])[] = [
    [columns.face, face],
    [columns.waist, waist],
    [columns.rule, rule],
    [columns.spacing, spacing],
  ];
  const blocks = texts.map(([column, text]) => ({
    column,
    lines: wrapText(text, column.width, SIZES.label),
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
