import { describe, expect, test } from 'vitest';
import { ratioSpread, spreadOf } from '../../scripts/bench/spread.js';
import { expectClose } from '../helpers/closeTo.js';

const EXACT = { abs: 1e-12, why: 'rounding of a few operations' };

describe('spreadOf', () => {
  // Source: numpy.percentile of [7, 1, 3, 9, 4, 10], method 'linear', by its definition: ranks 1.25, 2.5, 3.75.
  test('median and quartiles are those of numpy', () => {
    const { median, quartiles } = spreadOf([7, 1, 3, 9, 4, 10]);
    expectClose([quartiles[0], median, quartiles[1]], [3.25, 5.5, 8.5], EXACT);
  });
});

describe('ratioSpread', () => {
  // Source: closed form; a machine that is four times slower in one round slows the unit as well.
  test('a slow round cancels', () => {
    const { median, quartiles } = ratioSpread([30, 120, 30], [10, 40, 10]);
    expectClose([quartiles[0], median, quartiles[1]], [3, 3, 3], EXACT);
  });

  // Source: closed form; ratios 2, 3, 5 have the median 3. The ratio of the medians would be 4 ÷ 2.
  test('each value is held against the unit of its own round', () => {
    expectClose(ratioSpread([4, 3, 10], [2, 1, 2]).median, 3, EXACT);
  });

  test('what cannot be a ratio is refused', () => {
    expect(() => ratioSpread([1, 2], [1])).toThrow(/as many units as values, 2, but received 1/);
    expect(() => ratioSpread([1, 2], [1, 0])).toThrow(/unit above 0 but received 0/);
    expect(() => ratioSpread([], [])).toThrow(RangeError);
  });
});
