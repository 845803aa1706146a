import encodeQR from 'qr';
import decodeQR from 'qr/decode.js';
import type { Px } from '../core/units.js';

/**
 * The cells of a QR code.
 * @param text - What it says, up to 666 bytes of UTF-8.
 * @returns Its rows from the top, dark is 1; as many cells as rows, without a white border.
 * @see ISO/IEC 18004; error correction level M: cells with 15 % of all code words may be lost.
 */
export function qrCells(text: string): readonly string[] {
  // The package draws a white border of one cell at least.
  const framed = encodeQR(text, 'raw', { ecc: 'medium', encoding: 'byte', border: 1 });
  return framed.slice(1, -1).map((row) =>
    row
      .slice(1, -1)
      .map((isDark) => (isDark ? '1' : '0'))
      .join(''),
  );
}

/**
 * Reads a QR code in a picture of little else.
 * @param grey - Grey codes, row by row, shape (heightPx · widthPx,); not modified.
 * @param widthPx - Columns.
 * @param heightPx - Rows.
 * @returns What it says; undefined when none is found or too much of it is lost.
 */
export function readQrCode(grey: Uint8Array, widthPx: Px, heightPx: Px): string | undefined {
  const rgb = new Uint8Array(3 * grey.length);
  for (let i = 0; i < grey.length; i += 1) rgb.fill(grey[i] ?? 0, 3 * i, 3 * i + 3);
  try {
    return decodeQR(
      { width: widthPx, height: heightPx, data: rgb },
      { format: 'RGB', effort: Infinity, timeLimit: Infinity },
    );
  } catch {
    // The package has no other way to say that it found nothing.
    return undefined;
  }
}
