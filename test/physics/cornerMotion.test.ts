import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  distanceMm,
  rampLengthMm,
  rampTimeS,
  speedAt,
  travelMap,
  type CornerMotion,
} from '../../src/physics/cornerMotion.js';
import { shaperImpulses } from '../../src/physics/shapers.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

const motions = fc
  .record({
    speedMmPerS: fc.double({ min: 20, max: 400, noNaN: true }),
    share: fc.double({ min: 0, max: 1, noNaN: true }),
    accelerationMmPerS2: fc.double({ min: 300, max: 20_000, noNaN: true }),
  })
  .map(({ speedMmPerS, share, accelerationMmPerS2 }) => ({
    speedMmPerS,
    cornerSpeedMmPerS: speedMmPerS * share,
    accelerationMmPerS2,
  }));

const trains = fc
  .record({
    family: fc.constantFrom('ZV', 'ZVD', 'ZVDD', 'EI', '2-hump EI', '3-hump EI'),
    hz: fc.double({ min: 12, max: 120, noNaN: true }),
    dampingRatio: fc.double({ min: 0, max: 0.3, noNaN: true }),
  })
  .map((shaper) => shaperImpulses({ ...shaper, hzMeans: 'natural' }));

describe('a move from rest', () => {
  const rows = readCsv('trapezoid_motion.csv', [
    'v',
    'a',
    'd',
    'accel_distance_v2_over_2a',
    'accel_time_v_over_a',
    'peak_speed',
    'total_time',
  ]);

  test('has the ramp of the trapezoid', () => {
    // Source: test/reference/trapezoid_motion.csv, nine printed digits.
    for (const row of rows) {
      const motion = { speedMmPerS: row.v, cornerSpeedMmPerS: 0, accelerationMmPerS2: row.a };
      const why = 'nine printed digits';
      expectClose(rampLengthMm(motion), row.accel_distance_v2_over_2a, { rel: 1e-8, why });
      expectClose(rampTimeS(motion), row.accel_time_v_over_a, { rel: 1e-8, why });
      // The trapezoid is symmetric: at half its time it has come half its way, at its peak speed.
      const halfS = row.total_time / 2;
      expectClose(distanceMm(motion, halfS), row.d / 2, { rel: 1e-8, why });
      expectClose(speedAt(motion, halfS), row.peak_speed, { rel: 1e-8, why });
      const map = travelMap(motion, undefined, Float64Array.of(row.d / 2));
      expectClose(map.timeS, [halfS], { rel: 1e-8, why });
    }
  });

  test('passes the positions of the worked example in time', () => {
    // Source: REFERENCES §5: v 100, a 1000: t(1.25) 0.05, t(5) 0.1, t(50) 0.55 s.
    const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 0, accelerationMmPerS2: 1000 };
    const map = travelMap(motion, undefined, Float64Array.of(1.25, 5, 50));
    expectClose(map.timeS, [0.05, 0.1, 0.55], { abs: 1e-12, why: 'what travelMap promises' });
    expectClose(map.speedMmPerS, [50, 100, 100], { rel: 1e-12, why: 'v = √(2as)' });
  });
});

/** Distance by the midpoint rule over the speed; the speed is a sum of clipped ramps. */
function integratedMm(
  motion: CornerMotion,
  impulses: { readonly amplitudes: readonly number[]; readonly timesS: readonly number[] },
  endS: number,
): number {
  const steps = 20_000;
  let sum = 0;
  for (let k = 0; k < steps; k += 1) {
    const t = ((k + 0.5) * endS) / steps;
    impulses.timesS.forEach((time, i) => {
      if (t < time) return;
      const ramp = motion.cornerSpeedMmPerS + motion.accelerationMmPerS2 * (t - time);
      sum += (impulses.amplitudes[i]! * Math.min(ramp, motion.speedMmPerS) * endS) / steps;
    });
  }
  return sum;
}

