import type { PointPx } from '../../core/image.js';
import { distanceOf } from '../../core/vector.js';
import type { Reading } from '../../reading/schema.js';
import { withUnit } from '../format.js';
import { shownGuesses } from '../guesses.js';
import { element, pathThrough, svgWindow } from '../svg.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { LAMP_PART_PX, lampPart, needsLamp } from './lamp.js';
import type { Frame } from './scale.js';
import type { Part } from './strip.js';
import { textWidth, wrapText } from './textWidth.js';

/** The photo, and what is drawn over it beside what the reading says. */
export interface FoundData {
  /** A shrunk upright copy in a data URI. */
  readonly dataUri: string;
  /** Ticks at the leading edge and a length along the wall, px of the full photo; absent where no face was found. */
  readonly marks?: {
    readonly layers: readonly { readonly layer: number; readonly edgePx: PointPx; readonly outPx: PointPx }[];
    readonly bar: { readonly lengthMm: number; readonly fromPx: PointPx; readonly toPx: PointPx };
  };
}

/** The photo is as large as fits into this. */
const PHOTO_PX = { width: 620, height: 420 } as const;
const GAP_PX = 32;
const HEAD_PX = 24;
const LINE_PX = 19;
const LAMP_GAP_PX = 18;

/**
 * The photo with what was found in it: the edges of the face, layer numbers, a scale bar, the references, or the
 * likeliest faces where none was found. A refusal that is about light shows beside it where the lamp belongs.
 * @param reading - The reading.
 * @param data - The photo and the marks.
 * @param lines - What was found, in words.
 * @param place - Left and upper edge and width, px.
 * @returns The part.
 * @throws {RangeError} When a number is not finite.
 */
export function foundChart(
  reading: Reading,
  data: FoundData,
  lines: readonly string[],
  place: { readonly left: number; readonly top: number; readonly width: number },
): Part {
  const top = place.top + HEAD_PX;
  const photo = markedPhoto(reading, data, { left: place.left, top, ...PHOTO_PX });
  const { widthPx: width, heightPx: height } = photo;
  const textLeft = place.left + width + GAP_PX;
  const text = textLines(lines, textLeft, top, place.left + place.width - textLeft);
  // Level with the lower edge of the photo, next to the advice below, where the words leave that much room.
  const lampTop = Math.max(text.heightPx + LAMP_GAP_PX, height - LAMP_PART_PX.height);
  const lamp = needsLamp(reading.proposal) ? lampPart({ left: textLeft, top: top + lampTop }) : undefined;
  const svg = element(
    'g',
    { class: 'found' },
    label('Photo', place.left, place.top + 12, { sizePx: SIZES.body, bold: true }),
    label('what was found in it', place.left + textWidth('Photo', SIZES.body, true) + 6, place.top + 12, {
      sizePx: SIZES.note,
      fill: SOFT_INK,
    }),
    photo.svg,
    text.svg,
    lamp?.svg ?? '',
  );
  const besideHeight = lamp === undefined ? text.heightPx : lampTop + lamp.heightPx;
  return { svg, heightPx: HEAD_PX + Math.max(height, besideHeight) };
}

/**
 * The photo alone, with the marks over it.
 * @param reading - The reading.
 * @param data - The photo and the marks.
 * @param room - Left and upper edge, and what it must fit into, px.
 * @returns The part, and how wide it is.
 * @throws {RangeError} When a number is not finite.
 */
export function markedPhoto(
  reading: Reading,
  data: FoundData,
  room: Frame,
): Part & { readonly widthPx: number } {
  const { left, top } = room;
  const { widthPx, heightPx } = reading.photos[0] ?? { widthPx: 1, heightPx: 1 };
  const scale = Math.min(room.width / widthPx, room.height / heightPx);
  const [width, height] = [scale * widthPx, scale * heightPx];
  const at = ([x, y]: PointPx): [number, number] => [left + scale * x, top + scale * y];
  const box = { x: left, y: top, width, height };
  return {
    svg: [
      element('image', { ...box, preserveAspectRatio: 'none', href: data.dataUri }),
      element('rect', { ...box, fill: 'none', stroke: HAIRLINE }),
      svgWindow(box, overlay(reading, data, at)),
    ].join(''),
    widthPx: width,
    heightPx: height,
  };
}

type Place = (point: PointPx) => [number, number];

