import {
  CARD_MM,
  CHECK_LENGTH_MM,
  CHECK_MARKS_MM,
  CODE_BORDER_CELLS,
  CODE_CENTRE_MM,
  CODE_FIELD_MM,
  CODE_SIDE_MM,
  MARKER_CELL_MM,
  MARKER_CELLS,
  MARKER_CENTRES_MM,
  MARKER_SIDE_MM,
} from '../core/markerCard.js';
import type { Mm } from '../core/units.js';
import { INK, SOFT_INK } from './charts/ink.js';
import { textWidth, wrapText } from './charts/textWidth.js';
import type { Drawing, Place, Shape as AnyShape } from './drawing.js';
import { decimals, withUnit } from './format.js';
import { PAPERS_MM, type Paper } from './paper.js';

/** Pages that a card can be drawn on: `card` is the card alone, as it is cut. */
export const CARD_SIZES = ['a4', 'letter', 'card'] as const satisfies readonly (Paper | 'card')[];
export type CardSize = (typeof CARD_SIZES)[number];

/** A card has no pictures on it. */
type Shape = Exclude<AnyShape, { readonly kind: 'picture' | 'window' }>;

/** What is on a card beside its squares. */
export interface CardContent {
  readonly size: CardSize;
  /** Rows of a QR code's cells, dark is 1, and what it says for people; absent: there is a place for notes instead. */
  readonly code?: { readonly cells: readonly string[]; readonly fields: readonly string[] };
  readonly machine?: string;
  readonly axis?: string;
  /** What the check length of an earlier print measured: the card is drawn so that it measures what it should. */
  readonly checkLengthMm?: Mm;
}

const CARD_WIDTH_MM = CARD_MM.right - CARD_MM.left;
const CARD_HEIGHT_MM = CARD_MM.bottom - CARD_MM.top;

/** Printed black is what the finder looks for. */
const BLACK = '#000000';
const FINE_MM = 0.15;
const MARGIN_MM = 18;
/** On a page: the card's top edge. */
const CARD_TOP_MM = 44;

/**
 * Draws the marker card at true size, on a page that tells how it is used, or by itself.
 * @param content - What is on it.
 * @returns The page.
 */
export function drawMarkerCard(content: CardContent): Drawing {
  const { size, machine, checkLengthMm = CHECK_LENGTH_MM } = content;
  const name = machine === undefined ? '' : ` for ${machine}`;
  const described = {
    title: `Marker card${name}`,
    description: `Four squares to hold beside a test tower, at true size: the check length is ${CHECK_LENGTH_MM} mm.`,
  };
  const factor = CHECK_LENGTH_MM / checkLengthMm;
  if (size === 'card') {
    const shapes = placed(cardShapes(content), [-factor * CARD_MM.left, -factor * CARD_MM.top], factor);
    return { ...described, widthMm: factor * CARD_WIDTH_MM, heightMm: factor * CARD_HEIGHT_MM, shapes };
  }
  const [widthMm, heightMm] = PAPERS_MM[size];
  const left = (widthMm - factor * CARD_WIDTH_MM) / 2;
  const origin: Place = [left - factor * CARD_MM.left, CARD_TOP_MM - factor * CARD_MM.top];
  return {
    ...described,
    widthMm,
    heightMm,
    shapes: [
      ...heading(content, widthMm),
      ...placed([...cardShapes(content), ...cutMarks()], origin, factor),
      ...instructions(content, CARD_TOP_MM + factor * CARD_HEIGHT_MM + 16, widthMm),
    ],
  };
}

/**
 * Side of a code's cell on the card.
 * @param cells - Cells along the code's side.
 * @returns Mm.
 */
export function codeCellMm(cells: number): Mm {
  return Math.min(CODE_SIDE_MM / cells, CODE_FIELD_MM / (cells + 2 * CODE_BORDER_CELLS));
}

/** The card itself, mm from the centre of its first square. */
function cardShapes(content: CardContent): readonly Shape[] {
  const squares = MARKER_CENTRES_MM.map(([x, y], id): Shape => {
    const rows = (MARKER_CELLS[id] ?? []).map((row) => `1${inverted(row)}1`);
    const rim = '1'.repeat(MARKER_SIDE_MM / MARKER_CELL_MM);
    return cellsArea([rim, ...rows, rim], [x, y], MARKER_CELL_MM);
  });
  return [
    ...squares,
    ...(content.code === undefined ? notes() : code(content.code.cells)),
    ...strip(content),
  ];
}

