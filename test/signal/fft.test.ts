import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { nextPowerOfTwo, realSpectrum } from '../../src/signal/fft.js';
import { expectClose } from '../helpers/closeTo.js';

/** The definition of the transform, summed term by term. */
function directSum(samples: Float64Array, bin: number): [number, number] {
  let [re, im] = [0, 0];
  samples.forEach((value, i) => {
    // The product is reduced first, so that the angle keeps its digits.
    const angle = (-2 * Math.PI * ((bin * i) % samples.length)) / samples.length;
    re += value * Math.cos(angle);
    im += value * Math.sin(angle);
  });
  return [re, im];
}

const samplesOf = (n: number) =>
  fc.float64Array({ minLength: n, maxLength: n, min: -1e3, max: 1e3, noNaN: true });

describe('realSpectrum', () => {
  test('agrees with the definition at every bin, the last one included', () => {
    // Source: definition of the discrete Fourier transform.
    fc.assert(
      fc.property(
        fc.constantFrom(4, 8, 16, 32, 64, 128).chain((n) => samplesOf(n)),
        (samples) => {
          const { re, im } = realSpectrum(samples);
          const expected = Array.from(re, (_, k) => directSum(samples, k));
          const scale = 1e-12 * (1 + samples.reduce((sum, value) => sum + Math.abs(value), 0));
          const why = 'rounding of n terms';
          expectClose(
            re,
            expected.map(([part]) => part),
            { abs: scale, why },
          );
          expectClose(
            im,
            expected.map(([, part]) => part),
            { abs: scale, why },
          );
          expect(re).toHaveLength(samples.length / 2 + 1);
        },
      ),
      { numRuns: 60 },
    );
  });

  test('keeps the energy', () => {
    // Source: Parseval's theorem; inner bins stand for two of the two-sided spectrum.
    fc.assert(
      fc.property(samplesOf(256), (samples) => {
        const { re, im } = realSpectrum(samples);
        const energy = samples.reduce((sum, value) => sum + value * value, 0);
        const spectral = re.reduce(
          (sum, value, k) => sum + (k === 0 || k === 128 ? 1 : 2) * (value * value + im[k]! * im[k]!),
          0,
        );
        expectClose(spectral / 256, energy, { rel: 1e-12, abs: 1e-9, why: 'rounding' });
      }),
    );
  });

  test('a result does not change when other sizes follow, more than are kept', () => {
    const samples = Float64Array.from({ length: 64 }, (_, i) => Math.cos(0.3 * i) + 0.01 * i);
    const first = realSpectrum(samples);
    const kept = first.re.slice();
    for (let n = 4; n <= 8192; n *= 2) realSpectrum(new Float64Array(n).fill(n));
    expect(first.re).toEqual(kept);
    expect(realSpectrum(samples)).toEqual(first);
  });

  test.each([0, 2, 3, 5, 12, 100])('refuses %i samples', (n) => {
    expect(() => realSpectrum(new Float64Array(n))).toThrow(
      /power of two of at least 4 samples but received/,
    );
  });
});

describe('nextPowerOfTwo', () => {
  test('is the smallest power of two that holds n', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 2 ** 30 }), (n) => {
        const power = nextPowerOfTwo(n);
        expect(Number.isInteger(Math.log2(power))).toBe(true);
        expect(power >= n && power / 2 < n).toBe(true);
      }),
    );
  });

  test.each([0, -1, NaN, 2 ** 30 + 1])('refuses %d', (n) => {
    expect(() => nextPowerOfTwo(n)).toThrow(RangeError);
  });
});
