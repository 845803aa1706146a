import { expect, test } from 'vitest';
import { slotWords } from '../../src/report/slotWords.js';

const heights = [0, 1.4, 1.5].map((value, i) => ({ heightMm: i + 1.5, widthMm: { value, sd: 0.06 } }));
const slot = { toldMm: 40, centreMm: 40.1, widthMm: { value: 1.45, sd: 0.06 }, heights };
const wall = { startMm: 0, endMm: 39, startsAt: 'leading-corner' } as const;
const said = (...args: Parameters<typeof slotWords>) =>
  slotWords(...args).map((line) => line.replaceAll(/[\u2009\u00A0]/g, ' '));

test('one line for each slot, and none without', () => {
  expect(said({ walls: [wall] })).toEqual([]);
  const closes = { heightMm: { value: 14.2, sd: 0.4 }, closed: 'below', ladderHz: 24.31 } as const;
  expect(
    said({
      walls: [wall],
      slots: [{ toldMm: 12, heights: [] }, slot, { ...slot, closes }, { ...slot, heights: heights.slice(1) }],
    }),
  ).toEqual([
    'no gap shows at 12.0 mm, where a slot was told',
    'the slot at 40.1 mm is 1.45 mm ± 0.12 wide, and closed at 1 of 3 heights',
    'the slot at 40.1 mm is 1.45 mm ± 0.12 wide, and closed below 14.2 mm ± 0.8, where the ladder stands at 24.3 Hz',
    'the slot at 40.1 mm is 1.45 mm ± 0.12 wide and open at all heights',
  ]);
});

test('walls that count together are told, one alone is not', () => {
  const behind = { startMm: 41, endMm: 80, startsAt: 'slot' } as const;
  const walls = [
    { ...wall, use: 'used' as const },
    { ...behind, use: 'used' as const },
  ];
  expect(said({ walls })).toEqual(['2 of 2 walls were read, and count together']);
  expect(said({ walls: [walls[0]!, { ...behind, use: 'contradicts' }] })).toEqual([]);
});
