import { expect, test } from 'vitest';
import type { CornersPx } from '../../src/core/image.js';
import { searchOf } from '../../src/reading/makeReading.js';

const box = (left: number, top: number, width: number, height: number): CornersPx => [
  [left, top],
  [left + width, top],
  [left + width, top + height],
  [left, top + height],
];

test('an outline that is that of a recognised reference is not offered as a face', () => {
  const card = box(2000, 1000, 850, 540);
  const turned: CornersPx = [card[2], card[3], card[0], card[1]].map(([x, y]) => [x + 9, y - 7]) as never;
  const { guesses } = searchOf({
    search: {
      how: 'not-found',
      guesses: [turned, box(300, 600, 1200, 900), box(1900, 900, 1300, 1000)].map((cornersPx) => ({
        cornersPx,
        confidence: 0.1,
      })),
      references: [{ kind: 'id1-card', outlinePx: card, confidence: 0.9 }],
      missing: [],
    } as never,
    geometry: undefined,
  });
  expect(guesses.map(({ cornersPx }) => cornersPx[0])).toEqual([
    [300, 600],
    [1900, 900],
  ]);
});
