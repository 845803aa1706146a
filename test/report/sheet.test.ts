import { HtmlValidate } from 'html-validate';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { jointReadingSchema } from '../../src/reading/jointSchema.js';
import type { Reading } from '../../src/reading/schema.js';
import { textWidth } from '../../src/report/charts/textWidth.js';
import type { Drawing, Shape } from '../../src/report/drawing.js';
import { drawingPdf } from '../../src/report/drawingPdf.js';
import { drawingSvg } from '../../src/report/drawingSvg.js';
import { renderPng } from '../../src/imaging/encode.js';
import { PAPERS, type Paper } from '../../src/report/paper.js';
import { drawPairSheet, drawSheet, type SheetSubject } from '../../src/report/sheet/drawSheet.js';
import type { Sheet } from '../../src/report/sheet/sheet.js';
import { sheetHtml } from '../../src/report/sheet/sheetHtml.js';
import { sheetPages } from '../../src/report/sheet/sheetPages.js';
import { pdfPages } from '../helpers/pdfPages.js';
import {
  bareRefusal,
  jointReading,
  movedReading,
  pictureData,
  proofReading,
  proposedReading,
  quietProofReading,
  refusedReading,
  spacingOnlyReading,
  TINY_FACE_URI,
  unseenPicture,
  unseenReading,
} from './fixtures.js';
import { expectGoldenText } from './golden.js';

const PICTURES: NonNullable<SheetSubject['pictures']> = {
  faceDataUri: TINY_FACE_URI,
  found: pictureData().found!,
  heat: { dataUri: TINY_FACE_URI, widthMm: 84, limit: 0.021 },
};
const UNSEEN = { found: unseenPicture().found! };
const LOGBOOK = { entry: '2026-03-14-0007', head: '9f'.repeat(32) };

function litFromFront(): Reading {
  const advice = 'Take a new photo with the lamp to the side, level with the tower.';
  return { ...refusedReading(), proposal: { state: 'refused', reason: 'light-from-front', advice } };
}

function mirrored(): Reading {
  const reading = proposedReading();
  return { ...reading, face: { ...reading.face!, mirrored: true } };
}

function withAxis(reading: Reading, axis: string): Reading {
  const { proposal, printRecord } = reading;
  return {
    ...reading,
    printRecord: { ...printRecord, axis },
    proposal: proposal.state === 'refused' ? proposal : { ...proposal, axis },
  };
}

const SUBJECTS: Readonly<Record<string, SheetSubject>> = {
  proposed: { reading: proposedReading(), pictures: PICTURES, photoNames: ['tower.jpg'], logbook: LOGBOOK },
  refused: { reading: refusedReading(), pictures: PICTURES },
  'refused-for-its-light': { reading: litFromFront(), pictures: PICTURES },
  'at-the-door': { reading: bareRefusal(), pictures: { faceDataUri: TINY_FACE_URI } },
  'no-face': { reading: unseenReading(), pictures: UNSEEN },
  'spacing-only': { reading: spacingOnlyReading(), pictures: PICTURES },
  moved: { reading: movedReading(), pictures: PICTURES },
  proof: { reading: proofReading(), pictures: PICTURES },
  'proof-quiet': { reading: quietProofReading(), pictures: PICTURES },
  joint: {
    reading: jointReading(),
    pictures: PICTURES,
    photoNames: ['left.jpg', 'right.jpg', 'other.jpg', 'dim.jpg'],
  },
  mirrored: { reading: mirrored(), pictures: PICTURES },
  stored: { reading: proposedReading() },
  'own-axis-name': { reading: withAxis(proposedReading(), 'bed <A> & "B"'), pictures: PICTURES },
};
const PAIR = drawPairSheet(
  { reading: withAxis(refusedReading(), 'Y'), pictures: PICTURES },
  { reading: withAxis(proposedReading(), 'X'), pictures: PICTURES, logbook: LOGBOOK },
);
const SHEETS: readonly (readonly [string, Sheet])[] = [
  ...Object.entries(SUBJECTS).map(([name, subject]) => [name, drawSheet(subject)] as const),
  ['pair', PAIR],
];

const validator = new HtmlValidate({ extends: ['html-validate:recommended'] });

