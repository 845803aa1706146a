import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { decimals, halfWidth95, withUncertainty, withUnit } from '../../src/report/format.js';

const THIN = '\u2009';
const MINUS = '\u2212';

/** Reads a formatted number back, strictly. */
function read(text: string): number {
  expect(text).toMatch(/^\u2212?\d+(\.\d+)?$/);
  return Number(text.replace(MINUS, '-'));
}

describe('withUncertainty', () => {
  // Source: Particle Data Group, Review of Particle Physics, introduction, "Rounding" (from memory): its two
  // examples, then both sides of each of its limits 354/355, 949/950, 999/1000.
  test.each([
    [0.827, 0.119, '0.83', '0.12'],
    [0.827, 0.367, '0.8', '0.4'],
    [41.0234, 0.354, '41.02', '0.35'],
    [41.0234, 0.355, '41.0', '0.4'],
    [41.0234, 0.949, '41.0', '0.9'],
    [41.0234, 0.95, '41.0', '1.0'],
    [41.0234, 0.9994, '41.0', '1.0'],
    [41.0234, 1.004, '41.0', '1.0'],
    [1234.4, 35.4, '1234', '35'],
    [1234.5, 35.6, '1230', '40'],
    [123456, 2345, '123500', '2300'],
    [0.0591, 0.0019, '0.0591', '0.0019'],
    [-0.002, 0.0119, `${MINUS}0.002`, '0.012'],
  ])('%d with %d reads %s, %s', (value, sd, valueText, sdText) => {
    expect(withUncertainty({ value, sd })).toEqual({ value: valueText, sd: sdText });
  });

  test('an exact value keeps six significant digits and no idle zeros', () => {
    expect(withUncertainty({ value: 42, sd: 0 })).toEqual({ value: '42', sd: '0' });
    expect(withUncertainty({ value: 40, sd: 0 })).toEqual({ value: '40', sd: '0' });
    expect(withUncertainty({ value: 40.5, sd: 0 })).toEqual({ value: '40.5', sd: '0' });
    expect(withUncertainty({ value: 0.0123456789, sd: 0 })).toEqual({ value: '0.0123457', sd: '0' });
    expect(withUncertainty({ value: 1234567, sd: 0 })).toEqual({ value: '1234567', sd: '0' });
    expect(withUncertainty({ value: 29.0909090909, sd: 0 })).toEqual({ value: '29.0909', sd: '0' });
    expect(withUncertainty({ value: 0, sd: 0 })).toEqual({ value: '0', sd: '0' });
  });

  test('rounding loses less than a sixth of the uncertainty, and both end at the same decimal', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.double({ min: 1e-5, max: 1e4, noNaN: true }),
        (value, sd) => {
          const text = withUncertainty({ value, sd });
          // Closed form: half a unit of the last digit kept, at worst 0.5 of 3.55 with one digit.
          expect(Math.abs(read(text.value) - value)).toBeLessThanOrEqual(sd * (0.5 / 3.545) + 1e-9);
          expect(Math.abs(read(text.sd) - sd)).toBeLessThanOrEqual(sd * (0.5 / 3.545) + 1e-12);
          expect((text.value.split('.')[1] ?? '').length).toBe((text.sd.split('.')[1] ?? '').length);
        },
      ),
    );
  });

  test('refuses what is no uncertainty', () => {
    expect(() => withUncertainty({ value: 1, sd: -0.1 })).toThrow(/at least 0 but received -0.1/);
    expect(() => withUncertainty({ value: 1, sd: NaN })).toThrow(RangeError);
    expect(() => withUncertainty({ value: NaN, sd: 1 })).toThrow(RangeError);
    expect(() => withUncertainty({ value: 1, sd: Infinity })).toThrow(RangeError);
  });
});

describe('halfWidth95', () => {
  test('value and half-width end at the same decimal, the unit stands once', () => {
    const interval = { value: 41.02, low95: 40.49, high95: 41.55 };
    expect(halfWidth95(interval, 'Hz')).toBe(`41.0${THIN}Hz ± 0.5`);
    expect(halfWidth95({ value: 0.059, low95: 0.0551, high95: 0.0629 })).toBe('0.059 ± 0.004');
  });

  test('tells the longer side of a lopsided interval', () => {
    expect(halfWidth95({ value: 10, low95: 9.9, high95: 10.6 }, 'mm')).toBe(`10.0${THIN}mm ± 0.6`);
    expect(halfWidth95({ value: 10, low95: 9.4, high95: 10.1 }, 'mm')).toBe(`10.0${THIN}mm ± 0.6`);
  });

  test('refuses a value outside its interval', () => {
    expect(() => halfWidth95({ value: 2, low95: 3, high95: 4 })).toThrow(/between 3 and 4 but received 2/);
    expect(() => halfWidth95({ value: NaN, low95: 3, high95: 4 })).toThrow(RangeError);
  });
});

describe('decimals and units', () => {
  test('a real minus sign, and none before a zero', () => {
    expect(decimals(-3.14159, 2)).toBe(`${MINUS}3.14`);
    expect(decimals(-0.004, 2)).toBe('0.00');
    expect(decimals(-0, 0)).toBe('0');
    expect(decimals(-0.006, 2)).toBe(`${MINUS}0.01`);
  });

  test('never says NaN or Infinity', () => {
    for (const value of [NaN, Infinity, -Infinity]) expect(() => decimals(value, 1)).toThrow(/finite number/);
  });

  test('a thin space before the unit', () => {
    expect(withUnit('41.0', 'Hz')).toBe(`41.0${THIN}Hz`);
    expect(withUnit('0.06', '')).toBe('0.06');
  });
});
