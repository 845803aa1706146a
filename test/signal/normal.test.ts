import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { normalBelow } from '../../src/signal/normal.js';
import { expectClose } from '../helpers/closeTo.js';

describe('normalBelow', () => {
  test.each([
    // Source: Abramowitz & Stegun, Handbook of Mathematical Functions, table 26.1 (from memory, nine digits).
    [0, 0.5],
    [1, 0.841344746],
    [1.96, 0.975002105],
    [2.5, 0.993790335],
    [3, 0.998650102],
    [-1, 0.158655254],
    // Source: the same, table 26.2: −log10 of what is above 5 is 6.54265.
    [-5, 10 ** -6.54265],
  ])('at %d', (z, expected) => {
    expectClose(normalBelow(z), expected, { rel: z < -4 ? 2e-5 : 2e-9, why: 'digits of the table' });
  });

  test('series and continued fraction meet', () => {
    const step = 1e-9;
    const slope = Math.exp(-4.5) / Math.sqrt(2 * Math.PI);
    expectClose(normalBelow(3) - normalBelow(3 - step), slope * step, { abs: 1e-15, why: 'rounding' });
  });

  test('both sides make one, and it never falls', () => {
    fc.assert(
      fc.property(fc.double({ min: -30, max: 30, noNaN: true }), (z) => {
        expect(Math.abs(normalBelow(z) + normalBelow(-z) - 1)).toBeLessThan(1e-14);
        expect(normalBelow(z + 0.01)).toBeGreaterThanOrEqual(normalBelow(z));
      }),
    );
  });

  test('NaN is refused', () => {
    expect(() => normalBelow(NaN)).toThrow(/Expected a number/);
  });
});
