import ndarray from 'ndarray';
import { expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { shrink } from '../../src/imaging/shrink.js';

const ramp = (rows: number, columns: number): CodeImage =>
  ndarray(
    Uint8Array.from({ length: rows * columns }, (_, i) => 2 * Math.floor(i / columns) + (i % columns)),
    [rows, columns],
  );

test('a slope keeps its place: the middle of a block has the mean of the block', () => {
  // Source: closed form. A block of f px from row f·i on has its middle at f·(i + ½), so code 2·(f·(i + ½) − ½) + …
  for (const factor of [1, 2, 3, 5, 7]) {
    const { grey, widthPx, heightPx } = shrink(ramp(45, 70), factor);
    expect([widthPx, heightPx]).toEqual([Math.floor(70 / factor), Math.floor(45 / factor)]);
    for (const [row, column] of [
      [0, 0],
      [2, 4],
      [heightPx - 1, widthPx - 1],
    ] as const) {
      const expected = 2 * (factor * (row + 0.5) - 0.5) + factor * (column + 0.5) - 0.5;
      expect(Math.abs(grey[row * widthPx + column]! - expected)).toBeLessThanOrEqual(0.5);
    }
  }
});

test('strides and depths make no difference', () => {
  const plain = shrink(ramp(30, 40), 3);
  const turned = ramp(30, 40).transpose(1, 0).step(1, -1);
  const back = shrink(turned.step(1, -1).transpose(1, 0), 3);
  expect(back.grey).toEqual(plain.grey);
  const deep = ndarray(
    Uint16Array.from({ length: 30 * 40 }, (_, i) => 257 * (2 * Math.floor(i / 40) + (i % 40))),
    [30, 40],
  );
  expect(shrink(deep, 3).grey).toEqual(plain.grey);
});

test('refuses a factor that is none', () => {
  expect(() => shrink(ramp(4, 4), 1.5)).toThrow(/received 1.5/);
  expect(() => shrink(ramp(4, 4), 0)).toThrow(RangeError);
});
