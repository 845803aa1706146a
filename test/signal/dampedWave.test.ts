import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dampedWave } from '../../src/signal/dampedWave.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

/** Source: definition, e^{−σt} (cos ωt + j sin ωt), by Math.exp, Math.cos and Math.sin at each time. */
function expectWave(timeS: Float64Array, decayPerS: number, omega: number): void {
  const { re, im } = dampedWave(timeS, decayPerS, omega);
  expect([re.length, im.length]).toEqual([timeS.length, timeS.length]);
  const why = 'times are even to 1e-12 s, rounding over 32 turns 1e-14';
  timeS.forEach((t, i) => {
    const size = Math.exp(-decayPerS * t);
    const abs = size * (1e-12 * (omega + decayPerS) + 3e-14);
    expectClose(re[i]!, size * Math.cos(omega * t), { abs, why });
    expectClose(im[i]!, size * Math.sin(omega * t), { abs, why });
  });
}

describe('dampedWave', () => {
  const waves = fc.tuple(
    fc.double({ min: 0, max: 300, noNaN: true }),
    fc.double({ min: 50, max: 1300, noNaN: true }),
  );

  test('at evenly spaced times, for any length', () => {
    fc.assert(
      fc.property(
        fc.nat({ max: 200 }),
        waves,
        fc.double({ min: 1e-4, max: 5e-3, noNaN: true }),
        (n, wave, stepS) => {
          expectWave(
            Float64Array.from({ length: n }, (_, i) => 0.02 + i * stepS),
            ...wave,
          );
        },
      ),
    );
  });

  test('at times that are uneven, gapped, jittered, falling or all the same', () => {
    const random = seeded(4);
    const even = Float64Array.from({ length: 150 }, (_, i) => 0.02 + 0.001 * i);
    const times = [
      even.map((t) => t + 0.1 * t * t),
      even.map((t, i) => (i < 70 ? t : t + 0.0137)),
      even.map((t, i) => (i < 40 ? 0.02 + 3e-5 * i * i : t)),
      even.map((t) => t + 1e-13 * random.normal()),
      even.map((t) => t + 1e-6 * random.normal()),
      even.toReversed(),
      even.map(() => 0.05),
    ];
    for (const timeS of times) expectWave(timeS, 25, 260);
  });
});
