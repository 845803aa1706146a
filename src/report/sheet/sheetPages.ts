import type { Mm } from '../../core/units.js';
import { HAIRLINE, INK, SOFT_INK } from '../charts/ink.js';
import { textWidth, wrapText } from '../charts/textWidth.js';
import type { Drawing, Place, Shape } from '../drawing.js';
import { PAPERS_MM, type Paper } from '../paper.js';
import { svgShapes } from '../svgShapes.js';
import { flow, type Block, type Column, type Piece } from './flow.js';
import {
  COLUMN_PX,
  WIDE_PX,
  type Sheet,
  type SheetFigure,
  type SheetSection,
  type SheetSide,
} from './sheet.js';

const MARGIN_MM = 11;
const GAP_MM = 5;
const COLUMNS = 3;
/** Below the columns: page number and what the sheet is. */
const FOOT_MM = 5;
/**
 * Size of the columns' text, the wide pictures' share of the page's width, and the width of a chart in a column at most: the
 * first with which all fits on one page, else the last, and more pages. 2.1 mm are 6 points.
 */
const LAYOUTS: readonly Layout[] = [
  ...[3, 2.85, 2.7, 2.55, 2.4, 2.25, 2.1].map((textMm) => ({ textMm, pictures: 1, chartMm: 62 })),
  { textMm: 2.1, pictures: 0.9, chartMm: 52 },
  { textMm: 2.1, pictures: 0.8, chartMm: 45 },
];

interface Layout {
  readonly textMm: Mm;
  readonly pictures: number;
  readonly chartMm: Mm;
}

const LINE = 1.28;
const VERDICT_MM = { most: 7, least: 4.6 } as const;
const MARK_WIDTH_MM = 48;
/** Of a page with two readings: their charts stand below each other, as wide as the page. */
const PAIR_PICTURE_SHARE = 0.88;

/**
 * Lays a sheet out on pages of true size: one page for a reading wherever all fits, front and back for two.
 * @param sheet - From `drawSheet` or `drawPairSheet`.
 * @param paper - The paper.
 * @returns The pages.
 * @throws {RangeError} When a chart cannot be shown on a page.
 */
export function sheetPages(sheet: Sheet, paper: Paper): readonly Drawing[] {
  const [first, second] = sheet.sides;
  const wanted = second === undefined ? 1 : 2;
  let pages: readonly (readonly Shape[])[] = [];
  for (const layout of LAYOUTS) {
    pages = second === undefined ? single(first, paper, layout) : pair([first, second], paper, layout);
    if (pages.length <= wanted) break;
  }
  const [widthMm, heightMm] = PAPERS_MM[paper];
  return pages.map((shapes, i) => ({
    widthMm,
    heightMm,
    title: sheet.title,
    description: sheet.description,
    shapes: [...shapes, ...foot(sheet.title, i, pages.length, [widthMm, heightMm])],
  }));
}

type Box = Column;

function bodyOf(paper: Paper): Box {
  const [widthMm, heightMm] = PAPERS_MM[paper];
  return {
    left: MARGIN_MM,
    top: MARGIN_MM,
    width: widthMm - 2 * MARGIN_MM,
    height: heightMm - 2 * MARGIN_MM - FOOT_MM,
  };
}

function single(side: SheetSide, paper: Paper, layout: Layout): readonly (readonly Shape[])[] {
  const sizeMm = layout.textMm;
  const body = bodyOf(paper);
  const pictureWidth = layout.pictures * body.width;
  const head = headBlock(side, body.width, false);
  const top = stacked(
    [head, ...side.pictures.map((picture) => widePiece(picture, pictureWidth, body.width, sizeMm))],
    [body.left, body.top],
  );
  const below = { ...body, top: body.top + top.heightMm, height: body.height - top.heightMm };
  const columns = (page: number) => splitColumns(page === 0 ? below : body, COLUMNS);
  const width = columns(0)[0]?.width ?? body.width;
  const pages = flow(piecesOf(side, width, layout), columns, true);
  return pages.map((shapes, i) => (i === 0 ? [...top.shapes, ...shapes] : shapes));
}

function pair(
  sides: readonly [SheetSide, SheetSide],
  paper: Paper,
  layout: Layout,
): readonly (readonly Shape[])[] {
  const sizeMm = layout.textMm;
  const body = bodyOf(paper);
  const halves = splitColumns(body, 2);
  const heads = sides.map((side, i) =>
    headBlock(side, halves[i]?.width ?? 0, true)([halves[i]?.left ?? 0, body.top]),
  );
  const headMm = Math.max(...heads.map(({ heightMm }) => heightMm));
  const pictureWidth = layout.pictures * PAIR_PICTURE_SHARE * body.width;
  const pictures = stacked(
    sides.flatMap((side) => [
      (at) => named(`Axis ${side.axis.replace(/^Axis /, '')}`, at, sizeMm),
      ...side.pictures.map((picture) => widePiece(picture, pictureWidth, body.width, sizeMm)),
    ]),
    [body.left, body.top + headMm],
  );
  const usedMm = headMm + pictures.heightMm;
  const flows = sides.map((side, i) => {
    const half = halves[i] ?? body;
    const columns = (page: number): readonly Box[] => [
      page === 0 ? { ...half, top: body.top + usedMm, height: body.height - usedMm } : half,
    ];
    return flow(piecesOf(side, half.width, layout), columns, false);
  });
  const count = Math.max(...flows.map((pages) => pages.length));
  return Array.from({ length: count }, (_, page) => [
    ...(page === 0 ? [...heads.flatMap(({ shapes }) => shapes), ...pictures.shapes] : []),
    ...flows.flatMap((pages) => pages[page] ?? []),
  ]);
}

