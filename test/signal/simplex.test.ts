import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { minimise, minimise1d } from '../../src/signal/simplex.js';
import { expectClose } from '../helpers/closeTo.js';

const why = 'a smooth minimum is known to half the digits';

describe('minimise', () => {
  test('finds the minimum of Rosenbrock’s valley', () => {
    // Source: Rosenbrock, Computer Journal 3, 1960 (from memory): minimum 0 at (1, 1), start (−1.2, 1).
    const found = minimise(([x, y]) => 100 * (y! - x! ** 2) ** 2 + (1 - x!) ** 2, [-1.2, 1], [0.5, 0.5]);
    expect(found.converged).toBe(true);
    expectClose(found.point, [1, 1], { abs: 1e-6, why });
  });

  test('finds the minimum of the helical valley in three variables', () => {
    // Source: Fletcher & Powell, Computer Journal 6, 1963 (from memory): minimum 0 at (1, 0, 0), start (−1, 0, 0).
    const cost = ([x, y, z]: readonly number[]): number => {
      const turn = Math.atan2(y!, x!) / (2 * Math.PI);
      return 100 * ((z! - 10 * turn) ** 2 + (Math.hypot(x!, y!) - 1) ** 2) + z! ** 2;
    };
    const found = minimise(cost, [-1, 0, 0], [0.5, 0.5, 0.5], { maxEvaluations: 2000 });
    expect(found.converged).toBe(true);
    expectClose(found.point, [1, 0, 0], { abs: 1e-6, why });
  });

  test('finds the minimum of Powell’s singular function in four variables', () => {
    // Source: Powell, Computer Journal 5, 1962 (from memory): minimum 0 at the origin, start (3, −1, 0, 1); its
    // Hessian is singular there, so the position is known to the fourth root of the cost.
    const cost = ([a, b, c, d]: readonly number[]): number =>
      (a! + 10 * b!) ** 2 + 5 * (c! - d!) ** 2 + (b! - 2 * c!) ** 4 + 10 * (a! - d!) ** 4;
    const found = minimise(cost, [3, -1, 0, 1], [1, 1, 1, 1], { maxEvaluations: 5000 });
    expect(found.converged).toBe(true);
    expectClose(found.point, [0, 0, 0, 0], { abs: 1e-3, why: 'singular Hessian' });
  });

  test('finds the minimum of any bowl, also when it does not go to 0', () => {
    // Source: closed form.
    const number = fc.double({ min: -5, max: 5, noNaN: true });
    fc.assert(
      fc.property(number, number, fc.double({ min: 0.2, max: 5, noNaN: true }), (a, b, stretch) => {
        const cost = ([x, y]: readonly number[]): number =>
          3 + (x! - a) ** 2 + stretch * (y! - b) ** 2 + 0.5 * Math.sqrt(stretch) * (x! - a) * (y! - b);
        const { point, cost: least, converged } = minimise(cost, [0, 0], [1, 1]);
        expect(converged).toBe(true);
        expectClose(point, [a, b], { abs: 1e-4, why: 'costs agree to 1e-10 of 3: 1e-5 in position' });
        expectClose(least, 3, { abs: 1e-8, why: 'as above, squared' });
      }),
    );
  });

  test('takes one variable, and comes back from where the cost cannot be computed', () => {
    const found = minimise(([x]) => (x! < 0 ? NaN : (Math.sqrt(x!) - 1) ** 2), [3], [-2.9]);
    expectClose(found.point, [1], { abs: 1e-5, why });
  });

  test('shrinks where neither reflection nor contraction gets lower', () => {
    // Between the first two corners (0 and 1) stands a wall, and beyond 0 it is steep.
    const wall = ([x]: readonly number[]): number => (x! < 0 ? -5 * x! : Math.abs(x! - 0.5) < 0.1 ? 2 : x!);
    const found = minimise(wall, [1], [-1]);
    expect(found.converged).toBe(true);
    expectClose(found.point, [0], { abs: 1e-9, why: 'the size alone decides at a cost of 0' });
  });

  test('says that it ran out of evaluations, and how many it used', () => {
    let calls = 0;
    const found = minimise(
      ([x, y]) => {
        calls += 1;
        return 100 * (y! - x! ** 2) ** 2 + (1 - x!) ** 2;
      },
      [-1.2, 1],
      [0.5, 0.5],
      { maxEvaluations: 30 },
    );
    expect(found.converged).toBe(false);
    expect(found.evaluations).toBe(calls);
    // The last round may shrink: one reflection, one contraction, two corners.
    expect(calls).toBeLessThanOrEqual(30 + 3);
  });

  test('does not change its input, and refuses what is no simplex', () => {
    const start = [2, 2];
    minimise(([x, y]) => x! ** 2 + y! ** 2, start, [1, 1]);
    expect(start).toEqual([2, 2]);
    const cost = (): number => 0;
    expect(() => minimise(cost, [], [])).toThrow(/one to four variables/);
    expect(() => minimise(cost, [1, 2, 3, 4, 5], [1, 1, 1, 1, 1])).toThrow(/one to four variables/);
    expect(() => minimise(cost, [1, 2], [1])).toThrow(/one to four variables/);
    expect(() => minimise(cost, [1], [0])).toThrow(/step ≠ 0/);
  });
});

describe('minimise1d', () => {
  test('finds π as the minimum of the cosine', () => {
    // Source: closed form.
    const found = minimise1d(Math.cos, 2, 5, 1e-7);
    expect(found.converged).toBe(true);
    expectClose(found.point, Math.PI, { abs: 1e-7, why: 'the tolerance asked for' });
    // scipy 1.17.1, minimize_scalar(cos, bounds=(2, 5), method='bounded', xatol=1e-7), takes 8.
    expect(found.evaluations).toBeLessThanOrEqual(9);
  });

  test('finds a kink, where no parabola fits', () => {
    fc.assert(
      fc.property(fc.double({ min: -0.99, max: 0.99, noNaN: true }), (kink) => {
        const found = minimise1d((x) => Math.abs(x - kink), -1, 1, 1e-9);
        expect(found.converged).toBe(true);
        expectClose(found.point, kink, { abs: 1e-9, why: 'the tolerance asked for' });
      }),
    );
  });

  test('finds the minimum of any parabola, at an end of the interval too', () => {
    fc.assert(
      fc.property(fc.double({ min: -3, max: 3, noNaN: true }), (middle) => {
        const found = minimise1d((x) => (x - middle) ** 2 + 1, -1, 2, 1e-7);
        expectClose(found.point, Math.min(2, Math.max(-1, middle)), {
          abs: 1e-7,
          why: 'the tolerance asked for',
        });
      }),
    );
  });

  test('refuses an empty interval and a tolerance that is not positive', () => {
    expect(() => minimise1d(Math.cos, 1, 1, 1e-6)).toThrow(/low < high/);
    expect(() => minimise1d(Math.cos, 0, 1, 0)).toThrow(/tolerance > 0/);
  });
});
