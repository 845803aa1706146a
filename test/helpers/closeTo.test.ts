import { describe, expect, test } from 'vitest';
import { expectClose } from './closeTo.js';

const why = 'exact in binary';

describe('expectClose', () => {
  test('passes within the absolute, the relative, or the sum of both allowances, edges included', () => {
    expectClose(1.5, 1, { abs: 0.5, why });
    expectClose(-3, -2, { rel: 0.5, why });
    expectClose(4, 2, { abs: 1, rel: 0.5, why });
    expectClose(new Float64Array([1, 2]), [1, 2], { abs: 0, why });
    expectClose(Infinity, Infinity, { abs: 0, why });
  });

  test('names the worst element: index, values, difference, allowance, reason, and how many', () => {
    expect(() => {
      expectClose([1, 2.5, 1, 4.25], [1, 2, 3, 4], { abs: 0.25, why: 'steps of a quarter' });
    }).toThrow(
      'worst difference at index 2: received 1, expected 3, off by 2, allowed 0.25 (steps of a quarter); 2 of 4 are outside',
    );
  });

  test('judges the worst against its own allowance, not by the bare difference', () => {
    // 100 is off by 5 of 10 allowed; 1 is off by 1 of 0.1 allowed.
    expect(() => {
      expectClose([105, 2], [100, 1], { rel: 0.1, why });
    }).toThrow(/at index 1: received 2, expected 1/);
  });

  test.each([
    ['NaN received', [1, NaN], [1, 2]],
    ['NaN expected', [1, 2], [1, NaN]],
    ['NaN on both sides', [NaN], [NaN]],
    ['the other infinity', [Infinity], [-Infinity]],
    ['infinity received', [Infinity], [1]],
    ['infinity expected', [1], [Infinity]],
  ])('%s fails whatever is allowed', (_, actual, expected) => {
    expect(() => {
      expectClose(actual, expected, { abs: 1e9, rel: 0.5, why });
    }).toThrow(/worst difference/);
  });

  test('another length, another shape, or nothing to compare fails', () => {
    expect(() => {
      expectClose([1, 2], [1], { abs: 1, why });
    }).toThrow(/1 values expected, 2 received/);
    expect(() => {
      expectClose([1], 1, { abs: 1, why });
    }).toThrow(/one side is a number, the other a list/);
    expect(() => {
      expectClose([], [], { abs: 1, why });
    }).toThrow(/nothing is expected/);
  });

  test('asks for an allowance that can be met', () => {
    expect(() => {
      expectClose(1, 1, { why });
    }).toThrow(RangeError);
    expect(() => {
      expectClose(1, 1, { abs: -1, why });
    }).toThrow(RangeError);
    expect(() => {
      expectClose(1, 1, { rel: NaN, why });
    }).toThrow(RangeError);
  });
});