function inverted(row: string): string {
  return Array.from(row, (cell) => (cell === '1' ? '0' : '1')).join('');
}

function code(cells: readonly string[]): readonly Shape[] {
  return [cellsArea(cells, CODE_CENTRE_MM, codeCellMm(cells.length))];
}

/** Rows of cells about a middle: one area, so that no seam shows between cells that touch. */
function cellsArea(rows: readonly string[], [x, y]: Place, cellMm: Mm): Shape {
  const [left, top] = [x - (cellMm * rows.length) / 2, y - (cellMm * rows.length) / 2];
  const rings = rows.flatMap((row, i) =>
    [...row.matchAll(/1+/g)].map(({ index, 0: run }) =>
      box(left + cellMm * index, top + cellMm * i, cellMm * run.length, cellMm),
    ),
  );
  return { kind: 'area', rings, fill: BLACK };
}

function box(left: Mm, top: Mm, width: Mm, height: Mm): readonly Place[] {
  return [
    [left, top],
    [left + width, top],
    [left + width, top + height],
    [left, top + height],
  ];
}

/** Where there is no code: lines to write on. */
function notes(): readonly Shape[] {
  const [middle] = CODE_CENTRE_MM;
  return [0, 9, 18, 27].map((y) => rule([middle - 20, y + 4], [middle + 20, y + 4]));
}

/** Below the squares: check length, depth note, and what is written by hand where it is not known. */
function strip({ machine, axis }: CardContent): readonly Shape[] {
  const { left, right, y } = CHECK_MARKS_MM;
  const middle = (left + right) / 2;
  const mark = (x: Mm): Shape => ({
    kind: 'line',
    points: [
      [x, y - 3],
      [x, y + 3],
    ],
    widthMm: 0.2,
    stroke: BLACK,
  });
  return [
    mark(left),
    mark(right),
    rule([left, y], [middle - 25, y]),
    rule([middle + 25, y], [right, y]),
    words(`${withUnit(decimals(CHECK_LENGTH_MM, 1), 'mm')}; measured:`, [middle - 23, y + 0.9], 2.5),
    rule([middle + 4, y + 1], [middle + 17, y + 1]),
    words('mm', [middle + 18, y + 0.9], 2.5),
    words('Hold it in the plane of the face, flush with it, all squares in view.', [middle, 60.5], 2.5, {
      anchor: 'middle',
    }),
    ...field('machine', machine, left, 36),
    ...field('axis', axis, left + 52, 10),
    ...field('date', undefined, left + 67, 23),
  ];
}

const WRITING_Y_MM = 68;
const FIELD_MM = 2.8;

/** A line to write on, with what it is for below; what is known stands on it. */
function field(name: string, value: string | undefined, left: Mm, width: Mm): readonly Shape[] {
  const line = width + (name === 'machine' ? 12 : 0);
  return [
    rule([left, WRITING_Y_MM], [left + line, WRITING_Y_MM]),
    words(name, [left, WRITING_Y_MM + 2.3], 1.9, { fill: SOFT_INK }),
    ...(value === undefined
      ? []
      : [words(value, [left, WRITING_Y_MM - 0.9], fitting(value, line, FIELD_MM), { bold: true })]),
  ];
}

/** Size of a bold text that must fit a width. */
function fitting(text: string, widthMm: Mm, mostMm: Mm): Mm {
  return Math.min(mostMm, (mostMm * widthMm) / textWidth(text, mostMm, true));
}

/** Corners outside the cut. */
function cutMarks(): readonly Shape[] {
  const [gap, length] = [1, 6];
  return [CARD_MM.left, CARD_MM.right].flatMap((x) =>
    [CARD_MM.top, CARD_MM.bottom].flatMap((y) => {
      const [outX, outY] = [x === CARD_MM.left ? -1 : 1, y === CARD_MM.top ? -1 : 1];
      return [
        rule([x + gap * outX, y], [x + length * outX, y]),
        rule([x, y + gap * outY], [x, y + length * outY]),
      ];
    }),
  );
}

