import { createRequire } from 'node:module';
import { describe, expect, test } from 'vitest';
import { qrCells, readQrCode } from '../../src/imaging/qrCode.js';

const require = createRequire(import.meta.url);
// Its types describe a module of another kind than it is.
const jsQR = require('jsqr') as (
  rgba: Uint8ClampedArray,
  widthPx: number,
  heightPx: number,
) => { readonly data: string } | null;

/** Draws cells with a white border of four, so many px each. */
function picture(cells: readonly string[], cellPx: number): { grey: Uint8Array; sidePx: number } {
  const sidePx = cellPx * (cells.length + 8);
  const grey = Uint8Array.from({ length: sidePx * sidePx }, (_, i) => {
    const [row, column] = [Math.floor(i / sidePx / cellPx) - 4, Math.floor((i % sidePx) / cellPx) - 4];
    return cells[row]?.[column] === '1' ? 0 : 255;
  });
  return { grey, sidePx };
}

const TEXTS = ['SB1 87a8\nMnorth bench 3', 'Süd 7 ☃ – "ß"', 'x'.repeat(666)];

describe('QR codes', () => {
  // Source: ISO/IEC 18004, tables 1 and 7 (from memory): sides 21 + 4 (version − 1); level M holds 14, 26, …, 666 bytes.
  test.each([
    [14, 1],
    [15, 2],
    [26, 2],
    [213, 10],
    [666, 20],
  ])('%d bytes fit into version %d', (bytes, version) => {
    const cells = qrCells('a'.repeat(bytes));
    expect(cells).toHaveLength(21 + 4 * (version - 1));
    for (const row of cells) expect(row).toMatch(new RegExp(`^[01]{${cells.length}}$`));
  });

  // Source: jsQR, which shares no code with ours.
  test.each(TEXTS)('another reader reads %j', (text) => {
    const { grey, sidePx } = picture(qrCells(text), 4);
    const rgba = new Uint8ClampedArray(4 * grey.length);
    grey.forEach((value, i) => {
      rgba.set([value, value, value, 255], 4 * i);
    });
    expect(jsQR(rgba, sidePx, sidePx)?.data).toBe(text);
  });

  test.each(TEXTS)('so does ours: %j', (text) => {
    const { grey, sidePx } = picture(qrCells(text), 5);
    expect(readQrCode(grey, sidePx, sidePx)).toBe(text);
  });

  // Source: ISO/IEC 18004: level M restores 15 % of the code words.
  test('a stain of a twentieth of the cells does no harm, one of half of them is noticed', () => {
    const cells = qrCells('a'.repeat(150));
    const stained = (share: number) => {
      const side = Math.sqrt(share) * cells.length;
      const from = (cells.length - side) / 2;
      return cells.map((row, y) =>
        Array.from(row, (cell, x) =>
          Math.abs(y - from - side / 2) < side / 2 && Math.abs(x - from - side / 2) < side / 2 ? '1' : cell,
        ).join(''),
      );
    };
    const read = (share: number) => {
      const { grey, sidePx } = picture(stained(share), 5);
      return readQrCode(grey, sidePx, sidePx);
    };
    expect(read(0.04)).toBe('a'.repeat(150));
    expect(read(0.5)).toBeUndefined();
  });

  test('plain paper has none', () => {
    expect(readQrCode(new Uint8Array(200 * 200).fill(240), 200, 200)).toBeUndefined();
  });
});
