import PDFDocument from 'pdfkit';
import { InputError } from '../core/errors.js';
import { FONT_FILES } from '../core/fonts.js';
import { MM_PER_INCH, type Mm } from '../core/units.js';
import type { Drawing, Place, Shape } from './drawing.js';
import { FINE_SPACES } from './format.js';

/** PDF counts in points, 72 to the inch: ISO 32000-1, 8.3.2.3 (from memory). */
const POINTS_PER_MM = 72 / MM_PER_INCH;

/**
 * Pages as a PDF document of their true size, with the bundled font inside; its text can be searched. The same pages and
 * the same date give the same bytes. A viewer that heeds the document's wish prints it without scaling.
 * @param pages - At least one; the first gives the document its title.
 * @param createdAt - When it was made, as the document says.
 * @returns The document's bytes.
 * @throws {InputError} `usage` where the bundled font has no sign for a letter.
 */
export async function drawingPdf(pages: readonly Drawing[], createdAt: Date): Promise<Uint8Array> {
  const [first] = pages;
  const document = new PDFDocument({
    pdfVersion: '1.7',
    autoFirstPage: false,
    displayTitle: true,
    font: FONT_FILES.regular,
    lang: 'en',
    info: {
      CreationDate: createdAt,
      Producer: 'stillband',
      Creator: 'stillband',
      ...(first === undefined ? {} : { Title: first.title, Subject: first.description }),
    },
  });
  wishForTrueSize(document);
  document.registerFont('regular', FONT_FILES.regular).registerFont('bold', FONT_FILES.bold);
  const bytes = collected(document);
  for (const { widthMm, heightMm, shapes } of pages) {
    document.addPage({ size: [points(widthMm), points(heightMm)], margin: 0 });
    for (const shape of shapes) draw(document, shape);
  }
  document.end();
  return await bytes;
}

type Document = InstanceType<typeof PDFDocument>;

function points(mm: Mm): number {
  return POINTS_PER_MM * mm;
}

/** The package knows only one of the viewer's preferences: ISO 32000-1, table 150, `PrintScaling` (from memory). */
function wishForTrueSize(document: Document): void {
  const { _root: root } = document as unknown as {
    readonly _root: { readonly data: { readonly ViewerPreferences: { readonly data: object } } };
  };
  Object.assign(root.data.ViewerPreferences.data, { PrintScaling: 'None' });
}

function collected(document: Document): Promise<Uint8Array> {
  return new Promise((resolve, reject) => {
    const parts: Uint8Array[] = [];
    document.on('data', (part: Uint8Array) => parts.push(part));
    document.on('end', () => {
      resolve(Buffer.concat(parts));
    });
    document.on('error', reject);
  });
}

function draw(document: Document, shape: Shape): void {
  switch (shape.kind) {
    case 'area':
      for (const ring of shape.rings) path(document, ring).closePath();
      document.fillColor(shape.fill, shape.opacity ?? 1).fill('even-odd');
      return;
    case 'line':
      drawLine(document, shape);
      return;
    case 'picture':
      document.image(shape.dataUri, points(shape.at[0]), points(shape.at[1]), {
        width: points(shape.widthMm),
        height: points(shape.heightMm),
      });
      return;
    case 'window':
      document.save();
      document
        .rect(points(shape.at[0]), points(shape.at[1]), points(shape.widthMm), points(shape.heightMm))
        .clip();
      for (const inner of shape.shapes) draw(document, inner);
      document.restore();
      return;
    case 'text':
      drawText(document, shape);
  }
}

function drawLine(document: Document, line: Extract<Shape, { readonly kind: 'line' }>): void {
  const { widthMm, stroke, opacity = 1, dashesMm = [] } = line;
  document.lineWidth(points(widthMm)).strokeColor(stroke, opacity);
  if (dashesMm.length > 0)
    document.dash(points(dashesMm[0] ?? 0), { space: points(dashesMm[1] ?? dashesMm[0] ?? 0) });
  path(document, line.points).stroke();
  if (dashesMm.length > 0) document.undash();
}

function drawText(document: Document, shape: Extract<Shape, { readonly kind: 'text' }>): void {
  const { at, sizeMm, fill, bold = false, behind, anchor = 'start' } = shape;
  const text = shape.text.replaceAll(FINE_SPACES, ' ');
  document.font(bold ? 'bold' : 'regular', points(sizeMm));
  checkLetters(document, text);
  const width = document.widthOfString(text);
  const x = points(at[0]) - { start: 0, middle: 0.5, end: 1 }[anchor] * width;
  const y = points(at[1]);
  if (behind !== undefined) {
    const size = points(sizeMm);
    document
      .rect(x - 0.15 * size, y - 0.85 * size, width + 0.3 * size, 1.1 * size)
      .fillColor(behind, 0.75)
      .fill();
  }
  document.fillColor(fill, 1).text(text, x, y, { lineBreak: false, baseline: 'alphabetic' });
}

/** A letter that the font lacks would be printed as an empty box. The package keeps its font's table to itself. */
function checkLetters(document: Document, text: string): void {
  const { _font: face } = document as unknown as {
    readonly _font: { readonly font: { readonly hasGlyphForCodePoint: (code: number) => boolean } };
  };
  const missing = Array.from(text).find(
    (letter) => !face.font.hasGlyphForCodePoint(letter.codePointAt(0) ?? 0),
  );
  if (missing === undefined) return;
  throw new InputError(
    'usage',
    `The font that comes along has no sign for "${missing}", which stands in "${text}".`,
    'Call it otherwise, in Latin, Greek or Cyrillic letters, or write the card as SVG (--out card.svg) or the sheet as HTML (--sheet sheet.html), which are shown in the fonts of your machine.',
  );
}

function path(document: Document, ring: readonly Place[]): Document {
  ring.forEach(([x, y], i) => {
    if (i === 0) document.moveTo(points(x), points(y));
    else document.lineTo(points(x), points(y));
  });
  return document;
}
