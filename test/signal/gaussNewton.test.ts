import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { minimiseSquares } from '../../src/signal/gaussNewton.js';
import { expectClose } from '../helpers/closeTo.js';

const why = 'the last step is within the tolerance, and the next would be far shorter';

describe('minimiseSquares', () => {
  test('finds the minimum of Rosenbrock’s valley', () => {
    // Source: Rosenbrock, Computer Journal 3, 1960 (from memory): minimum 0 at (1, 1), start (−1.2, 1).
    const found = minimiseSquares(
      ([x, y]) => Float64Array.of(10 * (y! - x! ** 2), 1 - x!),
      [-1.2, 1],
      [0.5, 0.5],
      1e-6,
    );
    expect(found.converged).toBe(true);
    expectClose(found.point, [1, 1], { abs: 1e-6, why });
    expectClose(found.cost, 0, { abs: 1e-10, why });
  });

  test('finds the minimum of the helical valley in three variables', () => {
    // Source: Fletcher & Powell, Computer Journal 6, 1963 (from memory): minimum 0 at (1, 0, 0), start (−1, 0, 0).
    const valley = ([x, y, z]: readonly number[]): Float64Array => {
      const turn = Math.atan2(y!, x!) / (2 * Math.PI);
      return Float64Array.of(10 * (z! - 10 * turn), 10 * (Math.hypot(x!, y!) - 1), z!);
    };
    const found = minimiseSquares(valley, [-1, 0, 0], [0.5, 0.5, 0.5], 1e-6);
    expect(found.converged).toBe(true);
    expectClose(found.point, [1, 0, 0], { abs: 1e-6, why });
  });

  test('fits a decay to values that it does not pass through', () => {
    // Source: closed form. Residuals e^{−p} − 1 and e^{−p} − 3 are least at e^{−p} = 2, where their squares add to 2.
    const found = minimiseSquares(
      ([p]) => Float64Array.of(Math.exp(-p!) - 1, Math.exp(-p!) - 3),
      [0],
      [0.1],
      1e-6,
    );
    expectClose(found.point, [-Math.LN2], { abs: 1e-5, why: 'derivatives are differences over 1e-6' });
    expectClose(found.cost, 2, { abs: 1e-9, why: 'the cost is flat at its minimum' });
  });

  test('solves linear problems whatever the scale of the variables', () => {
    // Source: closed form: the residuals vanish at (a, b).
    const number = fc.double({ min: -5, max: 5, noNaN: true });
    fc.assert(
      fc.property(number, number, fc.double({ min: 1e-3, max: 1e3, noNaN: true }), (a, b, scale) => {
        const found = minimiseSquares(
          ([x, y]) => Float64Array.of(x! - a, scale * y! - b, x! - a + 0.3 * (scale * y! - b)),
          [0, 0],
          [1, 1 / scale],
          1e-6,
        );
        expect(found.converged).toBe(true);
        expectClose(found.point, [a, b / scale], { abs: 1e-6 * Math.max(1, 1 / scale), why });
      }),
    );
  });

  test('leaves a variable without effect where it is, and stops at once in a minimum', () => {
    const found = minimiseSquares(([x]) => Float64Array.of(x! - 2, 1), [2, 7], [1, 1], 1e-6);
    expect(found.point).toEqual([2, 7]);
    expect(found.cost).toBe(1);
    expect(found.converged).toBe(true);
    expect(found.evaluations).toBeLessThan(6);
  });

  test('does not go where the residuals cannot be computed', () => {
    // Source: closed form: √x = 1 at 1; the first step from 9 would lead to −3.
    const found = minimiseSquares(([x]) => Float64Array.of(Math.sqrt(x!) - 1), [9], [1], 1e-6);
    expectClose(found.point, [1], { abs: 1e-6, why });
  });

  test('takes slopes from the side where there are any', () => {
    // Source: closed form: √(9 − x) = 1 at 8; beyond 9 there is no root.
    const found = minimiseSquares(([x]) => Float64Array.of(Math.sqrt(9 - x!) - 1), [9], [1], 1e-6);
    expectClose(found.point, [8], { abs: 1e-6, why });
  });

  test('a start that cannot be computed is the caller’s mistake', () => {
    expect(() => minimiseSquares(() => Float64Array.of(NaN), [1], [1], 1e-6)).toThrow(RangeError);
  });
});
