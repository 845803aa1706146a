import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { changeOf, meanOf } from '../../src/history/change.js';
import { expectClose } from '../helpers/closeTo.js';

describe('changeOf', () => {
  test('a difference of 1.96 standard deviations happens once in twenty', () => {
    // Source: GUM (JCGM 100:2008) table G.1, 1.960 for 95 %; Abramowitz & Stegun table 26.1: 0.0499958.
    const { chance, changed } = changeOf({ value: 40, sd: 0.3 }, { value: 40 + 1.96 * 0.5, sd: 0.4 });
    expectClose(chance, 0.0499958, { abs: 2e-7, why: 'digits of the table' });
    expect(changed).toBe(false);
  });

  test.each([
    [40, 1],
    [40.1, 0],
  ])('exact values: %d after 40', (after, chance) => {
    expect(changeOf({ value: 40, sd: 0 }, { value: after, sd: 0 })).toMatchObject({
      chance,
      changed: after > 40,
    });
  });
});

describe('meanOf', () => {
  test('weights by variance', () => {
    // Source: closed form, (10·1/1 + 13·1/4) ÷ (1 + 1/4) = 10.6; scatter 7.2 ÷ 5 · … = 1.8 above 1, so √(1.8 ÷ 1.25).
    const mean = meanOf([
      { value: 10, sd: 1 },
      { value: 13, sd: 2 },
    ]);
    expectClose(mean.value, 10.6, { abs: 1e-12, why: 'rounding' });
    expectClose(mean.sd, Math.sqrt(1.8 / 1.25), { abs: 1e-12, why: 'rounding' });
  });

  test('never surer than equal values allow', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 30, max: 50, noNaN: true }), { minLength: 1, maxLength: 9 }),
        (values) => {
          const { sd } = meanOf(values.map((value) => ({ value, sd: 0.5 })));
          expect(sd).toBeGreaterThanOrEqual(0.5 / Math.sqrt(values.length) - 1e-12);
        },
      ),
    );
  });

  test('none has no mean', () => {
    expect(() => meanOf([])).toThrow(/at least one/);
  });
});
