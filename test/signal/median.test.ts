import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { median, percentile, runningMedian } from '../../src/signal/median.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const VALUES = [2, 80, 6, 3, 1, 9, 4, 4, -7, 12];
const numbers = fc.double({ min: -1e6, max: 1e6, noNaN: true });

describe('percentile', () => {
  test('agrees with numpy', () => {
    // Source: numpy 2.4.6, numpy.percentile(VALUES, p), default method.
    const expected = [
      [0, -7],
      [10, 0.2],
      [25, 2.25],
      [50, 4],
      [75, 8.25],
      [90, 18.8],
      [97.5, 64.7],
      [100, 80],
    ] as const;
    for (const [p, value] of expected) {
      expectClose(percentile(VALUES, p), value, { abs: 1e-12, why: 'rounding' });
    }
  });

  test('does not change its input and takes one value', () => {
    const values = Float64Array.of(3, 1, 2);
    percentile(values, 30);
    expect(values).toEqual(Float64Array.of(3, 1, 2));
    expect(percentile([5], 75)).toBe(5);
  });

  test('refuses nothing, NaN, and a percentage outside 0 to 100', () => {
    expect(() => percentile([], 50)).toThrow(/at least one value/);
    expect(() => percentile([1, NaN], 50)).toThrow(/NaN/);
    for (const p of [-1, 101, NaN]) expect(() => percentile([1], p)).toThrow(/from 0 to 100/);
  });
});

describe('percentile by selection', () => {
  // Source: Hyndman & Fan's definition 7 on a sorted copy; Array.prototype.sort is the reference.
  const bySorting = (values: readonly number[], p: number): number => {
    const sorted = [...values].sort((a, b) => (a < b ? -1 : Number(a > b)));
    const rank = (p / 100) * (sorted.length - 1);
    const [low, high] = [sorted[Math.floor(rank)]!, sorted[Math.ceil(rank)]!];
    return low === high ? low : low + (rank - Math.floor(rank)) * (high - low);
  };
  const PERCENTAGES = [0, 5, 25, 50, 62.5, 75, 99, 100];
  const same = (values: readonly number[], p: number) => {
    // Adding 0 makes −0 and 0 one: they have the same rank. Between infinities both may be NaN.
    expect(percentile(values, p) + 0).toBe(bySorting(values, p) + 0);
  };

  test('agrees with a full sort, bit for bit, whatever the values', () => {
    const any = fc.oneof(
      numbers,
      fc.constantFrom(0, -0, Infinity, -Infinity, 1, Number.MAX_VALUE, -Number.MIN_VALUE),
    );
    fc.assert(
      fc.property(
        fc.array(any, { minLength: 1, maxLength: 60 }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        same,
      ),
      { numRuns: 2000 },
    );
  });

  test('agrees with it on inputs that are hard for a selection', () => {
    const n = 1001;
    const random = seeded(5);
    const ramp = Array.from({ length: n }, (_, i) => i);
    const inputs = [
      ramp,
      [...ramp].reverse(),
      ramp.map(() => 3),
      ramp.map((i) => i % 2),
      ramp.map((i) => Math.min(i, n - i)),
      ramp.map((i) => Math.max(i, n - i)),
      ramp.map((i) => (i < n / 2 ? -Infinity : Infinity)),
      ramp.map(() => random.normal()),
    ];
    for (const values of inputs) for (const p of PERCENTAGES) same(values, p);
  });

  test('takes time in proportion to the number of values, sorted or not', () => {
    // A selection that degenerates needs n²/2 steps: 10¹¹ here, minutes.
    const n = 500_000;
    const ramp = Float64Array.from({ length: n }, (_, i) => i);
    expect(percentile(ramp, 50)).toBe((n - 1) / 2);
    expect(percentile(ramp.toReversed(), 25)).toBe((n - 1) / 4);
    expect(percentile(new Float64Array(n).fill(-2), 75)).toBe(-2);
    expect(
      percentile(
        ramp.map((i) => Math.min(i, n - 1 - i)),
        100,
      ),
    ).toBe(n / 2 - 1);
  });
});

describe('median', () => {
  test('is the middle, or the mean of the two middle ones', () => {
    // Source: definition.
    expect(median([3, 1, 2])).toBe(2);
    expect(median(Float64Array.of(4, 1, 3, 2))).toBe(2.5);
  });

  test('leaves as many values above as below', () => {
    fc.assert(
      fc.property(fc.array(numbers, { minLength: 1, maxLength: 40 }), (values) => {
        const middle = median(values);
        const above = values.filter((value) => value > middle).length;
        const below = values.filter((value) => value < middle).length;
        expect(Math.max(above, below)).toBeLessThanOrEqual(values.length / 2);
      }),
    );
  });
});

describe('runningMedian', () => {
  test.each([
    [1, [2, 6, 6, 3, 3, 4, 4, 4, 4, 12]],
    [2, [2, 3, 3, 6, 4, 4, 4, 4, 4, 12]],
    [4, [2, 2, 3, 4, 4, 4, 4, 4, 9, 12]],
  ])('agrees with scipy for %i neighbours', (halfWidth, expected) => {
    // Source: scipy 1.17.1, scipy.ndimage.median_filter(VALUES, 2 halfWidth + 1, mode='nearest').
    expect(Array.from(runningMedian(Float64Array.from(VALUES), halfWidth))).toEqual(expected);
  });

  test('is the median of each window with the ends repeated', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(numbers, fc.integer({ min: -2, max: 2 })), { minLength: 1, maxLength: 30 }),
        fc.integer({ min: 0, max: 12 }),
        (values, halfWidth) => {
          const expected = values.map((_, i) => {
            const window = Array.from({ length: 2 * halfWidth + 1 }, (__, k) =>
              Math.min(values.length - 1, Math.max(0, i + k - halfWidth)),
            );
            return median(window.map((index) => values[index]!));
          });
          // −0 and 0 are the same number to a median.
          expectClose(runningMedian(Float64Array.from(values), halfWidth), expected, {
            abs: 0,
            why: 'exact',
          });
        },
      ),
    );
  });

  test('takes no values, and refuses NaN and a width that is no count', () => {
    expect(runningMedian(new Float64Array(0), 3)).toHaveLength(0);
    expect(() => runningMedian(Float64Array.of(1, NaN, 2), 1)).toThrow(/NaN/);
    for (const halfWidth of [-1, 0.5, NaN]) {
      expect(() => runningMedian(Float64Array.of(1), halfWidth)).toThrow(/whole number of neighbours/);
    }
  });
});
