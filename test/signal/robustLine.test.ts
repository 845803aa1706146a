import { expect, test } from 'vitest';
import { fitLineRobustly } from '../../src/signal/robustLine.js';
import { expectClose } from '../helpers/closeTo.js';

const x = Array.from({ length: 60 }, (_, i) => 3 * i);

test('a line with a fifth of its points far above is found as if they were not there', () => {
  const line = fitLineRobustly(
    x,
    x.map((at, i) => 2 - 0.25 * at + (i % 5 === 0 ? 50 + i : 0)),
  );
  expectClose([line.offset, line.slope, line.sd], [2, -0.25, 0], { abs: 1e-9, why: 'closed form, rounding' });
});

test('refuses what is no line', () => {
  expect(() => fitLineRobustly([1], [1])).toThrow(/at least two points/);
  expect(() => fitLineRobustly([1, 1], [1, 2])).toThrow(/ascend/);
  expect(() => fitLineRobustly([1, 2], [1])).toThrow(/received 2 and 1/);
});
