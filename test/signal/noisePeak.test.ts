import { describe, expect, test } from 'vitest';
import { noisePeakChance } from '../../src/signal/noisePeak.js';
import { expectClose } from '../helpers/closeTo.js';

describe('noisePeakChance', () => {
  test('with a floor that is known well, it is the bound for the maximum of noise', () => {
    // Source: closed form, 1 − exp(−(1 + 2√π Bτ √z) e^{−z}) with z = ratio² ln 2 (median of an exponential).
    for (const [ratio, cycles] of [
      [2, 0],
      [3.5, 20],
      [4, 5],
    ] as const) {
      const z = ratio * ratio * Math.LN2;
      const expected = 1 - Math.exp(-(1 + 2 * Math.sqrt(Math.PI * z) * cycles) * Math.exp(-z));
      // Var(z) = z²/(n ln² 2) changes the mean by less than z²/n.
      expectClose(noisePeakChance(ratio, cycles, 20000), expected, { rel: 0.01, why: 'n is not infinite' });
    }
  });

  test('for one frequency and a floor of one or three amplitudes, it is a series of Beta functions', () => {
    // Source: closed form. E[(1 − U)^s] is 1/(1 + s) for U ~ Beta(1, 1) and 6/((2 + s)(3 + s)) for Beta(2, 2);
    // 1 − exp(−x) = x − x²/2 + x³/6 − …
    const beta = { 1: (s: number) => 1 / (1 + s), 3: (s: number) => 6 / ((2 + s) * (3 + s)) };
    for (const ratio of [1, 2, 4]) {
      for (const n of [1, 3] as const) {
        let expected = 0;
        for (let k = 1, term = 1; k < 20; k += 1) {
          term /= k;
          expected += (k % 2 === 1 ? term : -term) * beta[n](k * ratio * ratio);
        }
        expectClose(noisePeakChance(ratio, 0, n), expected, {
          rel: 0.01,
          why: 'midpoint rule with 200 places',
        });
      }
    }
  });

  test('falls with the ratio and with better known floors, and rises with the band', () => {
    // Source: the more places, the higher their maximum; an uncertain floor is sometimes low.
    expect(noisePeakChance(5, 20, 30)).toBeLessThan(noisePeakChance(4, 20, 30));
    expect(noisePeakChance(5, 20, 60)).toBeLessThan(noisePeakChance(5, 20, 30));
    expect(noisePeakChance(5, 40, 30)).toBeGreaterThan(noisePeakChance(5, 20, 30));
    expect(noisePeakChance(0, 20, 30)).toBeGreaterThan(0.6);
  });
});
