import type { RefusalReason } from '../../core/outcome.js';
import type { Reading } from '../../reading/schema.js';
import { element, pathThrough } from '../svg.js';
import { ACCENT, HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import type { Part } from './strip.js';
import { textWidth, wrapText } from './textWidth.js';

/** Refusals that a lamp in its place would help most. */
const ABOUT_LIGHT: ReadonlySet<RefusalReason> = new Set([
  'light-from-front',
  'no-ringing',
  'too-noisy',
  'glare',
  'too-dark',
]);

/** Where the lamp belongs: raking light (common practice, no source), as the README and the advice say it. */
const LAMP = { fromDeg: 60, toDeg: 75, faceWidths: 5 } as const;
/** Where the camera stands in the drawing: about as far as a phone whose picture the face fills. */
const CAMERA_FACE_WIDTHS = 3.4;

/** All drawn lengths follow from these: px for each width of the face in the two views. */
const PLAN_FACE_PX = 44;
const FRONT_FACE_PX = 28;
/** The middle of the face in the view from above, from the part's left and upper edge. */
const PLAN_MIDDLE = { x: 74, y: 82 } as const;
/** The middle of the face in the view from the camera. */
const FRONT_MIDDLE = { x: 352, y: 150 } as const;
const FRONT_TOWER_PX = 42;
const HEADS_Y = 40;
const NOTE_LEFT_PX = FRONT_MIDDLE.x - FRONT_FACE_PX / 2 - 4;
const NOTE_TOP_PX = 210;
const NOTE_LINE_PX = 15;
const BULB_PX = 6;
/** From the middle of a lamp to where its ray begins, outside its shine. */
const CLEAR_PX = 17;

/** Height and width of the drawing, px. */
export const LAMP_PART_PX = { width: 520, height: 248 } as const;

/** The drawing in words, for those who do not see it. */
export const LAMP_DESCRIPTION =
  "Where the lamp belongs: seen from above, the camera stands straight in front of the tower's face, and the lamp to its left or right, " +
  `${LAMP.fromDeg} to ${LAMP.toDeg}° from straight in front and about five face widths away, so that its rays graze the wall; seen from the camera, the lamp is level with the tower. ` +
  'A lamp beside the camera and one above the tower are crossed out: light from there hides ringing';

/** A point of the document, px. */
type Point = readonly [x: number, y: number];

/**
 * Whether a drawing of where the lamp belongs goes with a reading.
 * @param proposal - What the reading proposes.
 * @returns True for refusals that are about light.
 */
export function needsLamp(proposal: Reading['proposal']): boolean {
  return proposal.state === 'refused' && ABOUT_LIGHT.has(proposal.reason);
}

/**
 * Draws where the lamp belongs, true to scale: from above with its angle from the face's normal and its distance, and
 * from the camera, level with the tower. Places that hide ringing are crossed out.
 * @param place - Left and upper edge, px.
 * @returns The part, as large as `LAMP_PART_PX`.
 * @throws {RangeError} When a position is not finite.
 */
export function lampPart({ left, top }: { readonly left: number; readonly top: number }): Part {
  const name = 'Lamp';
  const svg = element(
    'g',
    { class: 'lamp' },
    label(name, left, top + 12, { sizePx: SIZES.body, bold: true }),
    label('where it belongs', left + textWidth(name, SIZES.body, true) + 6, top + 12, {
      sizePx: SIZES.note,
      fill: SOFT_INK,
    }),
    label('from above (lamp left or right)', left, top + HEADS_Y, { fill: SOFT_INK }),
    label('from the camera', left + NOTE_LEFT_PX, top + HEADS_Y, { fill: SOFT_INK }),
    fromAbove([left + PLAN_MIDDLE.x, top + PLAN_MIDDLE.y]),
    fromCamera([left + FRONT_MIDDLE.x, top + FRONT_MIDDLE.y]),
    note(left + NOTE_LEFT_PX, top + NOTE_TOP_PX, LAMP_PART_PX.width - NOTE_LEFT_PX),
  );
  return { svg, heightPx: LAMP_PART_PX.height };
}

/** The face lies along x, and its normal points down, to the camera. */
function fromAbove(middle: Point): string {
  const [x, y] = middle;
  const half = PLAN_FACE_PX / 2;
  const camera: Point = [x, y + CAMERA_FACE_WIDTHS * PLAN_FACE_PX];
  const beside: Point = [x + 36, camera[1]];
  const lamp = around(middle, (LAMP.fromDeg + LAMP.toDeg) / 2, LAMP.faceWidths);
  const angleAt = around(middle, LAMP.fromDeg / 2, 1.75);
  return element(
    'g',
    { class: 'from-above' },
    box([x, y - 13], [PLAN_FACE_PX, 26], HAIRLINE),
    label('tower', x, y - 9, { anchor: 'middle' }),
    wedge(middle),
    line(middle, [x, camera[1] - 14], { stroke: SOFT_INK, 'stroke-dasharray': '5 3' }),
    label('straight', x - 7, y + 70, { fill: SOFT_INK, anchor: 'end' }),
    label('in front', x - 7, y + 84, { fill: SOFT_INK, anchor: 'end' }),
    angleArc(middle),
    label(`${LAMP.fromDeg}–${LAMP.toDeg}°`, angleAt[0] + 4, angleAt[1] + 8, { bold: true }),
    ...[-0.8, 0.8].map((share) => ray(lamp, [x + share * half, y + 2])),
    line([x - half, y], [x + half, y], { class: 'wall', stroke: INK, 'stroke-width': 4 }),
    label('face', x - half - 7, y + 4, { bold: true, anchor: 'end' }),
    rightLamp(lamp),
    label('lamp, about five face widths away', lamp[0] + 28, lamp[1] + 46, { bold: true, anchor: 'end' }),
    box(camera, [26, 16], PAPER, INK),
    box([x, camera[1] - 11], [10, 6], INK),
    label('camera', x - 20, camera[1] + 4, { anchor: 'end' }),
    wrongLamp(beside),
    label('not from the front', beside[0] + 14, camera[1] + 4),
  );
}

/** The face as the camera sees it, standing on a table with the lamp. */
function fromCamera(middle: Point): string {
  const [x, y] = middle;
  const tableY = y + FRONT_TOWER_PX / 2;
  // From there only the part of the lamp's distance shows that lies across.
  const lamp: Point = [around([x, y], (LAMP.fromDeg + LAMP.toDeg) / 2, LAMP.faceWidths, FRONT_FACE_PX)[0], y];
  const above: Point = [x, y - 78];
  const half = FRONT_FACE_PX / 2;
  return element(
    'g',
    { class: 'from-camera' },
    line([x - half - 4, tableY], [lamp[0] + 22, tableY], { stroke: SOFT_INK }),
    line([lamp[0], tableY], lamp, { stroke: SOFT_INK, 'stroke-width': 1.5 }),
    box(middle, [FRONT_FACE_PX, FRONT_TOWER_PX], HAIRLINE, INK),
    label('tower', x, y - FRONT_TOWER_PX / 2 - 6, { anchor: 'middle' }),
    ray(lamp, [x + half + 2, y]),
    rightLamp(lamp),
    label('level with the tower', (x + lamp[0]) / 2 + 8, tableY + 15, { bold: true, anchor: 'middle' }),
    wrongLamp(above),
    label('not from above', above[0] + 14, above[1] + 4),
  );
}

function note(left: number, top: number, width: number): string {
  return wrapText(
    'Light from above or from the front hides ringing, or shows it doubled.',
    width,
    SIZES.label,
  )
    .map((text, i) => label(text, left, top + i * NOTE_LINE_PX, { fill: SOFT_INK }))
    .join('');
}

/** A point so many degrees from the face's normal and so many face widths away, in the view from above. */
function around([x, y]: Point, deg: number, faceWidths: number, facePx: number = PLAN_FACE_PX): Point {
  const angle = (deg * Math.PI) / 180;
  const away = faceWidths * facePx;
  return [x + away * Math.sin(angle), y + away * Math.cos(angle)];
}

/** From the lamp's least to its largest angle, with a tick at each width of the face. */
function wedge(middle: Point): string {
  const { fromDeg, toDeg, faceWidths } = LAMP;
  const arc = degrees(fromDeg, toDeg).map((deg) => around(middle, deg, faceWidths));
  const ticks = Array.from({ length: faceWidths }, (_, i) => {
    const [x, y] = around(middle, fromDeg, i + 1);
    const [dx, dy] = [3.5 * Math.cos((fromDeg * Math.PI) / 180), -3.5 * Math.sin((fromDeg * Math.PI) / 180)];
    return pathThrough([
      [x - dx, y - dy],
      [x + dx, y + dy],
    ]);
  });
  return (
    element('path', {
      class: 'wedge',
      d: pathThrough([middle, ...arc], true),
      fill: ACCENT,
      'fill-opacity': 0.13,
      stroke: ACCENT,
      'stroke-width': 0.75,
    }) + element('path', { class: 'widths', d: ticks.join(''), stroke: INK, fill: 'none' })
  );
}

/** From straight in front to the wedge. */
function angleArc(middle: Point): string {
  const d = pathThrough(degrees(0, LAMP.fromDeg).map((deg) => around(middle, deg, 1.5)));
  return element('path', { d, stroke: INK, fill: 'none' });
}

function degrees(from: number, to: number): readonly number[] {
  const steps = 12;
  return Array.from({ length: steps + 1 }, (_, i) => from + ((to - from) * i) / steps);
}

/** Light on its way, with a head where it meets the wall. */
function ray(from: Point, to: Point): string {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const start: Point = [from[0] + CLEAR_PX * ux, from[1] + CLEAR_PX * uy];
  const back: Point = [to[0] - 7 * ux, to[1] - 7 * uy];
  const head: readonly Point[] = [
    to,
    [back[0] - 2.6 * uy, back[1] + 2.6 * ux],
    [back[0] + 2.6 * uy, back[1] - 2.6 * ux],
  ];
  return (
    line(start, back, { class: 'ray', stroke: ACCENT }) +
    element('path', { d: pathThrough(head, true), fill: ACCENT })
  );
}

/** A full disc that shines, also to both sides of a stand below it. */
function rightLamp([x, y]: Point): string {
  const shine = Array.from({ length: 8 }, (_, i) => {
    const [dx, dy] = [Math.cos(((i + 0.5) * Math.PI) / 4), Math.sin(((i + 0.5) * Math.PI) / 4)];
    return pathThrough([
      [x + 9 * dx, y + 9 * dy],
      [x + 13 * dx, y + 13 * dy],
    ]);
  });
  return (
    element('circle', { class: 'right', cx: x, cy: y, r: BULB_PX, fill: ACCENT, stroke: PAPER }) +
    element('path', { d: shine.join(''), stroke: ACCENT, 'stroke-width': 1.4, fill: 'none' })
  );
}

/** A hollow disc, crossed out. */
function wrongLamp([x, y]: Point): string {
  const arm = 9;
  const cross = [1, -1].map((side) =>
    pathThrough([
      [x - arm, y - side * arm],
      [x + arm, y + side * arm],
    ]),
  );
  return (
    element('circle', { class: 'wrong', cx: x, cy: y, r: BULB_PX, fill: PAPER, stroke: SOFT_INK }) +
    element('path', { d: cross.join(''), stroke: INK, 'stroke-width': 2, fill: 'none' })
  );
}

function box([x, y]: Point, [width, height]: Point, fill: string, stroke?: string): string {
  return element('rect', { x: x - width / 2, y: y - height / 2, width, height, fill, stroke });
}

function line(from: Point, to: Point, attributes: Readonly<Record<string, string | number>>): string {
  return element('line', { ...attributes, x1: from[0], y1: from[1], x2: to[0], y2: to[1] });
}
