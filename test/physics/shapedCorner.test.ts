import { describe, expect, test } from 'vitest';
import { accelerationForRounding, shapedCorner } from '../../src/physics/shapedCorner.js';
import { shaperImpulses, type ShaperFamily } from '../../src/physics/shapers.js';
import { expectClose } from '../helpers/closeTo.js';
import { driveCorner } from '../synth/cornerPath.js';
import { shaperOf } from '../synth/shapers.js';

const impulses = (family: ShaperFamily, hz: number, dampingRatio: number) =>
  shaperImpulses({ family, hz, dampingRatio, hzMeans: 'natural' });
const alike = (family: ShaperFamily, hz: number, dampingRatio: number) => {
  const both = impulses(family, hz, dampingRatio);
  return { incoming: both, outgoing: both };
};

describe('shapedCorner', () => {
  test.each([
    ['ZV', 16],
    ['ZVD', 32],
  ] as const)('of %s without damping is √2 a L² ÷ %d', (family, divisor) => {
    // Source: closed form in the docstring: constant acceleration, equal shares about the middle of the shaper.
    const shapers = alike(family, 40, 0);
    const lengthS = shapers.incoming.timesS.at(-1)!;
    const motion = { speedMmPerS: 500, cornerSpeedMmPerS: 0, accelerationMmPerS2: 5000 };
    expectClose(shapedCorner(motion, shapers).roundingMm, (Math.SQRT2 * 5000 * lengthS ** 2) / divisor, {
      rel: 1e-9,
      why: 'the minimum is found to rounding',
    });
  });

  const cases = (['ZV', 'ZVD', 'ZVDD', 'EI', '2-hump EI', '3-hump EI'] as const).flatMap((family) =>
    (
      [
        // Two axes of unlike frequency, a corner at rest; a fast one on ramps shorter than the shaper; a slow axis.
        [41, 33, 0.05, 0, 6000],
        [52, 60, 0.1, 20, 12_000],
        [22, 22, 0.1, 6, 1500],
      ] as const
    ).map((rest) => [family, ...rest] as const),
  );

  test.each(cases)(
    '%s, %d and %d Hz, damping %d, corner speed %d mm/s, %d mm/s²: the motion driven step by step',
    (family, oneHz, otherHz, zeta, cornerSpeedMmPerS, accelerationMmPerS2) => {
      // Source: numerical integration apart from this code (test/synth/cornerPath.ts), shapers written out again there.
      const motion = { speedMmPerS: 110, cornerSpeedMmPerS, accelerationMmPerS2 };
      const driven = driveCorner(
        motion,
        shaperOf(family, oneHz, zeta),
        shaperOf(family, otherHz, zeta),
        { naturalHz: oneHz, dampingRatio: zeta },
        5e-6,
      );
      const found = shapedCorner(motion, {
        incoming: impulses(family, oneHz, zeta),
        outgoing: impulses(family, otherHz, zeta),
      });
      expectClose(found.roundingMm, driven.commandedMm, { abs: 1e-4, why: 'steps of 5 µs at 110 mm/s' });
      const nearest = Math.min(...found.path.map(([before, behind]) => Math.hypot(before, behind)));
      expectClose(nearest, found.roundingMm, { rel: 0.01, why: '48 points of a round path' });
      // The nozzle leads its command where it brakes: "at most" is right.
      expect(driven.nozzleMm).toBeLessThan(driven.commandedMm);
    },
  );

  test('one impulse rounds nothing to speak of, and the path begins and ends on the walls', () => {
    const one = { amplitudes: [1], timesS: [0] };
    const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 5, accelerationMmPerS2: 3000 };
    expect(shapedCorner(motion, { incoming: one, outgoing: one }).roundingMm).toBe(0);
    const { path } = shapedCorner(motion, alike('ZVD', 35, 0.08));
    expect(path[0]![1]).toBe(0);
    expectClose(path.at(-1)![0], 0, { abs: 1e-12, why: 'rounding' });
    path.slice(1).forEach(([before, behind], i) => {
      expect(before).toBeLessThanOrEqual(path[i]![0]);
      expect(behind).toBeGreaterThanOrEqual(path[i]![1]);
    });
  });
});

describe('accelerationForRounding', () => {
  const speeds = { speedMmPerS: 110, cornerSpeedMmPerS: 6 };

  test('is where the rounding is what is allowed', () => {
    for (const family of ['ZV', 'EI', '3-hump EI'] as const) {
      const shapers = alike(family, 37, 0.07);
      const at = accelerationForRounding(speeds, shapers, 0.2);
      expectClose(shapedCorner({ ...speeds, accelerationMmPerS2: at }, shapers).roundingMm, 0.2, {
        abs: 1e-6,
        why: 'the rounding is found to 1e-7',
      });
    }
  });

  test('is 0 where the corner speed cuts by more, and no limit where nothing does', () => {
    const shapers = alike('ZVD', 37, 0.07);
    expect(accelerationForRounding({ ...speeds, cornerSpeedMmPerS: 60 }, shapers, 0.2)).toBe(0);
    // At 5 mm/s nothing moves farther than 5 mm/s times the shaper's length, 0.14 mm.
    const slow = { speedMmPerS: 5, cornerSpeedMmPerS: 1 };
    expect(accelerationForRounding(slow, shapers, 0.2)).toBe(Infinity);
  });
});
