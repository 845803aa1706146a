import type { Reading } from '../reading/schema.js';
import { accelerationPart } from './charts/acceleration.js';
import { foundChart, type FoundData } from './charts/found.js';
import { heightViews, type HeightViewData } from './charts/heightViews.js';
import { HAIRLINE, INK, PAPER, SIZES, SOFT_INK } from './charts/ink.js';
import { label, type LabelStyle } from './charts/label.js';
import { LAMP_DESCRIPTION, lampPart, needsLamp } from './charts/lamp.js';
import { heightStrip, type Part, type ReadingWithFace } from './charts/strip.js';
import { textWidth, wrapText } from './charts/textWidth.js';
import { element, svgDocument } from './svg.js';
import { reportSections, verdictParts, type ReportSections } from './words.js';

/** What a picture needs beside the reading. */
export interface PictureData {
  /** The flattened face as a picture in a data URI, leading corner at the left; absent where none was found. */
  readonly faceDataUri?: string;
  /** The photo with the marks that show how it was read. */
  readonly found?: FoundData;
  /** Where the ripples are strongest. */
  readonly strongest?: HeightViewData;
  /** Next to the best height. */
  readonly best?: HeightViewData;
}

const WIDTH_PX = 1280;
const MARGIN_PX = 48;
const CONTENT_PX = WIDTH_PX - 2 * MARGIN_PX;
const COLUMN_GAP_PX = 48;
const COLUMN_PX = (CONTENT_PX - COLUMN_GAP_PX) / 2;
/** Width of the word in front of a section. */
const SECTION_WORD_PX = 84;

/**
 * Draws a reading: verdict, use, face with its charts at one vertical scale, profile and spectrum, then why,
 * numbers, assumptions and what next. A refusal has the same layout, with the reason where the number would be.
 * @param reading - The reading, fresh or stored.
 * @param picture - What is not in the reading; what is absent is left out.
 * @returns An SVG document 1280 px wide.
 * @throws {RangeError} When a number is not finite.
 */
export function drawPicture(reading: Reading, picture: PictureData): string {
  const sections = reportSections(reading);
  const withLamp = needsLamp(reading.proposal);
  const parts: string[] = [];
  let top = MARGIN_PX;
  const add = ({ svg, heightPx }: Part, spaceBelow: number) => {
    parts.push(svg);
    top += heightPx + spaceBelow;
  };
  add(verdict(sections, top), 30);
  const { faceDataUri } = picture;
  if (hasFace(reading) && faceDataUri !== undefined) {
    add(heightStrip(reading, faceDataUri, { left: MARGIN_PX, top, width: CONTENT_PX }), 30);
  }
  if (reading.proposal.state === 'proof') {
    add(accelerationPart(reading.proposal, { left: MARGIN_PX, top, width: CONTENT_PX }), 24);
  }
  const views = [
    ...(picture.strongest === undefined ? [] : [{ name: 'Strongest ripples', view: picture.strongest }]),
    ...(picture.best === undefined ? [] : [{ name: 'Best height', view: picture.best }]),
  ];
  if (views.length > 0) add(heightViews(views, { left: MARGIN_PX, top, width: CONTENT_PX }), 14);
  if (picture.found !== undefined) {
    add(foundChart(reading, picture.found, sections.photo, { left: MARGIN_PX, top, width: CONTENT_PX }), 26);
  } else if (withLamp) {
    add(lampPart({ left: MARGIN_PX, top }), 26);
  }
  add(words(sections, top, picture.found === undefined), 26);
  add(foot(reading, top), 28);
  const paper = element('rect', { x: 0, y: 0, width: WIDTH_PX, height: top, fill: PAPER });
  return svgDocument(WIDTH_PX, top, [paper, ...parts].join('\n'), {
    title: sections.verdict.replaceAll(/ {2,}/g, ', '),
    description: [
      sections.goodFor,
      ...sections.why,
      ...sections.next,
      ...(withLamp ? [LAMP_DESCRIPTION] : []),
    ].join('. '),
  });
}

function hasFace(reading: Reading): reading is ReadingWithFace {
  return reading.face !== undefined;
}

