import { PDFiumLibrary } from '@hyzyla/pdfium';

/** A page of a PDF as PDFium, which knows nothing of us, sees it. */
export interface PdfPage {
  /** All text on it, lines joined by single spaces. */
  readonly text: string;
  readonly widthMm: number;
  readonly heightMm: number;
  /** How many different grey codes it has when it is drawn small: 1 for an empty page. */
  readonly tones: number;
}

/**
 * Opens a PDF and reads every page.
 * @param pdf - The document.
 */
export async function pdfPages(pdf: Uint8Array): Promise<readonly PdfPage[]> {
  const library = await PDFiumLibrary.init();
  const document = await library.loadDocument(pdf);
  try {
    const pages: PdfPage[] = [];
    for (const page of document.pages()) {
      const { originalWidth: width, originalHeight: height } = page.getOriginalSize();
      // Before it is drawn: the package closes a page then.
      const text = page.getText().replaceAll(/\s+/g, ' ');
      const { data } = await page.render({ scale: 0.5, render: 'bitmap' });
      const green = new Set(Array.from({ length: data.length / 4 }, (_, i) => data[4 * i + 1]));
      // ISO 32000-1, 8.3.2.3 (from memory): 72 points to the inch.
      const mm = (points: number) => (points * 25.4) / 72;
      pages.push({
        text,
        widthMm: mm(width),
        heightMm: mm(height),
        tones: green.size,
      });
    }
    return pages;
  } finally {
    document.destroy();
    library.destroy();
  }
}