function splitColumns(box: Box, count: number): readonly Box[] {
  const width = (box.width - (count - 1) * GAP_MM) / count;
  return Array.from({ length: count }, (_, i) => ({ ...box, left: box.left + i * (width + GAP_MM), width }));
}

function stacked(blocks: readonly Piece[], [left, top]: Place): Block {
  let y = top;
  const shapes = blocks.flatMap((block) => {
    const drawn = block([left, y]);
    y += drawn.heightMm;
    return drawn.shapes;
  });
  return { shapes, heightMm: y - top };
}

/** Verdict at the left, the mark of its axis at the right, or below where there is less room. */
function headBlock(side: SheetSide, width: Mm, below: boolean): Piece {
  return ([left, top]) => {
    const mmPerUnit = MARK_WIDTH_MM / side.mark.widthPx;
    const markMm = mmPerUnit * side.mark.heightPx;
    const room = below ? width : width - MARK_WIDTH_MM - GAP_MM;
    const said = `${side.axis}:  ${side.answer}`;
    const fits = (sizeMm: Mm) => textWidth(said, sizeMm, true) <= room;
    const verdictMm = fits(VERDICT_MM.most) ? VERDICT_MM.most : VERDICT_MM.least;
    const texts: readonly TextBlock[] = [
      { text: side.heading, sizeMm: 2.5, fill: SOFT_INK },
      { text: said, sizeMm: verdictMm, bold: true },
      { text: side.rest, sizeMm: 3.5 },
      { text: side.goodFor, sizeMm: 3, fill: SOFT_INK },
      { text: side.belongs, sizeMm: 3, bold: true },
    ];
    const words = textsBlock(texts, [left, top], room);
    const markAt: Place = below ? [left, top + words.heightMm + 2] : [left + width - MARK_WIDTH_MM, top];
    const heightMm = below ? words.heightMm + 2 + markMm : Math.max(words.heightMm, markMm);
    return {
      shapes: [...words.shapes, ...svgShapes(side.mark.svg, { at: markAt, mmPerUnit })],
      heightMm: heightMm + 2,
    };
  };
}

function figureBlock(
  { svg, widthPx, heightPx, caption }: SheetFigure,
  at: Place,
  widthMm: Mm,
  sizeMm: Mm,
  captionMm: Mm = widthMm,
): Block {
  const mmPerUnit = widthMm / widthPx;
  const chartMm = mmPerUnit * heightPx;
  const words = textsBlock(
    [{ text: caption, sizeMm: 0.92 * sizeMm, fill: SOFT_INK }],
    [at[0], at[1] + chartMm],
    captionMm,
  );
  return {
    shapes: [...svgShapes(svg, { at, mmPerUnit }), ...words.shapes],
    heightMm: chartMm + words.heightMm + 1.5,
  };
}

function widePiece(figure: SheetFigure, widthMm: Mm, captionMm: Mm, sizeMm: Mm): Piece {
  const shown = (widthMm * figure.widthPx) / WIDE_PX;
  return (at) => figureBlock(figure, at, shown, Math.min(sizeMm, MOST_CAPTION_MM), captionMm);
}

const MOST_CAPTION_MM = 2.55;

function named(name: string, at: Place, sizeMm: Mm): Block {
  return textsBlock([{ text: name, sizeMm: 1.2 * sizeMm, bold: true }], at, Infinity);
}

interface TextBlock {
  readonly text: string;
  readonly sizeMm: Mm;
  readonly bold?: boolean;
  readonly fill?: string;
}

function textsBlock(texts: readonly TextBlock[], [left, top]: Place, widthMm: Mm): Block {
  let y = top;
  const shapes = texts.flatMap(({ text, sizeMm, bold = false, fill = INK }) =>
    wrapText(text, widthMm, sizeMm, bold).map((line): Shape => {
      y += LINE * sizeMm;
      return { kind: 'text', text: line, at: [left, y - 0.28 * sizeMm], sizeMm, bold, fill };
    }),
  );
  return { shapes, heightMm: y - top };
}

