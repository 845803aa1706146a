import { createRequire } from 'node:module';
import { expect, test } from 'vitest';
import { terminalCode } from '../../src/web/terminalCode.js';

// Source: jsqr, a reader of QR codes that is independent of the package that makes them.

const require = createRequire(import.meta.url);
// Its types call the module itself a function, which it is for CommonJS alone.
const jsQR = require('jsqr') as (
  data: Uint8ClampedArray,
  width: number,
  height: number,
) => { readonly data: string } | null;

const SIGNS: Readonly<Record<string, readonly [upper: number, lower: number]>> = {
  ' ': [255, 255],
  '▀': [0, 255],
  '▄': [255, 0],
  '█': [0, 0],
};

// Source: ECMA-48 (SGR); black is 30, white ground is 47.
const BLACK_ON_WHITE = '\u001B[30;47m';
const PLAIN = '\u001B[0m';

test('a camera that looks at a terminal reads the link', () => {
  const link = 'http://192.0.2.17:8471/open?key=AbCdEfGhIjKlMnOpQrStUv';
  const lines = terminalCode(link).split('\n');
  // Each line sets its colours itself, black on white.
  const rows = lines.map((line) => {
    expect(line.startsWith(BLACK_ON_WHITE) && line.endsWith(PLAIN)).toBe(true);
    return line.slice(BLACK_ON_WHITE.length, -PLAIN.length);
  });
  const width = rows[0]!.length;
  expect(new Set(rows.map((row) => row.length))).toEqual(new Set([width]));
  const scale = 4;
  const side = { x: scale * width, y: scale * 2 * rows.length };
  const rgba = new Uint8ClampedArray(4 * side.x * side.y).fill(255);
  for (let y = 0; y < side.y; y += 1) {
    for (let x = 0; x < side.x; x += 1) {
      const cell = Math.floor(y / scale);
      const grey = SIGNS[rows[Math.floor(cell / 2)]![Math.floor(x / scale)]!]![cell % 2]!;
      rgba.fill(grey, 4 * (y * side.x + x), 4 * (y * side.x + x) + 3);
    }
  }
  expect(jsQR(rgba, side.x, side.y)?.data).toBe(link);
});
