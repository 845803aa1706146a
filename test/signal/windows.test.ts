import { describe, expect, test } from 'vitest';
import { realSpectrum } from '../../src/signal/fft.js';
import { halfHann, hann } from '../../src/signal/windows.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

const sum = (values: Float64Array): number => values.reduce((total, value) => total + value, 0);

describe('hann', () => {
  test('has the gain, noise bandwidth and scalloping loss of the literature', () => {
    // Source: Harris 1978, table I, recomputed: test/reference/windows.csv (six decimals).
    const row = readCsv('windows.csv', ['coherent_gain', 'enbw_bins', 'scalloping_dB'], ['window']).find(
      ({ window }) => window === 'hann',
    )!;
    const n = 4096;
    const window = hann(n);
    const why = 'last printed digit';
    const gain = sum(window) / n;
    expectClose(gain, row.coherent_gain, { abs: 5e-7, why });
    const energy = sum(window.map((value) => value * value));
    expectClose((n * energy) / sum(window) ** 2, row.enbw_bins, { abs: 5e-7, why });
    // Half a bin off: the spectrum of the window padded to twice its length, at its first odd bin.
    const padded = new Float64Array(2 * n);
    padded.set(window);
    const { re, im } = realSpectrum(padded);
    const loss = -20 * Math.log10(Math.hypot(re[1]!, im[1]!) / re[0]!);
    expectClose(loss, row.scalloping_dB, { abs: 5e-7, why });
  });

  test('is periodic: 0 at the first sample, 1 in the middle, and no second 0', () => {
    // Source: closed form.
    expectClose(hann(4), [0, 0.5, 1, 0.5], { abs: 1e-15, why: 'rounding' });
  });
});

describe('halfHann', () => {
  test('is the second half of a Hann window of twice the length', () => {
    // Source: Hann window, as above.
    expectClose(halfHann(100), hann(200).subarray(100), { abs: 1e-15, why: 'rounding' });
  });

  test('falls from 1 at the corner', () => {
    // Source: closed form, cos 0, cos π/4 …
    expectClose(halfHann(4), [1, 0.853553390593273, 0.5, 0.146446609406726], { abs: 1e-14, why: 'rounding' });
  });
});

test.each([hann, halfHann])('%o refuses a length that is no whole number of samples', (window) => {
  for (const n of [0, -1, 2.5, NaN]) expect(() => window(n)).toThrow(/whole number of samples/);
});