/** What a column is filled with: pieces that are never parted, a section's name with its first. */
function piecesOf(side: SheetSide, widthMm: Mm, layout: Layout): readonly Piece[] {
  return side.sections.flatMap((section) => {
    const pieces = sectionPieces(section, widthMm, layout);
    const whole: Piece = (at) => stacked(pieces, at);
    return pieces.length > 0 && whole([0, 0]).heightMm <= UNPARTED_MM ? [whole] : pieces;
  });
}

/** A section no longer than this is not parted. */
const UNPARTED_MM = 34;

function sectionPieces(section: SheetSection, widthMm: Mm, layout: Layout): readonly Piece[] {
  const { textMm: sizeMm } = layout;
  const { name, lines = [], boxes = [], rows = [], figure } = section;
  const contents: Piece[] = [
    ...(figure === undefined ? [] : [figurePiece(figure, widthMm, layout)]),
    ...lines.map((line) => linePiece(line, widthMm, sizeMm)),
    ...boxes.map((line) => boxPiece(line, widthMm, sizeMm)),
    ...rows.map(([what, value]) => rowPiece(what, value, widthMm, sizeMm)),
  ];
  const [first, ...others] = contents;
  if (first === undefined) return [];
  const head: Piece = ([left, top]) => {
    const rule: Shape = {
      kind: 'line',
      points: [
        [left, top + 1.6],
        [left + widthMm, top + 1.6],
      ],
      widthMm: 0.15,
      stroke: HAIRLINE,
    };
    const block = textsBlock([{ text: name, sizeMm: 1.12 * sizeMm, bold: true }], [left, top + 2], widthMm);
    const content = first([left, top + 2 + block.heightMm + 0.4]);
    return {
      shapes: [rule, ...block.shapes, ...content.shapes],
      heightMm: 2.4 + block.heightMm + content.heightMm,
    };
  };
  return [head, ...others];
}

function figurePiece(figure: SheetFigure, widthMm: Mm, { textMm, chartMm }: Layout): Piece {
  // A tall photo is narrower than its column; nothing is drawn larger than the other charts of a column.
  const shown = Math.min(widthMm, (chartMm * figure.widthPx) / COLUMN_PX);
  return (at) => figureBlock(figure, at, shown, textMm, widthMm);
}

function linePiece(line: string, widthMm: Mm, sizeMm: Mm): Piece {
  const indent = 0.9 * sizeMm;
  return ([left, top]) => {
    const block = textsBlock([{ text: line, sizeMm }], [left + indent, top], widthMm - indent);
    const [x, y, side] = [left + 0.2 * sizeMm, top + 0.62 * sizeMm, 0.22 * sizeMm];
    const ring: readonly Place[] = [
      [x, y],
      [x + side, y],
      [x + side, y + side],
      [x, y + side],
    ];
    const dot: Shape = { kind: 'area', rings: [ring], fill: INK };
    return { shapes: [dot, ...block.shapes], heightMm: block.heightMm + 0.4 };
  };
}

/** A line with a box to tick. */
function boxPiece(line: string, widthMm: Mm, sizeMm: Mm): Piece {
  const indent = 1.6 * sizeMm;
  return ([left, top]) => {
    const block = textsBlock([{ text: line, sizeMm }], [left + indent, top], widthMm - indent);
    const [x, y, side] = [left + 0.15 * sizeMm, top + 0.22 * sizeMm, sizeMm];
    const corners: readonly Place[] = [
      [x, y],
      [x + side, y],
      [x + side, y + side],
      [x, y + side],
      [x, y],
    ];
    const box: Shape = { kind: 'line', points: corners, widthMm: 0.2, stroke: INK };
    return { shapes: [box, ...block.shapes], heightMm: block.heightMm + 1.2 };
  };
}

/** Share of a column's width for what a value is. */
const WHAT_SHARE = 0.31;

function rowPiece(what: string, value: string, widthMm: Mm, sizeMm: Mm): Piece {
  const whatMm = WHAT_SHARE * widthMm;
  return ([left, top]) => {
    const name = textsBlock([{ text: what, sizeMm, fill: SOFT_INK }], [left, top], whatMm - 1);
    const told = textsBlock([{ text: value, sizeMm }], [left + whatMm, top], widthMm - whatMm);
    return {
      shapes: [...name.shapes, ...told.shapes],
      heightMm: Math.max(name.heightMm, told.heightMm) + 0.3,
    };
  };
}

function foot(title: string, page: number, count: number, [widthMm, heightMm]: Place): readonly Shape[] {
  const y = heightMm - MARGIN_MM + 2;
  const style = { kind: 'text', sizeMm: 2.1, fill: SOFT_INK } as const;
  return [
    { ...style, text: `stillband  ·  ${title.replaceAll(/ {2,}/g, ' ')}`, at: [MARGIN_MM, y] },
    {
      ...style,
      text: count === 1 ? 'one page' : `page ${String(page + 1)} of ${String(count)}`,
      at: [widthMm - MARGIN_MM, y],
      anchor: 'end',
    },
  ];
}
