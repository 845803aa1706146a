import { createRequire } from 'node:module';
import { PDFiumLibrary } from '@hyzyla/pdfium';
import ndarray from 'ndarray';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { MARKER_CELLS } from '../../src/core/markerCard.js';
import { cardPdf, cardSvg, makeCard, type CardOptions } from '../../src/drawCard.js';
import { findMarkerCard } from '../../src/face/findMarkerCard.js';
import { renderPng } from '../../src/imaging/encode.js';
import { linearLut } from '../../src/imaging/tone.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { CARD_SIZES, codeCellMm } from '../../src/report/markerCard.js';
import { expectClose } from '../helpers/closeTo.js';
import { pageSizeMm, renderPdf, type GreyPage } from '../helpers/renderedCard.js';
import { syncInputErrorOf } from '../helpers/thrown.js';
import { DEMO_RECORD } from '../print/exampleRecords.js';
import { expectGolden } from './golden.js';

const record = checkPrintRecord(DEMO_RECORD);
const DPI = 300;
const PX_PER_MM = DPI / 25.4;
const rendered = async (options: CardOptions) =>
  renderPdf(await cardPdf(makeCard(options), new Date(0)), DPI);

interface Aruco {
  readonly AR: {
    readonly DICTIONARIES: Readonly<Record<string, { readonly codeList: readonly (readonly number[])[] }>>;
    readonly Detector: new (config: { dictionaryName: string }) => {
      detectImage(
        width: number,
        height: number,
        data: Uint8Array,
      ): { id: number; corners: readonly { x: number; y: number }[] }[];
    };
  };
}
function aruco(): Aruco['AR'] {
  const require = createRequire(import.meta.url);
  const { AR } = require('js-aruco2') as Aruco;
  require('js-aruco2/src/dictionaries/aruco_4x4_1000.js');
  return AR;
}

describe('the squares', () => {
  // Source: js-aruco2's copy of OpenCV's dictionaries; DICT_4X4_50 is the first 50 of DICT_4X4_1000.
  test("are the dictionary's first four", () => {
    const { codeList } = aruco().DICTIONARIES['ARUCO_4X4_1000']!;
    const bits = codeList
      .slice(0, 4)
      .map((bytes) => bytes.map((byte) => byte.toString(2).padStart(8, '0')).join(''));
    expect(MARKER_CELLS.map((rows) => rows.join(''))).toEqual(bits);
  });

  // Source: DESIGN §3: squares of 18 mm, centres 70 × 35 mm, ids clockwise from top left.
  test.each([
    ['a4', {}, [210, 297], [70, 59]],
    ['letter', { size: 'letter', record }, [215.9, 279.4], [72.95, 59]],
    ['card', { size: 'card', machine: 'north bench 3' }, [100, 86], [15, 15]],
  ] as const)(
    'stand on %s of PDF where they belong, and the page has its size',
    async (_, options, sizeMm, firstMm) => {
      const pdf = await cardPdf(makeCard(options), new Date(0));
      expectClose(pageSizeMm(pdf), sizeMm, { abs: 0.005, why: 'hundredths of a point' });
      const page = await renderPdf(pdf, DPI);
      const card = findMarkerCard(ndarray(page.grey, [page.heightPx, page.widthPx]), linearLut(8))!;
      expect(card.points).toHaveLength(16);
      expectClose(
        card.points.flatMap(({ px }) => px.map((value) => value / PX_PER_MM)),
        card.points.flatMap(({ mm }) => mm.map((value, axis) => value + firstMm[axis]!)),
        { abs: 0.04, why: 'the page is rendered at whole px, half a px off' },
      );
    },
  );

  // Source: js-aruco2 by itself, on the rendered page; its corners are whole px of a picture of 100 dpi.
  test('are seen by another finder, code or not', async () => {
    for (const options of [{ record }, {}]) {
      const page = await renderPdf(await cardPdf(makeCard(options), new Date(0)), 100);
      const rgba = new Uint8Array(4 * page.grey.length);
      page.grey.forEach((value, i) => {
        rgba.set([value, value, value, 255], 4 * i);
      });
      const Detector = aruco().Detector;
      const found = new Detector({ dictionaryName: 'ARUCO_4X4_1000' }).detectImage(
        page.widthPx,
        page.heightPx,
        rgba,
      );
      // DICT_4X4_50 ends at id 49; the code may look like others.
      const ids = [...new Set(found.map(({ id }) => id).filter((id) => id < 50))].sort((a, b) => a - b);
      expect(ids).toEqual([0, 1, 2, 3]);
      const centre = (id: number): readonly number[] => {
        const { corners } = found.find((one) => one.id === id)!;
        return [
          corners.reduce((sum, { x }) => sum + x / 4, 0),
          corners.reduce((sum, { y }) => sum + y / 4, 0),
        ];
      };
      const apart = (a: number, b: number) =>
        (Math.hypot(centre(a)[0]! - centre(b)[0]!, centre(a)[1]! - centre(b)[1]!) * 25.4) / 100;
      expectClose([apart(0, 1), apart(3, 2), apart(0, 3), apart(1, 2)], [70, 70, 35, 35], {
        abs: 0.3,
        why: 'whole px of 0.25 mm',
      });
    }
  });
});

