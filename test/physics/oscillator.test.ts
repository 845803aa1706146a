import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  dampedHz,
  dampingFromDecrement,
  naturalHz,
  ringAfterSpeedChangeMm,
} from '../../src/physics/oscillator.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

describe('damping', () => {
  test('agrees with the table of decrements and frequency ratios', () => {
    // Source: test/reference/log_decrement.csv, eight printed digits.
    for (const row of readCsv('log_decrement.csv', ['zeta', 'delta', 'fd_over_fn'])) {
      expectClose(dampingFromDecrement(row.delta), row.zeta, { rel: 1e-7, why: 'eight printed digits' });
      expectClose(dampedHz(40, row.zeta) / 40, row.fd_over_fn, { rel: 1e-7, why: 'eight printed digits' });
    }
  });

  test('of a motorcycle’s shock absorber', () => {
    // Source: Rao, Mechanical Vibrations, ch. 2, "Shock absorber for a motorcycle" (from memory, recomputed):
    // amplitude to 1/4 in half a cycle, damped period 2 s; ζ = 0.4037, ω = 3.4339 rad/s.
    const zeta = dampingFromDecrement(Math.log(16));
    expectClose(zeta, 0.4037, { abs: 5e-5, why: 'four printed digits' });
    expectClose(2 * Math.PI * naturalHz(0.5, zeta), 3.4339, { abs: 5e-5, why: 'four printed digits' });
  });

  test('of two measured peaks', () => {
    // Source: AER 403 (Ryerson), lecture 12, example 8.4: peaks 0.85 and 0.45, printed 0.101.
    expectClose(dampingFromDecrement(Math.log(0.85 / 0.45)), 0.1007, {
      abs: 5e-5,
      why: 'four printed digits',
    });
  });

  test('damped and natural frequency are inverses', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 500, noNaN: true }),
        fc.double({ min: 0, max: 0.9, noNaN: true }),
        (hz, zeta) => {
          expectClose(naturalHz(dampedHz(hz, zeta), zeta), hz, { rel: 1e-14, why: 'rounding' });
          expect(dampedHz(hz, zeta)).toBeLessThanOrEqual(hz);
        },
      ),
    );
  });
});

describe('ringAfterSpeedChangeMm', () => {
  test('agrees with quadrature of the convolution', () => {
    // Source: test/reference/corner_ringing_amplitude.csv, column X_quad.
    for (const row of readCsv('corner_ringing_amplitude.csv', ['dv', 'a', 'f', 'X_quad'])) {
      const ring = ringAfterSpeedChangeMm({ deltaMmPerS: row.dv, accelerationMmPerS2: row.a, hz: row.f });
      // Where the ramp lasts whole swings the answer is 0, and the quadrature leaves 1e-13 of rounding.
      expectClose(ring, row.X_quad, { abs: 1e-9, why: 'nine printed decimals' });
    }
  });

  test('comes to Δv/ω for a sudden change', () => {
    // Source: the same file, column impulse_limit.
    for (const row of readCsv('corner_ringing_amplitude.csv', ['dv', 'f', 'impulse_limit'])) {
      const ring = ringAfterSpeedChangeMm({ deltaMmPerS: row.dv, accelerationMmPerS2: 1e9, hz: row.f });
      expectClose(ring, row.impulse_limit, { abs: 1e-9, why: 'nine printed decimals' });
    }
  });
});
