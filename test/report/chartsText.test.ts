import { Resvg } from '@resvg/resvg-js';
import { createRequire } from 'node:module';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { textWidth, wrapText } from '../../src/report/charts/textWidth.js';
import { escapeXml } from '../../src/report/svg.js';

const { resolve } = createRequire(import.meta.url);

/** Width of the ink by the renderer and the real font, px. */
function inkWidth(text: string, bold: boolean): number {
  const weight = bold ? 'bold' : 'normal';
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="4000" height="40"><text x="10" y="30" font-size="20" font-family="DejaVu Sans" font-weight="${weight}">${escapeXml(text)}</text></svg>`;
  const fontFiles = ['DejaVuSans', 'DejaVuSans-Bold'].map((name) =>
    resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`),
  );
  return new Resvg(svg, { font: { loadSystemFonts: false, fontFiles } }).getBBox()?.width ?? 0;
}

// Source: the font's own advances, through the renderer.
describe('textWidth', () => {
  test.each([
    'best 31.1 mm up, clean from 29.9 to 32.3 mm',
    'Axis Y: 41.0\u2009Hz ± 0.5',
    'ripples below and above turn over at 31.1 mm; at their strongest they are 46 times the noise',
    'No band can be proposed: the height where ringing vanishes and the spacing contradict each other',
    'shaper.dampingRatio: 0.15, the usual default (common practice)',
    'MAXIMUM WIDTH OF CAPITALS',
    '0123456789 − 100 % ° × · /',
    'jiggling little lily, filling',
  ])('is a little more than "%s" takes', (text) => {
    for (const bold of [false, true]) {
      const ratio = textWidth(text, 20, bold) / inkWidth(text, bold);
      expect(ratio).toBeGreaterThanOrEqual(1);
      expect(ratio).toBeLessThan(1.2);
    }
  });
});

describe('wrapText', () => {
  test('every line fits, and no word is lost', () => {
    const word = fc.stringMatching(/^[a-z0-9.,;%&]{1,30}$/);
    fc.assert(
      fc.property(fc.array(word, { maxLength: 40 }), fc.integer({ min: 60, max: 800 }), (words, widthPx) => {
        const lines = wrapText(words.join(' '), widthPx, 14);
        for (const line of lines) {
          const glued = /\d (?:mm|Hz|px|ms|%)(?![a-z])/.test(line);
          if (!glued) expect(textWidth(line, 14)).toBeLessThanOrEqual(widthPx);
        }
        expect(lines.join('').replaceAll(' ', '')).toBe(words.join(''));
      }),
    );
  });

  test('a ± stays with its numbers, a unit with its number', () => {
    const words = 'enter 41.0\u2009Hz ± 0.5 for an axis seen from 310 mm away';
    for (let widthPx = 130; widthPx < 500; widthPx += 5) {
      for (const line of wrapText(words, widthPx, 14)) expect(line).not.toMatch(/^±|^0\.5|^mm|±$/);
    }
  });

  test('an empty text has no lines', () => {
    expect(wrapText('', 100, 14)).toEqual([]);
    expect(wrapText('  \n', 100, 14)).toEqual([]);
  });
});