/** The first line of a report, large: axis and number (or reason), then the rest of it smaller. */
function verdict(sections: ReportSections, top: number): Part {
  const { axis, answer, rest } = verdictParts(sections);
  const said = `${axis}:  ${answer}`;
  // A number is said as large as can be; a reason is a sentence and takes more room.
  const sizePx = textWidth(said, SIZES.verdict, true) <= CONTENT_PX ? SIZES.verdict : SIZES.longVerdict;
  return stack(MARGIN_PX, top, [
    ...lines(said, CONTENT_PX, { sizePx, bold: true }, 1.25 * sizePx),
    ...lines(rest, CONTENT_PX, { sizePx: SIZES.lead }, 30),
    ...lines(sections.goodFor, CONTENT_PX, { sizePx: SIZES.lead, fill: SOFT_INK }, 28),
  ]);
}

/** Two columns, read one after the other: why and numbers, then assumptions, notes and what next. */
function words(sections: ReportSections, top: number, withPhoto: boolean): Part {
  const rule = element('rect', { x: MARGIN_PX, y: top, width: CONTENT_PX, height: 1, fill: HAIRLINE });
  const left = column(MARGIN_PX, top + 14, [
    ['Why', sections.why],
    ['Pen line', sections.penLine],
    ['Numbers', sections.numbers],
    ['Photo', withPhoto ? sections.photo : []],
  ]);
  const right = column(MARGIN_PX + COLUMN_PX + COLUMN_GAP_PX, top + 14, [
    ['Assumed', sections.assumed],
    ['Note', sections.warnings],
    ['Next', sections.next],
  ]);
  return { svg: rule + left.svg + right.svg, heightPx: 14 + Math.max(left.heightPx, right.heightPx) };
}

function column(
  left: number,
  top: number,
  sections: readonly (readonly [string, readonly string[]])[],
): Part {
  const textPx = COLUMN_PX - SECTION_WORD_PX;
  let y = top;
  const svg = sections
    .filter(([, entries]) => entries.length > 0)
    .map(([word, entries]) => {
      const text = stack(
        left + SECTION_WORD_PX,
        y,
        entries.flatMap((entry) => entryLines(entry, textPx)),
      );
      const head = label(word, left, y + 20, { sizePx: SIZES.body, bold: true });
      y += text.heightPx + 12;
      return head + text.svg;
    });
  return { svg: svg.join(''), heightPx: y - top };
}

/** One entry: its lines close together, a little room before the next. */
function entryLines(entry: string, widthPx: number): readonly Line[] {
  const wrapped = lines(entry, widthPx, { sizePx: SIZES.body }, 19);
  return wrapped.map((line, i) => (i === 0 ? { ...line, stepPx: 26, dropPx: 20 } : line));
}

function foot(reading: Reading, top: number): Part {
  const { printRecord, photos, versions } = reading;
  const said = [
    `stillband ${versions.stillband}`,
    printRecord.machine,
    printRecord.title,
    printRecord.printedOn && `printed ${printRecord.printedOn}`,
    printRecord.material,
    ...photos.map(({ sha256 }) => `photo ${sha256.slice(0, 12)}`),
  ];
  const rule = element('rect', { x: MARGIN_PX, y: top, width: CONTENT_PX, height: 1, fill: HAIRLINE });
  const text = said.filter((part) => part !== undefined).join('  ·  ');
  const block = stack(MARGIN_PX, top + 8, lines(text, CONTENT_PX, { fill: SOFT_INK }, 16));
  return { svg: rule + block.svg, heightPx: 8 + block.heightPx };
}

interface Line {
  readonly text: string;
  readonly style: LabelStyle;
  /** From the line before to this one's lower edge. */
  readonly stepPx: number;
  /** From the upper edge to the baseline. */
  readonly dropPx: number;
}

function lines(text: string, widthPx: number, style: LabelStyle, stepPx: number): readonly Line[] {
  const sizePx = style.sizePx ?? SIZES.label;
  return wrapText(text, widthPx, sizePx, style.bold).map((line) => ({
    text: line,
    style: { fill: INK, ...style },
    stepPx,
    dropPx: stepPx - 0.3 * sizePx,
  }));
}

function stack(left: number, top: number, stacked: readonly Line[]): Part {
  let y = top;
  const svg = stacked.map(({ text, style, stepPx, dropPx }) => {
    const drawn = label(text, left, y + dropPx, style);
    y += stepPx;
    return drawn;
  });
  return { svg: svg.join(''), heightPx: y - top };
}
