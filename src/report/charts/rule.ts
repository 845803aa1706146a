import type { Hz, Mm, MmPerS2 } from '../../core/units.js';
import {
  ladderHeightsAt,
  ladderHzAt,
  ladderRangeHz,
  layerAt,
  layerCentreMm,
  type Ladder,
} from '../../print/ladder.js';
import { decimals } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { heightY, roundTicks, type Column, type HeightScale, type Ticks } from './scale.js';

/** What the rule is made of. */
export interface RuleData {
  readonly layerHeightMm: Mm;
  readonly firstLayerHeightMm: Mm;
  readonly ladder: Ladder;
  /** Where the rule is read off. */
  readonly bestHeightsMm?: readonly Mm[] | undefined;
  /** Of a proof print: the accelerations stand where the ladder's frequencies would. */
  readonly accelerations?:
    readonly { readonly fromMm: Mm; readonly toMm: Mm; readonly mmPerS2: MmPerS2 }[] | undefined;
}

/** One of the rule's three faces. */
interface RuleFace {
  readonly unit: string;
  readonly ticks: readonly { readonly y: number; readonly length: number }[];
  readonly labels: readonly { readonly y: number; readonly text: string }[];
  /** Stretches without a value, y of top and bottom. */
  readonly blanks: readonly { readonly top: number; readonly bottom: number }[];
  /** What stands at a height, which is told at the best ones; undefined where nothing does. */
  readonly readingAt?: (heightMm: Mm) => string | undefined;
}

/** Least distance of two labels' baselines. */
const LABEL_PX = 15;
/** Px for each labelled mark, and how many marks there are for each of these. */
const MARK_PX = 40;
const PARTS = 5;
const LONG_TICK_PX = 8;
const SHORT_TICK_PX = 4;

/**
 * One scale with three faces: height in mm, layer number, and the ladder's frequency in Hz, blank where the
 * shaper was off. A ladder of steps shows as steps. At each best height the rule is read off.
 * @param data - The rule.
 * @param scale - The shared vertical scale.
 * @param column - Its place.
 * @returns A group, with the units up to 20 px above.
 * @throws {RangeError} When a number is not finite.
 */
export function ruleChart(data: RuleData, scale: HeightScale, column: Column): string {
  const { left, width } = column;
  const { topY, bottomY } = scale;
  const lane = width / 3;
  const { bestHeightsMm = [] } = data;
  const third =
    data.accelerations === undefined
      ? ladderFace(data, scale, lane)
      : {
          unit: 'mm/s²',
          blanks: [],
          ...stepsOn(data.accelerations, ({ mmPerS2 }) => String(mmPerS2), scale, lane),
        };
  const faces = [mmFace(scale), layerFace(data, scale), third];
  const outline = { x: left, y: topY, width, height: bottomY - topY };
  const joints = [1, 2].map((i) =>
    pathThrough([
      [left + i * lane, topY],
      [left + i * lane, bottomY],
    ]),
  );
  return element(
    'g',
    { class: 'rule' },
    element('rect', { ...outline, fill: INK, 'fill-opacity': 0.055, stroke: HAIRLINE }),
    ...faces.map((face, i) => drawFace(face, { left: left + i * lane, width: lane }, bestHeightsMm, scale)),
    element('path', { d: joints.join(''), stroke: HAIRLINE, fill: 'none' }),
  );
}

function mmFace(scale: HeightScale): RuleFace {
  const { bottomMm, topMm } = scale;
  return {
    unit: 'mm',
    ...marks(ticksOf(bottomMm, topMm, scale), (heightMm) => [heightMm], scale),
    blanks: [],
    readingAt: (heightMm) => decimals(heightMm, 1),
  };
}

function layerFace(data: RuleData, scale: HeightScale): RuleFace {
  const { layerHeightMm, firstLayerHeightMm } = data;
  // Heights counted in layers may put the lower edge of the face a little below the bed.
  const layerOf = (heightMm: Mm) => layerAt(Math.max(0, heightMm), layerHeightMm, firstLayerHeightMm);
  const lowest = layerOf(scale.bottomMm);
  const highest = Math.max(lowest + 1, layerOf(scale.topMm) - 1);
  const { major, minor } = ticksOf(lowest, highest, scale);
  const whole = ({ values }: Ticks): Ticks => ({
    values: values.filter((value) => Number.isInteger(value)),
    digits: 0,
  });
  const heightsOf = (layer: number) => [layerCentreMm(layer, layerHeightMm, firstLayerHeightMm)];
  return {
    unit: 'layer',
    ...marks({ major: whole(major), minor: whole(minor) }, heightsOf, scale),
    blanks: [],
    readingAt: (heightMm) => decimals(layerOf(heightMm), 0),
  };
}

function ladderFace(data: RuleData, scale: HeightScale, lane: number): RuleFace {
  const { ladder } = data;
  const reading = (written: (hz: Hz) => string) => (heightMm: Mm) => {
    const hz = ladderHzAt(ladder, heightMm)?.value;
    return hz === undefined ? undefined : written(hz);
  };
  const face = {
    unit: 'Hz',
    blanks: blanksOf(data, scale),
    readingAt: reading((hz) => decimals(hz, 1)),
  };
  const range = ladderRangeHz(ladder);
  if (range === undefined) return { ...face, ticks: [], labels: [] };
  if (ladder.kind === 'stepped') {
    return {
      ...face,
      readingAt: reading(shortHz),
      ...stepsOn(ladder.steps, ({ hz }) => shortHz(hz), scale, lane),
    };
  }
  if (ladder.kind === 'fixed' || range.highHz === range.lowHz) {
    return {
      ...face,
      ticks: [],
      labels: [{ y: (scale.topY + scale.bottomY) / 2, text: shortHz(range.lowHz) }],
    };
  }
  const heightsOf = (hz: Hz) => ladderHeightsAt(ladder, hz).map(({ value }) => value);
  return { ...face, ...marks(ticksOf(range.lowHz, range.highHz, scale), heightsOf, scale) };
}

