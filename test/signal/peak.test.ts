import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { realSpectrum } from '../../src/signal/fft.js';
import { interpolatePeak } from '../../src/signal/peak.js';
import { hann } from '../../src/signal/windows.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

/** Power spectrum of a complex tone e^{2πj(16+d)i/64} under a window: transforms of both parts, put together. */
function tonePower(d: number, window: Float64Array): number[] {
  const angle = (i: number): number => (2 * Math.PI * (16 + d) * i) / 64;
  const a = realSpectrum(window.map((w, i) => w * Math.cos(angle(i))));
  const b = realSpectrum(window.map((w, i) => w * Math.sin(angle(i))));
  return Array.from(a.re, (_, k) => (a.re[k]! - b.im[k]!) ** 2 + (a.im[k]! + b.re[k]!) ** 2);
}

describe('interpolatePeak', () => {
  test.each([
    ['hann', hann(64)],
    ['rect', new Float64Array(64).fill(1)],
  ])('has the bias of the log parabola under a %s window, no more and no less', (name, window) => {
    // Source: test/reference/peak_interpolation_bias.csv, noise-free tone at bin 16 + d of 64, |d| ≤ 0.499.
    const row = readCsv('peak_interpolation_bias.csv', ['max_abs_bias_bins'], ['window', 'estimator']).find(
      (one) => one.window === name && one.estimator === 'parabola_logmag',
    )!;
    let worst = 0;
    for (let k = -499; k <= 499; k += 1) {
      const d = k / 1000;
      worst = Math.max(worst, Math.abs(interpolatePeak(tonePower(d, window), 16) - d));
    }
    expectClose(worst, row.max_abs_bias_bins, { rel: 1e-4, why: 'the two grids of d differ' });
  });

  test('is exact for a Gaussian peak, whatever its scale, and the same for amplitude and power', () => {
    // Source: closed form: the logarithm of a Gaussian is a parabola.
    fc.assert(
      fc.property(
        fc.double({ min: -0.5, max: 0.5, noNaN: true }),
        fc.double({ min: 1e-6, max: 1e6, noNaN: true }),
        (d, scale) => {
          const power = [-1, 0, 1].map((k) => scale * Math.exp(-((k - d) ** 2)));
          expectClose(interpolatePeak(power, 1), d, { abs: 1e-12, why: 'rounding of logarithms' });
          expectClose(interpolatePeak(power.map(Math.sqrt), 1), d, { abs: 1e-12, why: 'rounding' });
        },
      ),
    );
  });

  test('gives 0 where there is nothing to interpolate', () => {
    expect(interpolatePeak([3, 1, 2], 0)).toBe(0);
    expect(interpolatePeak([1, 2, 3], 2)).toBe(0);
    expect(interpolatePeak([0, 3, 1], 1)).toBe(0);
    expect(interpolatePeak([0, 0, 0], 1)).toBe(0);
    expect(interpolatePeak([2, 1, 2], 1)).toBe(0);
    expect(interpolatePeak([1, 1, 1], 1)).toBe(0);
  });

  test('stays within half a bin when the index is not the highest bin', () => {
    expect(interpolatePeak([1, 100, 150, 2], 1)).toBe(0.5);
    expect(interpolatePeak([2, 150, 100, 1], 2)).toBe(-0.5);
  });

  test.each([-1, 3, 0.5])('refuses bin %d of 3', (index) => {
    expect(() => interpolatePeak([1, 2, 1], index)).toThrow(/a bin from 0 to 2/);
  });
});