/** What a reader of the document meets, without styles, drawings and picture data. */
function skeleton(html: string): string {
  return html
    .replace(/<style>[\s\S]*?<\/style>/, '<style></style>')
    .replaceAll(/(<svg [^>]*>)[\s\S]*?<\/svg>(?=<\/(?:figure|div)>|<figcaption>)/g, '$1</svg>')
    .replaceAll(/(?=<(?:section|h\d|li|tr|figure|figcaption|ul|table))/g, '\n')
    .replaceAll(/\n+/g, '\n');
}

describe.each(SHEETS)('sheet as HTML: %s', (_, sheet) => {
  const html = sheetHtml(sheet);

  test('is valid', async () => {
    const { results } = await validator.validateString(html);
    expect(
      results.flatMap(({ messages }) => messages.map(({ ruleId, message }) => [ruleId, message])),
    ).toEqual([]);
  });

  test('needs nothing else: no script, no reference to another file', () => {
    expect(html).not.toMatch(/<(script|link|iframe|object|embed|base|form|img|use)\b/i);
    expect(html).not.toMatch(/url\(|@import|javascript:|\son\w+=/i);
    const addresses = [...html.matchAll(/(?:href|src|srcset|data|action)="([^"]*)"/g)].map(([, to]) => to!);
    for (const address of addresses) expect(address).toMatch(/^data:image\/(png|jpeg);base64,/);
    expect(html.replaceAll('http://www.w3.org/2000/svg', '')).not.toMatch(/https?:/);
    expect(html).toContain(`default-src 'none'`);
  });

  test('says no NaN, and every drawing has its words', () => {
    expect(html).not.toMatch(/NaN|undefined|Infinity|\[object/);
    const drawings = [...html.matchAll(/<svg xmlns[^>]*>/g)];
    expect(drawings.length).toBeGreaterThan(0);
    for (const [drawing] of drawings) expect(drawing).toMatch(/role="img" aria-label="[^"]{20,}"/);
  });

  test('is read in the order of the terminal: verdict, use, picture, why, numbers, budget, record, next', () => {
    const parts = [...html.matchAll(/<h[23]>([^<]*)<\/h[23]>/g)].map(([, part]) => part!);
    const order = [
      ...['Why', 'Pen line', 'Numbers'],
      'Uncertainty',
      ...['Photo', 'Photos', 'Told of the print', 'Told of the print (first photo used)'],
      ...['Assumed', 'Notes', 'Next', 'What this cannot show', 'Where it comes from'],
    ];
    const once = order.filter((part) => parts.includes(part));
    expect(parts).toEqual(sheet.sides.length === 1 ? once : expect.arrayContaining(once));
    for (const part of ['Next', 'Assumed', 'What this cannot show', 'Where it comes from']) {
      expect(parts).toContain(part);
    }
    expect(html.indexOf('class="axis"')).toBeLessThan(html.indexOf('class="mark"'));
  });
});

/** The others differ from these in words that the goldens of reports hold. */
const GOLDEN = ['proposed', 'refused-for-its-light', 'proof', 'joint', 'pair'];

test.each(SHEETS.filter(([name]) => GOLDEN.includes(name)))(
  'the HTML of %s is as it was looked at',
  (name, sheet) => {
    expectGoldenText(`sheet-${name}`, skeleton(sheetHtml(sheet)));
  },
);

function texts(shapes: readonly Shape[]): readonly Extract<Shape, { readonly kind: 'text' }>[] {
  return shapes.flatMap((shape) => (shape.kind === 'window' ? [] : shape.kind === 'text' ? [shape] : []));
}

interface Box {
  readonly text: string;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

function boxes({ shapes }: Drawing): readonly Box[] {
  return texts(shapes).map(({ text, at: [x, y], sizeMm, bold, anchor = 'start' }) => {
    // The estimate is up to 12 % above the ink; here it may not be.
    const width = textWidth(text, sizeMm, bold) / 1.06;
    const left = x - { start: 0, middle: width / 2, end: width }[anchor];
    return { text, left, right: left + width, top: y - 0.74 * sizeMm, bottom: y + 0.1 * sizeMm };
  });
}

const ON_PAPER = SHEETS.flatMap(([name, sheet]) => PAPERS.map((paper) => [name, paper, sheet] as const));

describe.each(ON_PAPER)('sheet on paper: %s on %s', (name, paper, sheet) => {
  const pages = sheetPages(sheet, paper);

  test('has one page for a reading, front and back for two', () => {
    expect(pages.length).toBe(name === 'pair' ? 2 : 1);
  });

  test('every text is on the page, and none covers another', () => {
    for (const page of pages) {
      const all = boxes(page);
      expect(all.length).toBeGreaterThan(20);
      for (const { text, left, right, top, bottom } of all) {
        expect(left, text).toBeGreaterThan(9);
        expect(right, text).toBeLessThan(page.widthMm - 9);
        expect(top, text).toBeGreaterThan(9);
        expect(bottom, text).toBeLessThan(page.heightMm - 8);
      }
      const covering = all.flatMap((a, i) =>
        all
          .slice(i + 1)
          .filter((b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)
          .map((b) => `${a.text} | ${b.text}`),
      );
      expect(covering).toEqual([]);
    }
  });

  test('no text is too small to read: 4.5 points or more', () => {
    const sizes = pages.flatMap(({ shapes }) => texts(shapes).map(({ sizeMm }) => (sizeMm * 72) / 25.4));
    expect(Math.min(...sizes)).toBeGreaterThanOrEqual(4.5);
  });
});

test('on a small screen a chart that goes on says so, and names are not broken within a word', () => {
  const html = sheetHtml(PAIR);
  expect(html).toContain('move the picture sideways');
  expect(html).toMatch(/th\{width:32%[^}]*overflow-wrap:break-word/);
});

// Source: PDFium opens it, measures its pages and finds its text. ISO 216 and ANSI/ASME Y14.1 (from memory) for their sizes.
describe('sheet as PDF', () => {
  const SIZES_MM: Readonly<Record<Paper, readonly [number, number]>> = {
    a4: [210, 297],
    letter: [215.9, 279.4],
  };

  test.each(PAPERS)('is a page of %s whose words can be searched', async (paper) => {
    const pdf = await drawingPdf(sheetPages(drawSheet(SUBJECTS['proposed']!), paper), new Date(0));
    const [page, ...others] = await pdfPages(pdf);
    expect(others).toEqual([]);
    // A PDF's sizes are told in hundredths of a point.
    expect(page!.widthMm).toBeCloseTo(SIZES_MM[paper][0], 1);
    expect(page!.heightMm).toBeCloseTo(SIZES_MM[paper][1], 1);
    expect(page!.tones).toBeGreaterThan(20);
    for (const words of [
      'Axis Y: 41.0 Hz ± 0.5',
      'good enough for ZV (needs ± 1.3 Hz)',
      'This value belongs to axis Y',
      'best height 31.1 mm ± 0.4',
      'scatter between rows',
      'Heat map',
      'pen line 32.6 mm',
      'tower.jpg',
      '2026-03-14-0007',
    ]) {
      expect(page!.text).toContain(words);
    }
    expect(page!.text.replaceAll(' ', '')).toContain('5f'.repeat(32));
    expect(page!.text.replaceAll(' ', '')).toContain('9f'.repeat(32));
  });

  test('all words of the sheet are in it', async () => {
    for (const [name, sheet] of SHEETS) {
      const pages = await pdfPages(await drawingPdf(sheetPages(sheet, 'a4'), new Date(0)));
      const found = pages.map(({ text }) => text.replaceAll(/[\s·-]+/g, '')).join('');
      for (const { sections, goodFor } of sheet.sides) {
        const said = [
          goodFor,
          ...sections.flatMap(({ name: part, lines = [], rows = [] }) =>
            lines.length + rows.length > 0 ? [part, ...lines, ...rows.flat()] : [],
          ),
        ];
        for (const words of said) expect(found, name).toContain(words.replaceAll(/[\s·\u2009\u00a0-]+/g, ''));
      }
    }
  });

  test('the same sheet and date give the same bytes', async () => {
    const pages = sheetPages(drawSheet(SUBJECTS['proof']!), 'a4');
    const [a, b] = [await drawingPdf(pages, new Date(7)), await drawingPdf(pages, new Date(7))];
    expect(Buffer.compare(a, b)).toBe(0);
  });

  test('the page drawn as SVG has the same size and pictures', async () => {
    const [page] = sheetPages(drawSheet(SUBJECTS['proposed']!), 'a4');
    const svg = drawingSvg(page!);
    expect(svg.match(/<image /g)).toHaveLength(3);
    // CSS Values and Units 3, 5.2 (from memory): 96 px to the inch.
    const { width, height } = await sharp(await renderPng(svg)).metadata();
    expect([width, height]).toEqual([794, 1123]);
  });
});

describe('what a sheet says', () => {
  test('the joint reading is one', () => {
    expect(jointReadingSchema.safeParse(jointReading()).success).toBe(true);
  });

  test.each([
    ['proposed', '41.0 Hz'],
    ['refused', 'no value'],
    ['proof', 'proof'],
    ['spacing-only', '40.95 Hz'],
  ])('%s: the axis is said in words, by a mark and by its place', (name, value) => {
    const { sides } = drawSheet(SUBJECTS[name]!);
    const [{ belongs, axis, mark }] = sides;
    expect(axis).toBe('Axis Y');
    expect(belongs).toMatch(/axis Y, the one perpendicular to the photographed face/);
    const places = [...mark.svg.matchAll(/<text x="([\d.]+)"[^>]*>([^<]*)<\/text>/g)].map(
      ([, x, text]) => [text!.replaceAll('\u2009', ' '), Number(x)] as const,
    );
    const at = (text: string) => places.find(([other]) => other === text)?.[1];
    expect(at(value)).toBe(at('axis Y'));
    expect(at('X')).toBeLessThan(at('axis Y')!);
    expect(at('not this one')).toBe(at('X'));
  });

  test('X and Y never look alike: the arrow lies along the axis', () => {
    const marks = ['X', 'Y'].map(
      (axis) => drawSheet({ reading: withAxis(proposedReading(), axis) }).sides[0].mark.svg,
    );
    const arrows = marks.map((svg) =>
      /d="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" stroke="#8c2f5f"/.exec(svg)!.slice(1).map(Number),
    );
    const [x, y] = arrows.map(([x1, y1, x2, y2]) => [Math.abs(x2! - x1!), Math.abs(y2! - y1!)]);
    expect(x![0]).toBeGreaterThan(10 * x![1]! + 10);
    expect(y![1]).toBeGreaterThan(10 * y![0]! + 10);
  });

  test('a pair has X at the left whatever comes first, and no axis twice', () => {
    expect(PAIR.sides.map(({ axis }) => axis)).toEqual(['Axis X', 'Axis Y']);
    const reading = proposedReading();
    expect(() => drawPairSheet({ reading }, { reading })).toThrow(/Y twice/);
  });

  test('a logbook is told with its head, and with what it cannot show; without one that is said', () => {
    const [kept, loose] = ['proposed', 'refused'].map((name) =>
      JSON.stringify(drawSheet(SUBJECTS[name]!).sides),
    );
    expect(kept).toContain(LOGBOOK.head);
    expect(kept).toMatch(/what came later it does not cover/);
    expect(loose).toMatch(/not in one: nothing here shows whether photo, record or sheet was changed/);
  });

  test('what was told and what was assumed stand apart', () => {
    const { sections } = drawSheet(SUBJECTS['proposed']!).sides[0];
    const rows = sections.find(({ name }) => name === 'Told of the print')!.rows!;
    expect(rows.map(([what]) => what)).not.toContain('acceleration');
    expect(rows).toContainEqual(['speed', '110\u2009mm/s']);
    expect(sections.find(({ name }) => name === 'Assumed')!.lines).toHaveLength(2);
    const nothing = drawSheet(SUBJECTS['at-the-door']!).sides[0].sections;
    expect(nothing.find(({ name }) => name === 'Assumed')!.lines).toEqual([
      'nothing: all that the result depends on was told',
    ]);
  });

  test('of several photos every hash is told, and which photo is shown', () => {
    const reading = jointReading();
    const html = sheetHtml(drawSheet(SUBJECTS['joint']!));
    expect(html.match(/<th scope="row">SHA-256<\/th>/g)).toHaveLength(reading.photos.length);
    expect(html).toContain('Shown is the first photo that was used');
    expect(html).toContain('2 of 4 fitted together');
  });
});