/** Steps by height: a line where each begins and ends, its value in the middle of what is seen of it. */
function stepsOn<T extends { readonly fromMm: Mm; readonly toMm: Mm }>(
  steps: readonly T[],
  textOf: (step: T) => string,
  scale: HeightScale,
  lane: number,
): Pick<RuleFace, 'ticks' | 'labels'> {
  const inside = steps
    .map((step) => ({
      low: Math.max(step.fromMm, scale.bottomMm),
      high: Math.min(step.toMm, scale.topMm),
      step,
    }))
    .filter(({ low, high }) => high > low);
  return {
    ticks: inside.flatMap(({ low, high }) =>
      [low, high].map((mm) => ({ y: heightY(scale, mm), length: lane })),
    ),
    labels: inside.map(({ low, high, step }) => ({
      y: heightY(scale, (low + high) / 2),
      text: textOf(step),
    })),
  };
}

/** Stretches of layers for which the shaper was off. */
function blanksOf(
  { ladder, layerHeightMm, firstLayerHeightMm }: RuleData,
  scale: HeightScale,
): RuleFace['blanks'] {
  const blanks: { top: number; bottom: number }[] = [];
  const first = layerAt(Math.max(0, scale.bottomMm), layerHeightMm, firstLayerHeightMm);
  let wasOff = false;
  for (let layer = first; ; layer += 1) {
    const centreMm = layerCentreMm(layer, layerHeightMm, firstLayerHeightMm);
    if (centreMm > scale.topMm) return blanks;
    const isOff = ladderHzAt(ladder, centreMm) === undefined;
    const upperMm = firstLayerHeightMm + layer * layerHeightMm;
    const top = heightY(scale, Math.min(scale.topMm, upperMm));
    const last = blanks.at(-1);
    if (isOff && wasOff && last !== undefined) last.top = top;
    else if (isOff) {
      const lowerMm = layer === first ? scale.bottomMm : upperMm - layerHeightMm;
      blanks.push({ top, bottom: heightY(scale, lowerMm) });
    }
    wasOff = isOff;
  }
}

function ticksOf(
  low: number,
  high: number,
  scale: HeightScale,
): { readonly major: Ticks; readonly minor: Ticks } {
  const most = Math.max(2, (scale.bottomY - scale.topY) / MARK_PX);
  return { major: roundTicks(low, high, most), minor: roundTicks(low, high, most * PARTS) };
}

function marks(
  { major, minor }: { readonly major: Ticks; readonly minor: Ticks },
  heightsOf: (value: number) => readonly Mm[],
  scale: HeightScale,
): Pick<RuleFace, 'ticks' | 'labels'> {
  const placed = (value: number) =>
    heightsOf(value)
      .filter((heightMm) => heightMm >= scale.bottomMm && heightMm <= scale.topMm)
      .map((heightMm) => heightY(scale, heightMm));
  const ticks = (values: readonly number[], length: number) =>
    values.flatMap((value) => placed(value).map((y) => ({ y, length })));
  return {
    ticks: [...ticks(minor.values, SHORT_TICK_PX), ...ticks(major.values, LONG_TICK_PX)],
    labels: major.values.flatMap((value) =>
      placed(value).map((y) => ({ y, text: decimals(value, major.digits) })),
    ),
  };
}

function drawFace(
  face: RuleFace,
  { left, width }: Column,
  bestHeightsMm: readonly Mm[],
  scale: HeightScale,
): string {
  const right = left + width - 7;
  const readings = bestHeightsMm.flatMap((heightMm) => {
    const text = face.readingAt?.(heightMm);
    const lineY = heightY(scale, heightMm);
    // The reading stands above its line, or below it where there is no room.
    const y = lineY + (lineY - LABEL_PX > scale.topY ? -5 : 14);
    return text === undefined ? [] : [{ text, y, lineY }];
  });
  // No label may touch a reading or be crossed by its line.
  const taken = readings.flatMap(({ y, lineY }) => [y, lineY + 4]);
  const labels = face.labels.map(({ y, text }) => {
    const baseline = Math.min(scale.bottomY - 3, Math.max(scale.topY + 11, y + 4));
    if (taken.some((other) => Math.abs(other - baseline) < LABEL_PX)) return '';
    taken.push(baseline);
    return label(text, right, baseline, { anchor: 'end' });
  });
  const ticks = face.ticks.map(({ y, length }) =>
    pathThrough([
      [left, y],
      [left + length, y],
    ]),
  );
  const middle = { fill: SOFT_INK, anchor: 'middle' } as const;
  const blanks = face.blanks.map(({ top, bottom }) => {
    const word =
      bottom - top > LABEL_PX + 3 ? label('off', left + width / 2, (top + bottom) / 2 + 4, middle) : '';
    return (
      element('rect', { x: left, y: top, width, height: bottom - top, fill: PAPER, stroke: HAIRLINE }) + word
    );
  });
  return [
    ...blanks,
    element('path', { d: ticks.join(''), stroke: SOFT_INK, 'stroke-width': 0.8, fill: 'none' }),
    ...labels,
    label(face.unit, left + width / 2, scale.topY - 9, middle),
    ...readings.map(({ text, y }) =>
      label(text, right, y, { sizePx: SIZES.note, fill: ACCENT, bold: true, rim: true, anchor: 'end' }),
    ),
  ].join('');
}

/** At most one decimal, none where it is zero. */
function shortHz(hz: Hz): string {
  return decimals(hz, Number.isInteger(hz) ? 0 : 1);
}