function heading({ machine, axis, checkLengthMm }: CardContent, pageMm: Mm): readonly Shape[] {
  const about = [machine, axis === undefined ? undefined : `axis ${axis}`]
    .filter((part) => part !== undefined)
    .join(', ');
  const factor = CHECK_LENGTH_MM / (checkLengthMm ?? CHECK_LENGTH_MM);
  const change = decimals(100 * Math.abs(factor - 1), 1);
  const drawn =
    checkLengthMm === undefined
      ? `True size: print at 100 %.`
      : `Drawn ${change} % ${factor < 1 ? 'smaller' : 'larger'}, for a printer that makes ${decimals(checkLengthMm, 1)} mm of ${CHECK_LENGTH_MM} mm: print at 100 % there.`;
  const widthMm = pageMm - 2 * MARGIN_MM;
  return [
    words('Marker card', [MARGIN_MM, 21], 7.5, { bold: true }),
    ...(about === '' ? [] : [words(about, [MARGIN_MM, 28.5], fitting(about, widthMm, 4.2))]),
    words(drawn, [MARGIN_MM, about === '' ? 28.5 : 35], 3.4, { fill: SOFT_INK }),
  ];
}

const STEP_MM = 3.4;
const LINE_MM = 5;

function instructions({ code: told, checkLengthMm }: CardContent, top: Mm, pageMm: Mm): readonly Shape[] {
  const widthMm = pageMm - 2 * MARGIN_MM;
  const steps = [
    'Print on plain white paper, not glossy, at 100 % (actual size), not fitted to the page.',
    `Measure the check length with calipers, from the middle of one mark to the middle of the other: ${CHECK_LENGTH_MM}.0 mm. ${
      checkLengthMm === undefined
        ? 'If it is more than 0.2 mm off, write the length on the card and tell it with each photo (--check-length), or draw the card again with it (stillband card --check-length).'
        : 'If it is not, write the length on the card and tell it with each photo (--check-length).'
    }`,
    'Cut along the corners and glue the card to something flat and stiff.',
    'Hold it beside the tower, flush with the face that is photographed: 1 mm in front of it or behind is half a percent of size seen from 200 mm. All four squares must be seen, in the same light.',
    ...(told === undefined
      ? [
          'Write on it which machine and axis it is; a pencil or pen is fine, but keep 3 mm of white around the squares.',
        ]
      : [
          'The code says what is listed below. A photo with the whole card in it needs none of that told beside it; print a new card for another print.',
        ]),
  ];
  const shapes: Shape[] = [];
  let y = top;
  for (const [i, step] of steps.entries()) {
    shapes.push(words(String(i + 1), [MARGIN_MM, y], STEP_MM, { bold: true }));
    for (const line of wrapText(step, widthMm - 7, STEP_MM)) {
      shapes.push(words(line, [MARGIN_MM + 7, y], STEP_MM));
      y += LINE_MM;
    }
    y += 1.6;
  }
  if (told === undefined) return shapes;
  y += 2;
  shapes.push(words('On this card', [MARGIN_MM, y], STEP_MM, { bold: true }));
  y += LINE_MM;
  // The dot stays at the end of its line.
  for (const line of wrapText(told.fields.join('\u00a0· '), widthMm, 2.9)) {
    shapes.push(words(line, [MARGIN_MM, y], 2.9));
    y += 4.3;
  }
  return shapes;
}

function rule(from: Place, to: Place): Shape {
  return { kind: 'line', points: [from, to], widthMm: FINE_MM, stroke: INK };
}

type TextShape = Extract<Shape, { readonly kind: 'text' }>;

function words(
  text: string,
  at: Place,
  sizeMm: Mm,
  style: Partial<Pick<TextShape, 'fill' | 'bold' | 'anchor'>> = {},
): TextShape {
  return { kind: 'text', text, at, sizeMm, fill: INK, ...style };
}

/** Shapes moved to a place of a page, and drawn larger or smaller about it. */
function placed(shapes: readonly Shape[], [x, y]: Place, factor: number): readonly Shape[] {
  const at = (place: Place): Place => [x + factor * place[0], y + factor * place[1]];
  return shapes.map((shape): Shape => {
    switch (shape.kind) {
      case 'area':
        return { ...shape, rings: shape.rings.map((ring) => ring.map(at)) };
      case 'line':
        return { ...shape, points: shape.points.map(at), widthMm: factor * shape.widthMm };
      case 'text':
        return { ...shape, at: at(shape.at), sizeMm: factor * shape.sizeMm };
    }
  });
}
