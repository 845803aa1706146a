import type { Mm } from '../../core/units.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough, svgWindow } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { bandVeil, bestLine, type BandMarks } from './heightMarks.js';
import { HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { heightY, linearScale, roundTicks, type Column, type HeightScale } from './scale.js';
import { textWidth } from './textWidth.js';

/** What the face is drawn from. */
export interface FaceData {
  /** The flattened face as a picture in a data URI, leading corner at the left; absent: its place stays empty. */
  readonly dataUri?: string;
  readonly widthMm: Mm;
  /** The leading corner was on the right in the photo. */
  readonly mirrored: boolean;
  /** Of each ladder that has the frequency. */
  readonly marks?: readonly BandMarks[];
  /** Where it crosses the middle of the wall, and its rise away from the leading corner. */
  readonly penLineMm?: Mm;
  readonly penSlantDeg?: number;
}

/** Room that the pen line's label takes above or below its line. */
const LABEL_PX = 20;

/**
 * The flattened photo in true proportions, with the best heights, the cleanest bands and the pen line on it.
 * @param data - The face.
 * @param scale - The shared vertical scale.
 * @param column - Its place. A face that is wider at this scale is cut off at the right, and the axis says so.
 * @returns A group, with labels up to 30 px above and 20 px below the face.
 * @throws {RangeError} When a number is not finite.
 */
export function faceChart(data: FaceData, scale: HeightScale, column: Column): string {
  const { left, width } = column;
  const { topY, bottomY } = scale;
  const pxPerMm = (bottomY - topY) / (scale.topMm - scale.bottomMm);
  const shownMm = width / pxPerMm;
  const cutOff = data.widthMm > shownMm + 0.5;
  const ofAll = `first ${decimals(shownMm, 0)} of ${withUnit(decimals(data.widthMm, 0), 'mm')}`;
  const x = linearScale([0, shownMm], [left, left + width]);
  const { marks = [] } = data;
  const ticks = roundTicks(0, Math.min(shownMm, data.widthMm), Math.max(2, width / 70));
  const last = ticks.values.at(-1);
  const axis = ticks.values.map((value) => ({
    at: x(value),
    text: value === last ? withUnit(decimals(value, ticks.digits), 'mm') : decimals(value, ticks.digits),
  }));
  return element(
    'g',
    { class: 'face' },
    data.dataUri === undefined
      ? ''
      : svgWindow(
          { x: left, y: topY, width, height: bottomY - topY },
          element('image', {
            x: left,
            y: topY,
            width: data.widthMm * pxPerMm,
            height: bottomY - topY,
            preserveAspectRatio: 'none',
            href: data.dataUri,
          }),
        ),
    ...marks.map((one) => bandVeil(one, scale, column)),
    element('rect', { x: left, y: topY, width, height: bottomY - topY, fill: 'none', stroke: HAIRLINE }),
    data.penLineMm === undefined ? '' : penLine(data.penLineMm, data, scale, column),
    ...marks.map((one) => bestLine(one, scale, column)),
    corner(left, topY),
    data.mirrored ? mirroredNote(left, topY, width - (cutOff ? textWidth(ofAll, SIZES.label) + 8 : 0)) : '',
    horizontalAxis(axis, [left, left + width], bottomY, 'below'),
    cutOff ? label(ofAll, left + width, topY - 5, { fill: SOFT_INK, anchor: 'end' }) : '',
  );
}

/** Behind the words "leading corner". */
const MIRRORED_AT_PX = 108;

/** As long as there is room; a face that is narrower leaves it to the words below. */
function mirroredNote(left: number, topY: number, roomPx: number): string {
  const text = ['mirrored: in the photo it is on the right', 'mirrored'].find(
    (words) => MIRRORED_AT_PX + textWidth(words, SIZES.label) <= roomPx,
  );
  return text === undefined ? '' : label(text, left + MIRRORED_AT_PX, topY - 5, { fill: SOFT_INK });
}

/** A small wedge at the corner that the nozzle has just turned. */
function corner(left: number, topY: number): string {
  const wedge: (readonly [number, number])[] = [
    [left, topY - 3],
    [left, topY - 15],
    [left + 7, topY - 9],
  ];
  return (
    element('path', { d: pathThrough(wedge, true), fill: INK }) +
    label('leading corner', left + 11, topY - 5, { fill: INK })
  );
}

function penLine(
  heightMm: Mm,
  { marks = [], widthMm, penSlantDeg = 0 }: FaceData,
  scale: HeightScale,
  { left, width }: Column,
): string {
  const y = heightY(scale, heightMm);
  const text = `pen line ${withUnit(decimals(heightMm, 1), 'mm')}`;
  const wide = textWidth(text, SIZES.label) + 10;
  // Away from the nearest best height, so that one does not cover the other, as long as it stays on the face.
  const nearest = marks
    .map(({ bestHeightMm }) => bestHeightMm)
    .reduce((near, one) => (Math.abs(one - heightMm) < Math.abs(near - heightMm) ? one : near), -Infinity);
  const away = heightMm >= nearest;
  const above = (away && y - LABEL_PX > scale.topY) || y + LABEL_PX > scale.bottomY;
  const top = above ? y - LABEL_PX : y + 4;
  const labelLeft = Math.max(left, left + width - wide - 4);
  const pxPerMm = (scale.bottomY - scale.topY) / (scale.topMm - scale.bottomMm);
  const rise = Math.tan((penSlantDeg * Math.PI) / 180);
  const middlePx = (widthMm / 2) * pxPerMm;
  const line = { x1: left, y1: y + rise * middlePx, x2: left + width, y2: y - rise * (width - middlePx) };
  return element(
    'g',
    { class: 'pen-line' },
    element('line', { ...line, stroke: PAPER, 'stroke-width': 3.5, 'stroke-opacity': 0.65 }),
    element('line', { ...line, stroke: INK, 'stroke-width': 1.2, 'stroke-dasharray': '9 3 2 3' }),
    element('rect', {
      x: labelLeft,
      y: top,
      width: wide,
      height: 16,
      fill: PAPER,
      'fill-opacity': 0.85,
    }),
    label(text, labelLeft + 5, top + 12),
  );
}