function overlay(reading: Reading, { marks }: FoundData, at: Place): string {
  const { search, face } = reading;
  return [
    ...search.references.map(({ outlinePx }) => outline(outlinePx, at, { stroke: INK, dashes: '5 3' })),
    ...(face === undefined ? [] : [outline(face.cornersPx, at, { stroke: ACCENT })]),
    guessOverlay(shownGuesses(reading).map(({ cornersPx }) => cornersPx.map(at))),
    ...(marks === undefined ? [] : [ticks(marks.layers, at), bar(marks.bar, at)]),
  ].join('');
}

/** A closed line with a rim of paper, so that it is seen on dark and on bright. */
function outline(
  points: readonly PointPx[],
  at: Place,
  { stroke, dashes }: { readonly stroke: string; readonly dashes?: string },
): string {
  const d = pathThrough(points.map(at), true);
  return (
    element('path', { d, fill: 'none', stroke: PAPER, 'stroke-width': 4, 'stroke-opacity': 0.7 }) +
    element('path', { d, fill: 'none', stroke, 'stroke-width': 1.6, 'stroke-dasharray': dashes })
  );
}

/** Numbered outlines, the likeliest on top. */
function guessOverlay(outlines: readonly (readonly PointPx[])[]): string {
  const taken: PointPx[] = [];
  const labels = outlines.map((corners, i) => {
    const [x, y] = labelPlace(corners, taken);
    taken.push([x, y]);
    return label(String(i + 1), x, y + 6, {
      sizePx: SIZES.lead,
      bold: true,
      rim: true,
      anchor: 'middle',
      fill: ACCENT,
    });
  });
  const lines = outlines.map((corners) => outline(corners, (point) => [point[0], point[1]], GUESS));
  return [...lines.reverse(), ...labels].join('');
}

const GUESS = { stroke: ACCENT, dashes: '2 3' } as const;
/** Numbers closer than this would run into one another. */
const APART_PX = 24;

/** The middle, or where another number is there, a place on the way to a corner. */
function labelPlace(corners: readonly PointPx[], taken: readonly PointPx[]): PointPx {
  const middle: PointPx = [
    corners.reduce((sum, [x]) => sum + x, 0) / corners.length,
    corners.reduce((sum, [, y]) => sum + y, 0) / corners.length,
  ];
  const towards = (share: number) =>
    corners.map(([x, y]): PointPx => [
      middle[0] + share * (x - middle[0]),
      middle[1] + share * (y - middle[1]),
    ]);
  const places = [middle, ...towards(0.4), ...towards(0.75)];
  return places.find((place) => taken.every((other) => distanceOf(place, other) >= APART_PX)) ?? middle;
}

/** Layer numbers closer than this would run into one another: some are left out. */
const TICKS_APART_PX = 14;

function ticks(layers: NonNullable<FoundData['marks']>['layers'], at: Place): string {
  let last: PointPx | undefined;
  return layers
    .filter(({ outPx }) => {
      const place = at(outPx);
      if (last !== undefined && distanceOf(place, last) < TICKS_APART_PX) return false;
      last = place;
      return true;
    })
    .map(({ layer, edgePx, outPx }) => {
      const [edge, out] = [at(edgePx), at(outPx)];
      const toLeft = out[0] < edge[0];
      return (
        element('path', { d: pathThrough([edge, out]), stroke: PAPER, 'stroke-width': 3.5 }) +
        element('path', { d: pathThrough([edge, out]), stroke: INK, 'stroke-width': 1.2 }) +
        label(String(layer), out[0] + (toLeft ? -3 : 3), out[1] + 4, {
          rim: true,
          anchor: toLeft ? 'end' : 'start',
        })
      );
    })
    .join('');
}

function bar({ lengthMm, fromPx, toPx }: NonNullable<FoundData['marks']>['bar'], at: Place): string {
  const [from, to] = [at(fromPx), at(toPx)];
  const d = pathThrough([from, to]);
  return (
    element('path', { d, stroke: PAPER, 'stroke-width': 5, 'stroke-opacity': 0.8 }) +
    element('path', { d, stroke: INK, 'stroke-width': 2.2 }) +
    label(withUnit(String(lengthMm), 'mm'), (from[0] + to[0]) / 2, (from[1] + to[1]) / 2 - 6, {
      rim: true,
      anchor: 'middle',
    })
  );
}

function textLines(lines: readonly string[], left: number, top: number, widthPx: number): Part {
  let y = top;
  const svg = lines
    .map((line) => {
      const wrapped = wrapText(line, widthPx, SIZES.body);
      const drawn = wrapped.map((one, i) => label(one, left, y + 14 + i * LINE_PX, { sizePx: SIZES.body }));
      y += wrapped.length * LINE_PX + 7;
      return drawn.join('');
    })
    .join('');
  return { svg, heightPx: y - top };
}
