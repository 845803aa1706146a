import { expect, test } from 'vitest';
import { sinceThen } from '../../src/band/sinceThen.js';
import { expectClose } from '../helpers/closeTo.js';

const NOW = { value: 41, sd: 0.6 };

// Source: GUM (JCGM 100:2008) equation 10: of a difference of independent values, squares of uncertainties add.
test('the change is as uncertain as both frequencies are', () => {
  const { changeHz, wasHz, wasExact } = sinceThen({ hz: 43, plusMinusHz: 1.568 }, NOW, 0);
  expectClose(changeHz.value, -2, { abs: 1e-12, why: 'a difference of two numbers' });
  expectClose(wasHz.sd, 0.8, { rel: 1e-9, why: 'a 95 % half-width is 1.96 standard uncertainties' });
  expectClose(changeHz.sd, 1, { rel: 1e-9, why: '3-4-5: √(0.6² + 0.8²)' });
  expect(wasExact).toBe(false);
});

test('it has moved only where the 95 % interval of the change leaves out no change', () => {
  expect(sinceThen({ hz: 43, plusMinusHz: 1.568 }, NOW, 0).moved).toBe(true);
  expect(sinceThen({ hz: 42.9, plusMinusHz: 1.568 }, NOW, 0).moved).toBe(false);
  expect(sinceThen({ hz: 39.1, plusMinusHz: 1.568 }, NOW, 0).moved).toBe(false);
  expect(sinceThen({ hz: 39, plusMinusHz: 1.568 }, NOW, 0).moved).toBe(true);
});

test('a frequency without its ± is taken as exact, and said to be', () => {
  const since = sinceThen({ hz: 42 }, NOW, 0);
  expect(since).toMatchObject({ wasExact: true, wasHz: { value: 42, sd: 0 }, moved: false });
  expectClose(since.changeHz.sd, 0.6, { rel: 1e-9, why: 'only the one of now' });
});

// Source: GUM 4.3.7, rectangular; f = f_d ÷ √(1 − ζ²), elementary: 41 Hz at 0.3 differ by 1.98 Hz.
test('natural and damped frequency are not told apart, which counts as uncertainty', () => {
  const { changeHz } = sinceThen({ hz: 41 }, { value: 41, sd: 0 }, 0.3);
  expectClose(changeHz.sd, 1.98 / Math.sqrt(3), { rel: 2e-3, why: '1.98 has three digits' });
});

test('how likely a ZV shaper set to the earlier frequency still cancels', () => {
  // Source: NOW is 41 ± 0.6 Hz; ZV keeps within 3.2 % (test/reference/shapers.json),
  // and at 41 before, 1.312 Hz is 2.18667 standard deviations to each side: erf(2.18667 ÷ √2) by Python 3.11's math.erf.
  expectClose(sinceThen({ hz: 41 }, { value: 41, sd: 0.6 }, 0).withinZv, 0.9712331333129245, {
    abs: 1e-12,
    why: 'rounding',
  });
  expect(sinceThen({ hz: 41 }, { value: 45, sd: 0.6 }, 0).withinZv).toBeLessThan(1e-4);
  expect(sinceThen({ hz: 41 }, { value: 41.5, sd: 0 }, 0).withinZv).toBe(1);
  expect(sinceThen({ hz: 41 }, { value: 43, sd: 0 }, 0).withinZv).toBe(0);
});
