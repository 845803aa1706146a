import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { cornerSwing } from '../../src/physics/cornerSwing.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';
import { cornerResponse, rateAtCorner } from '../synth/motion.js';

describe('the swing that a corner leaves', () => {
  // Source: test/reference/corner_ringing_amplitude.csv, closed form and quadrature: X = (2a/ω²)|sin(ωΔv/2a)|.
  const rows = readCsv('corner_ringing_amplitude.csv', ['dv', 'a', 'f', 'X_closed']);
  test('there are rows to check', () => {
    expect(rows.length).toBeGreaterThanOrEqual(6);
  });
  test.each(rows)('Δv $dv mm/s at $a mm/s², $f Hz', ({ dv, a, f, X_closed: wanted }) => {
    const motion = { speedMmPerS: dv, cornerSpeedMmPerS: 0, accelerationMmPerS2: a };
    // From rate ÷ speed to displacement: times v, ÷ ω.
    const swing = (cornerSwing(motion, f, 0) * dv) / (2 * Math.PI * f);
    expectClose(swing, wanted, { abs: 1e-9, rel: 1e-6, why: 'nine digits in the table; an impulse there' });
  });

  // Source: fourth-order Runge–Kutta of the axis through the corner (test/synth/motion.ts, which knows no closed form).
  test('with damping and a corner speed, it is what integration step by step leaves', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 40, max: 200 }),
        fc.double({ min: 0, max: 0.4, noNaN: true }),
        fc.integer({ min: 1000, max: 12_000 }),
        fc.double({ min: 20, max: 70, noNaN: true }),
        fc.double({ min: 0.01, max: 0.2, noNaN: true }),
        (speedMmPerS, share, accelerationMmPerS2, naturalHz, dampingRatio) => {
          const motion = { speedMmPerS, cornerSpeedMmPerS: share * speedMmPerS, accelerationMmPerS2 };
          const mode = { naturalHz, dampingRatio };
          const response = cornerResponse({ ...motion, widthMm: 80 }, mode, 0.01);
          const wanted = rateAtCorner(response, mode, [{ share: 1, lateS: 0 }]) / speedMmPerS;
          expectClose(cornerSwing(motion, naturalHz, dampingRatio), wanted, {
            abs: 1e-6,
            rel: 1e-4,
            why: 'straight lines between steps of 20 µs there',
          });
        },
      ),
      { seed: 5, numRuns: 60 },
    );
  });
});