describe('the page', () => {
  test('SVG and PDF show the same, at the same size', async () => {
    const card = makeCard({ record, size: 'letter' });
    const pdf = await renderPdf(await cardPdf(card, new Date(0)), 100);
    const svg = cardSvg(card);
    expect(svg).toMatch(/width="215.9mm" height="279.4mm" viewBox="0 0 2159 2794"/);
    const { data, info } = await sharp(await renderPng(svg, pdf.widthPx))
      .flatten({ background: 'white' })
      .greyscale()
      .raw()
      .toBuffer({ resolveWithObject: true });
    expectClose([info.width, info.height], [pdf.widthPx, pdf.heightPx], { abs: 1, why: 'whole px' });
    // Two renderers smooth edges differently; a thing that is missing or moved by 0.3 mm differs in whole areas.
    const blurred = async (grey: Uint8Array, width: number, height: number) =>
      sharp(grey, { raw: { width, height, channels: 1 } })
        .blur(2)
        .raw()
        .toBuffer();
    const a = await blurred(pdf.grey, pdf.widthPx, pdf.heightPx);
    const b = await blurred(new Uint8Array(data), info.width, info.height);
    let worst = 0;
    for (let row = 0; row < Math.min(pdf.heightPx, info.height); row += 1) {
      for (let column = 0; column < pdf.widthPx; column += 1) {
        const difference = Math.abs(a[row * pdf.widthPx + column]! - b[row * info.width + column]!);
        worst = Math.max(worst, difference);
      }
    }
    expect(worst).toBeLessThan(64);
  });

  test("the PDF's text can be searched, and the same card of the same day is the same file", async () => {
    const card = makeCard({ record });
    const pdf = await cardPdf(card, new Date(0));
    expect(Buffer.compare(pdf, await cardPdf(card, new Date(0)))).toBe(0);
    const library = await PDFiumLibrary.init();
    const document = await library.loadDocument(pdf);
    const text = document.getPage(0).getText();
    expect(document.getPageCount()).toBe(1);
    for (const words of [
      'Marker card',
      'north bench 3',
      'in the plane of the face',
      'layer height 0.2 mm',
      'calipers',
    ]) {
      expect(text).toContain(words);
    }
    document.destroy();
    library.destroy();
    // Source: ISO 32000-1, table 150 (from memory): a print dialog then starts without scaling.
    expect(Buffer.from(pdf).toString('latin1')).toMatch(/\/PrintScaling \/None/);
  });

  test('as it was looked at', () => {
    expectGolden('marker-card', cardSvg(makeCard({ size: 'card', checkLengthMm: 90 })));
  });

  test('names with markup, emoji and no end stay within it', async () => {
    const machine = `<b>&"${'W'.repeat(80)}☃`;
    const card = makeCard({ machine });
    expect(cardSvg(card)).toContain('&lt;b&gt;&amp;&quot;WW');
    const { grey, widthPx, heightPx } = await renderPdf(await cardPdf(card, new Date(0)), 60);
    const margin = Math.round((10 / 25.4) * 60);
    const isWhite = (column: number) =>
      Array.from({ length: heightPx }, (_, row) => grey[row * widthPx + column]!).every(
        (value) => value > 200,
      );
    for (let column = 0; column < margin; column += 1) {
      expect([column, isWhite(column), isWhite(widthPx - 1 - column)]).toEqual([column, true, true]);
    }
  });

  // Source: ISO/IEC 18004, 6.3.8 (from memory): four white cells around a code; the squares end at 9 and 61 mm.
  test.each([21, 25, 41, 45, 53, 77, 97])('a code of %d cells keeps its white border', (cells) => {
    const cellMm = codeCellMm(cells);
    expect((52 - cellMm * cells) / 2).toBeGreaterThanOrEqual(4 * cellMm - 1e-9);
    expect(cellMm).toBeGreaterThan(0.45);
  });
});

describe('a check length that was measured', () => {
  // Source: DESIGN §3 for the squares; a printer that makes 87.3 mm of 90 mm prints this card at true size.
  test.each(CARD_SIZES)('draws the card larger by as much: %s', async (size) => {
    const page = await rendered({ size, checkLengthMm: 87.3 });
    const card = findMarkerCard(ndarray(page.grey, [page.heightPx, page.widthPx]), linearLut(8))!;
    const at = (i: number) => card.points[i]!.px;
    const printed = (i: number, j: number) =>
      ((87.3 / 90) * Math.hypot(at(i)[0] - at(j)[0], at(i)[1] - at(j)[1])) / PX_PER_MM;
    expectClose([printed(0, 5), printed(0, 15)], [88, 53], {
      abs: 0.06,
      why: 'edges are rendered to a third of a px',
    });
  });

  // A fifth off the 90 mm that it is drawn as, and beyond.
  test.each([71.9, 108.1, 3.54, Number.NaN])('one of %d mm is none', (checkLengthMm) => {
    expect(syncInputErrorOf(() => makeCard({ checkLengthMm })).code).toBe('usage');
  });

  test('its marks are 90 mm apart on the page', async () => {
    const page: GreyPage = await rendered({ size: 'card' });
    // On the card alone its left edge is at -15 mm, its upper edge too; the marks' upper parts stand free.
    const row = Math.round((53 - 2 + 15) * PX_PER_MM);
    const dark = Array.from(
      { length: page.widthPx },
      (_, column) => 255 - page.grey[row * page.widthPx + column]!,
    );
    const middleOf = (from: number, to: number) => {
      let [mass, moment] = [0, 0];
      for (let column = from; column < to; column += 1) {
        mass += dark[column]!;
        moment += dark[column]! * (column + 0.5);
      }
      return moment / mass;
    };
    const half = page.widthPx / 2;
    const apart =
      (middleOf(Math.round(half + 200), page.widthPx) - middleOf(0, Math.round(half - 200))) / PX_PER_MM;
    expectClose(apart, 90, { abs: 0.02, why: 'a quarter of a px' });
  });
});
