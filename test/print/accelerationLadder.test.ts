import { expect, test } from 'vitest';
import { accelerationStepOf } from '../../src/print/accelerationLadder.js';

const STEPS = [
  { fromMm: 2, toMm: 10, mmPerS2: 2000 },
  { fromMm: 10, toMm: 20, mmPerS2: 4000 },
  { fromMm: 25, toMm: 30, mmPerS2: 6000 },
];

test('a stretch of height belongs to the step that holds all of it', () => {
  expect(accelerationStepOf(STEPS, 2, 3)).toBe(0);
  expect(accelerationStepOf(STEPS, 9, 10)).toBe(0);
  expect(accelerationStepOf(STEPS, 10, 11)).toBe(1);
  expect(accelerationStepOf(STEPS, 25, 30)).toBe(2);
});

test('one over a change, in a gap, below, above or without a ladder belongs to none', () => {
  expect(accelerationStepOf(STEPS, 9.5, 10.5)).toBeUndefined();
  expect(accelerationStepOf(STEPS, 21, 22)).toBeUndefined();
  expect(accelerationStepOf(STEPS, 1, 2)).toBeUndefined();
  expect(accelerationStepOf(STEPS, 30, 31)).toBeUndefined();
  expect(accelerationStepOf(undefined, 3, 4)).toBeUndefined();
});
