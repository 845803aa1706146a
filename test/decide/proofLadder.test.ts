import { describe, expect, test } from 'vitest';
import { afterSteps } from '../../src/decide/afterSteps.js';
import { decideShapers } from '../../src/decide/decideShapers.js';
import { proofLadder, type ProofNeeds } from '../../src/decide/proofLadder.js';
import { SHAPER_FAMILIES } from '../../src/physics/shapers.js';
import { bareRefusal } from '../report/fixtures.js';
import { readingOf } from './fixtures.js';

const NEEDS: ProofNeeds = {
  bottomMm: 0,
  topMm: 64,
  highestMmPerS2: 8000,
  speedMmPerS: 110,
  cornerSpeedMmPerS: 6,
  naturalHz: [41],
};

/** Source: REFERENCES §5, test/reference/corner_ringing_amplitude.csv: X = (2a/ω²)|sin(ω Δv/(2a))|, here ÷ its envelope. */
const excited = (hz: number, mmPerS2: number, speed: number) =>
  Math.abs(Math.sin((Math.PI * hz * (speed - 6)) / mmPerS2));

describe('proofLadder', () => {
  test('climbs to the limit, never above it, without gaps', () => {
    const { steps } = proofLadder(NEEDS)!;
    expect(steps).toHaveLength(8);
    expect(steps.at(-1)).toEqual({ fromMm: 56, toMm: 64, mmPerS2: 8000 });
    steps.slice(1).forEach((step, i) => {
      expect(step.fromMm).toBe(steps[i]!.toMm);
      expect(step.mmPerS2).toBeGreaterThan(1.1 * steps[i]!.mmPerS2);
    });
    expect(steps[0]!.mmPerS2).toBeLessThan(8000 / 5);
  });

  test.each([
    [5000, [41, 46]],
    [4264, [41]],
    [12_000, [28, 60]],
    [2132, [41]],
    [900, [33]],
  ] as const)(
    'up to %d mm/s² at %j Hz every step that a shaper could fail at excites the axes',
    (highest, naturalHz) => {
      const { steps, speedMmPerS } = proofLadder({ ...NEEDS, highestMmPerS2: highest, naturalHz })!;
      expect(steps.at(-1)!.mmPerS2).toBe(highest);
      expect(speedMmPerS).toBeLessThanOrEqual(110);
      for (const { mmPerS2 } of steps) {
        for (const hz of naturalHz) {
          // Shorter ramps than 2.15 swings are kept off the nulls; longer ones excite little anyhow.
          if ((hz * (speedMmPerS - 6)) / mmPerS2 < 2.1) {
            expect(excited(hz, mmPerS2, speedMmPerS), `${mmPerS2} mm/s², ${hz} Hz`).toBeGreaterThan(0.3);
          }
        }
      }
    },
  );

  test('the speed is kept where it shows the limit', () => {
    expect(proofLadder(NEEDS)!.speedMmPerS).toBe(110);
    expect(proofLadder({ ...NEEDS, highestMmPerS2: 4264 })!.speedMmPerS).toBeLessThan(96);
  });

  test('takes fewer and lower steps on a low tower, and none where two do not fit', () => {
    expect(proofLadder({ ...NEEDS, topMm: 24 })!.steps).toHaveLength(3);
    expect(proofLadder({ ...NEEDS, bottomMm: 2, topMm: 15 })!.steps.map(({ fromMm }) => fromMm)).toEqual([
      2, 8.5,
    ]);
    expect(proofLadder({ ...NEEDS, topMm: 11 })).toBeUndefined();
  });
});

describe('afterSteps', () => {
  const limits = { families: SHAPER_FAMILIES };

  test('plans a proof only up to a limit that was told', () => {
    expect(afterSteps(decideShapers([readingOf()], limits)).proof).toEqual({
      state: 'not-planned',
      why: 'no-limit',
    });
    const told = { ...limits, maxAccelerationMmPerS2: 6500 };
    const { proof } = afterSteps(decideShapers([readingOf()], told));
    expect(proof).toMatchObject({ state: 'planned' });
    expect(proof.state === 'planned' && proof.steps.at(-1)!.mmPerS2).toBe(6500);
    expect(afterSteps(decideShapers([bareRefusal()], told)).proof).toEqual({
      state: 'not-planned',
      why: 'nothing-to-enter',
    });
    const low = readingOf({ record: { face: { widthMm: 84, heightMm: 10, leadingCorner: 'left' } } });
    expect(afterSteps(decideShapers([low], told)).proof).toEqual({ state: 'not-planned', why: 'too-low' });
    const unknown = readingOf({ record: { face: { widthMm: 84, leadingCorner: 'left' } } });
    const { ...record } = unknown.printRecord;
    delete record.layers;
    expect(afterSteps(decideShapers([{ ...unknown, printRecord: record }], told)).proof).toEqual({
      state: 'not-planned',
      why: 'no-height',
    });
  });
});