describe('travelMap', () => {
  test('is where integration of the speed comes to', () => {
    // Source: numerical integration of the commanded speed, independent of the closed forms.
    fc.assert(
      fc.property(
        motions,
        fc.option(trains, { nil: undefined }),
        fc.double({ min: 0.05, max: 60, noNaN: true }),
        (motion, train, position) => {
          const map = travelMap(motion, train, Float64Array.of(position));
          const integrated = integratedMm(motion, train ?? { amplitudes: [1], timesS: [0] }, map.timeS[0]!);
          // The rule is exact on straight pieces; at each jump to the corner's speed it is off by half a step.
          const jump = (motion.speedMmPerS * map.timeS[0]!) / 20_000;
          expectClose(integrated, position, { abs: 1e-9 + jump, why: 'midpoint rule at jumps' });
        },
      ),
      { numRuns: 60 },
    );
  });

  test('inverts the distance to 1e-12 s', () => {
    fc.assert(
      fc.property(
        motions,
        fc.option(trains, { nil: undefined }),
        fc.array(fc.double({ min: 1e-6, max: 120, noNaN: true }), { minLength: 1, maxLength: 8 }),
        (motion, train, positions) => {
          const map = travelMap(motion, train, Float64Array.from(positions));
          const { amplitudes, timesS } = train ?? { amplitudes: [1], timesS: [0] };
          const at = (t: number): number =>
            amplitudes.reduce((sum, amplitude, i) => sum + amplitude * distanceMm(motion, t - timesS[i]!), 0);
          positions.forEach((position, i) => {
            const t = map.timeS[i]!;
            const why = 'a time off by more would be on the other side of the position';
            expect(at(t - 1e-12) - position, why).toBeLessThanOrEqual(1e-13);
            expect(at(t + 1e-12) - position, why).toBeGreaterThanOrEqual(-1e-13);
          });
        },
      ),
    );
  });

  test('agrees with a finite difference in its speed, and falls behind an unshaped move', () => {
    fc.assert(
      fc.property(
        motions,
        trains,
        fc.double({ min: 0.5, max: 80, noNaN: true }),
        (motion, train, position) => {
          const step = 1e-5;
          const map = travelMap(motion, train, Float64Array.of(position - step, position, position + step));
          const plain = travelMap(motion, undefined, Float64Array.of(position));
          expect(map.timeS[1]).toBeGreaterThanOrEqual(plain.timeS[0]! - 1e-12);
          expect(map.speedMmPerS[1]).toBeLessThanOrEqual(motion.speedMmPerS * (1 + 1e-12));
          // Where the speed jumps (an impulse passes) there is no derivative to compare.
          const times = [...train.timesS];
          if (times.some((time) => map.timeS[0]! <= time && time <= map.timeS[2]!)) return;
          const slope = (2 * step) / (map.timeS[2]! - map.timeS[0]!);
          const floor = 0.3 * motion.cornerSpeedMmPerS;
          if (slope < floor) expect(map.speedMmPerS[1]).toBe(floor);
          else expectClose(map.speedMmPerS[1]!, slope, { rel: 1e-4, abs: 1e-3, why: 'central difference' });
        },
      ),
    );
  });

  test('is unshaped for a single impulse at 0', () => {
    fc.assert(
      fc.property(motions, (motion) => {
        const positions = Float64Array.of(0, 0.1, 1, 10, 100);
        const one = { amplitudes: [1], timesS: [0] };
        expect(travelMap(motion, one, positions)).toEqual(travelMap(motion, undefined, positions));
      }),
    );
  });

  test('says where the nozzle is when the last impulse has passed', () => {
    // Source: closed form: corner speed = print speed, so s₀ = vt; ZV sends 1/2 at 0 and 1/2 at T/2 = 10 ms.
    const train = { amplitudes: [0.5, 0.5], timesS: [0, 0.01] };
    const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 100, accelerationMmPerS2: 3000 };
    expectClose(travelMap(motion, train, Float64Array.of()).lastImpulseMm, 0.5, {
      rel: 1e-14,
      why: 'rounding',
    });
    expect(travelMap(motion, undefined, Float64Array.of(1)).lastImpulseMm).toBe(0);
    fc.assert(
      fc.property(motions, trains, (some, any) => {
        const { lastImpulseMm } = travelMap(some, any, Float64Array.of());
        fc.pre(lastImpulseMm > 1e-6);
        const back = travelMap(some, any, Float64Array.of(lastImpulseMm));
        expectClose(back.timeS, [any.timesS.at(-1)!], { abs: 2e-12, why: 'what travelMap promises' });
      }),
    );
  });

  test('keeps a least speed where only a small first impulse drives', () => {
    // Source: the method study's rule, 0.3 of the corner's speed; EI's humps start with 0.16 of the command.
    const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 10, accelerationMmPerS2: 1000 };
    const train = shaperImpulses({ family: '2-hump EI', hz: 40, dampingRatio: 0, hzMeans: 'natural' });
    const map = travelMap(motion, train, Float64Array.of(0, -3, 50));
    expect(map.timeS[0]).toBe(0);
    expect(map.speedMmPerS[0]).toBe(3);
    expect(map.timeS[1]).toBe(0);
    expectClose(map.speedMmPerS[2]!, 100, { rel: 1e-14, why: 'rounding' });
  });

  test('does not change its input, and refuses an impossible motion', () => {
    const positions = Float64Array.of(-1, 2);
    const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 5, accelerationMmPerS2: 3000 };
    travelMap(motion, undefined, positions);
    expect(positions).toEqual(Float64Array.of(-1, 2));
    for (const wrong of [
      { speedMmPerS: 0 },
      { accelerationMmPerS2: 0 },
      { cornerSpeedMmPerS: -1 },
      { cornerSpeedMmPerS: 101 },
      { speedMmPerS: NaN },
    ]) {
      expect(() => travelMap({ ...motion, ...wrong }, undefined, positions)).toThrow(/Expected speed > 0/);
    }
  });
});

test('distance and speed are 0 before the corner', () => {
  const motion = { speedMmPerS: 100, cornerSpeedMmPerS: 5, accelerationMmPerS2: 3000 };
  expect(distanceMm(motion, -0.1)).toBe(0);
  expect(speedAt(motion, -0.1)).toBe(0);
  expect(speedAt(motion, 0)).toBe(5);
});
