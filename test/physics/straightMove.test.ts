import { describe, expect, test } from 'vitest';
import { reachedSpeed } from '../../src/physics/straightMove.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

/** Brute force: at each tiny step as fast as acceleration, the speed asked for and the way left allow. */
function walked(move: Parameters<typeof reachedSpeed>[0]) {
  const { lengthMm, speedMmPerS, startMmPerS, endMmPerS, accelerationMmPerS2: a } = move;
  const steps = 200_000;
  const ds = lengthMm / steps;
  let timeS = 0;
  let reachedMmPerS = 0;
  let steady = 0;
  for (let i = 0; i < steps; i += 1) {
    const s = (i + 0.5) * ds;
    const up = Math.sqrt(startMmPerS ** 2 + 2 * a * s);
    const down = Math.sqrt(endMmPerS ** 2 + 2 * a * (lengthMm - s));
    const v = Math.min(up, down, speedMmPerS);
    timeS += ds / v;
    reachedMmPerS = Math.max(reachedMmPerS, v);
    if (v === speedMmPerS) steady += 1;
  }
  return { timeS, reachedMmPerS, steadyMm: steady * ds };
}

describe('reachedSpeed', () => {
  test('from rest to rest', () => {
    // Source: test/reference/trapezoid_motion.csv, nine printed digits.
    for (const row of readCsv('trapezoid_motion.csv', ['v', 'a', 'd', 'peak_speed', 'total_time'])) {
      const result = reachedSpeed({
        lengthMm: row.d,
        speedMmPerS: row.v,
        startMmPerS: 0,
        endMmPerS: 0,
        accelerationMmPerS2: row.a,
      });
      expectClose([result.reachedMmPerS, result.timeS], [row.peak_speed, row.total_time], {
        rel: 1e-8,
        why: 'printed digits',
      });
    }
  });

  test.each([
    [84, 110, 6, 6, 6000],
    [20, 300, 10, 2, 3000],
    [5, 110, 6, 110, 6000],
    [3, 200, 50, 5, 1000],
    [40, 100, 100, 100, 500],
  ])('%f mm at %f mm/s from %f to %f with %f', (lengthMm, speedMmPerS, startMmPerS, endMmPerS, accel) => {
    const move = { lengthMm, speedMmPerS, startMmPerS, endMmPerS, accelerationMmPerS2: accel };
    const { timeS, reachedMmPerS, steadyMm } = reachedSpeed(move);
    const expected = walked(move);
    expectClose([timeS, reachedMmPerS], [expected.timeS, expected.reachedMmPerS], {
      rel: 2e-5,
      why: 'steps of 1/200,000 of the way',
    });
    expectClose(steadyMm, expected.steadyMm, { abs: 3e-5 * lengthMm, why: 'two steps at the ends' });
  });

  test('too short to change its speed so far, it changes evenly', () => {
    const result = reachedSpeed({
      lengthMm: 1,
      speedMmPerS: 100,
      startMmPerS: 90,
      endMmPerS: 10,
      accelerationMmPerS2: 100,
    });
    expect(result).toEqual({ reachedMmPerS: 90, steadyMm: 0, timeS: 0.02 });
  });

  test('speeds at the ends above its own count as its own', () => {
    const result = reachedSpeed({
      lengthMm: 50,
      speedMmPerS: 10,
      startMmPerS: 200,
      endMmPerS: 200,
      accelerationMmPerS2: 100,
    });
    expect(result).toEqual({ reachedMmPerS: 10, steadyMm: 50, timeS: 5 });
  });

  test.each([
    [{ speedMmPerS: 0 }],
    [{ accelerationMmPerS2: -1 }],
    [{ lengthMm: -1 }],
    [{ startMmPerS: NaN }],
  ])('%j is no move', (wrong) => {
    const move = {
      lengthMm: 1,
      speedMmPerS: 1,
      startMmPerS: 0,
      endMmPerS: 0,
      accelerationMmPerS2: 1,
      ...wrong,
    };
    expect(() => reachedSpeed(move)).toThrow(RangeError);
  });
});
