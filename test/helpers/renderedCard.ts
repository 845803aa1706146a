import { PDFiumLibrary } from '@hyzyla/pdfium';
import { makeCard, type CardOptions } from '../../src/drawCard.js';
import { drawingPdf } from '../../src/report/drawingPdf.js';
import type { CardPrint } from '../synth/scene/printedCard.js';

/** A page as grey codes. */
export interface GreyPage {
  readonly grey: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

/**
 * Size of a PDF's only page: its media box, in points of 1/72 inch (ISO 32000-1, 7.7.3.3 and 8.3.2.3; from memory).
 * @param pdf - The document.
 * @returns Width and height, mm.
 */
export function pageSizeMm(pdf: Uint8Array): readonly [number, number] {
  const boxes = [
    ...Buffer.from(pdf)
      .toString('latin1')
      .matchAll(/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/g),
  ];
  if (boxes.length !== 1) throw new Error(`Expected one media box but received ${boxes.length}.`);
  const [width, height] = boxes[0]!.slice(1).map((points) => (Number(points) * 25.4) / 72);
  return [width!, height!];
}

/**
 * Renders the first page of a PDF by PDFium, which knows nothing of us.
 * @param pdf - The document.
 * @param dotsPerInch - Resolution.
 */
export async function renderPdf(pdf: Uint8Array, dotsPerInch: number): Promise<GreyPage> {
  // The package cuts a page's size to whole points, so that the size in px is told.
  const [widthPx, heightPx] = pageSizeMm(pdf).map((mm) => Math.round((mm * dotsPerInch) / 25.4));
  const library = await PDFiumLibrary.init();
  const document = await library.loadDocument(pdf);
  try {
    const { data, width, height } = await document
      .getPage(0)
      .render({ width: widthPx!, height: heightPx!, render: 'bitmap' });
    const grey = Uint8Array.from({ length: width * height }, (_, i) => data[4 * i + 1]!);
    return { grey, widthPx: width, heightPx: height };
  } finally {
    document.destroy();
    library.destroy();
  }
}

/** The card on an A4 page (DESIGN §3 for the squares): its left and top edge, and the first square's centre on it. */
const CARD_ON_PAGE = { left: 55, top: 44, width: 100, height: 86, centre: [15, 15] } as const;
const DOTS_PER_INCH = 300;
const PAGE_MM_PER_PX = 25.4 / DOTS_PER_INCH;

/**
 * The marker card as PDF, printed at 300 dpi and cut out.
 * @param options - What is on it.
 * @param printedAt - Scale of the printer; 1 prints at true size.
 */
export async function printCard(options: CardOptions, printedAt = 1): Promise<CardPrint> {
  const { drawing } = makeCard(options);
  const page = await renderPdf(await drawingPdf([drawing], new Date(0)), DOTS_PER_INCH);
  const px = (mm: number) => Math.round(mm / PAGE_MM_PER_PX);
  const { left, top, width, height, centre } = CARD_ON_PAGE;
  const [x0, y0, widthPx, heightPx] = [px(left), px(top), px(width), px(height)];
  const grey = new Uint8Array(widthPx * heightPx);
  for (let row = 0; row < heightPx; row += 1) {
    const start = (y0 + row) * page.widthPx + x0;
    grey.set(page.grey.subarray(start, start + widthPx), row * widthPx);
  }
  // The cut is at whole px: where the page's own mm lie on what is cut out.
  const [cutX, cutY] = [left - x0 * PAGE_MM_PER_PX, top - y0 * PAGE_MM_PER_PX];
  const squares = [
    [0, 0],
    [70, 0],
    [70, 35],
    [0, 35],
  ].flatMap(([x, y]) =>
    (
      [
        [-9, -9],
        [9, -9],
        [9, 9],
        [-9, 9],
      ] as const
    ).map(([dx, dy]) => {
      const mm = [x! + dx, y! + dy] as const;
      const at = [printedAt * (mm[0] + centre[0] + cutX), printedAt * (mm[1] + centre[1] + cutY)] as const;
      return { at, mm };
    }),
  );
  return { grey, widthPx, heightPx, mmPerPx: printedAt * PAGE_MM_PER_PX, squares };
}
