import { describe, expect, it } from 'vitest';
import { makePlan, type Plan, type PlanNeeds } from '../../src/planning/makePlan.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { drawChecklist } from '../../src/report/checklist.js';
import { planWords } from '../../src/report/planReport.js';
import { expectClose } from '../helpers/closeTo.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

const NEEDS: PlanNeeds = {
  axes: ['X', 'Y'],
  machine: 'north bench 3',
  maxAccelerationMmPerS2: 6000,
  maxSpeedMmPerS: 200,
  layerHeightMm: 0.2,
  nozzleMm: 0.4,
  bedMm: [220, 220],
  cornerSpeedMmPerS: 6,
};

describe('makePlan', () => {
  const plain = makePlan(NEEDS);
  const guessed = makePlan({ ...NEEDS, ideaHz: [42, 36] });
  const plans: readonly (readonly [string, Plan])[] = [
    ['without an idea', plain],
    ['with an idea for each axis', guessed],
  ];

  it.each(plans)('keeps the limits told and the rules of a good test, %s', (_, plan) => {
    const { speedMmPerS, accelerationMmPerS2, rangeHz, ladder, ramp } = plan;
    expect(speedMmPerS).toBeLessThanOrEqual(200);
    expect(accelerationMmPerS2).toBeLessThanOrEqual(6000);
    // Source: DESIGN 5.5 and the closed form of a ramp: f (v − v_c)/a whole swings.
    const swings = (hz: number) => (hz * (speedMmPerS - 6)) / accelerationMmPerS2;
    expectClose(ramp.swings[1], swings(rangeHz.high), { rel: 1e-12, why: 'the same formula' });
    for (let hz = rangeHz.low; hz <= rangeHz.high; hz += 0.1) {
      const n = swings(hz);
      expect(Math.min(Math.abs(n - 1), Math.abs(n - 2))).toBeGreaterThan(0.149);
    }
    expect(ladder.fromHz).toBeLessThan(rangeHz.low);
    expect(ladder.toHz).toBeGreaterThan(rangeHz.high);
    // A longest ZV train is half a damped period of the ladder's lowest frequency: Singer & Seering 1990 (from memory).
    expectClose(plan.maskedMm, speedMmPerS / (2 * ladder.fromHz * Math.sqrt(1 - 0.1 ** 2)), {
      rel: 1e-9,
      why: 'the same formula',
    });
    expect(plan.tower.widthMm).toBeLessThan(220);
    expectClose(plan.tower.layerS, (4 * plan.tower.widthMm) / speedMmPerS, { rel: 1e-12, why: 'four walls' });
  });

  it('writes one record for each axis that may be measured with as it stands', () => {
    expect(plain.records.map(({ axis }) => axis)).toEqual(['X', 'Y']);
    for (const record of plain.records) expect(checkPrintRecord(record)).toEqual(record);
    const [x, y] = plain.records;
    expect({ ...x, axis: 'Y' }).toEqual(y);
    expect(x).toMatchObject({
      machine: 'north bench 3',
      speedMmPerS: plain.speedMmPerS,
      face: { widthMm: plain.tower.widthMm, leadingCorner: 'left' },
      ladder: { kind: 'linear', fromHz: plain.ladder.fromHz, toHz: plain.ladder.toHz },
    });
  });

  it('an idea is give or take 30 %, and a better idea or a higher tower is expected to tell more', () => {
    expectClose(guessed.rangeHz.low, 0.7 * 36, { rel: 1e-12, why: 'the lower idea' });
    expectClose(guessed.rangeHz.high, 1.3 * 42, { rel: 1e-12, why: 'the higher idea' });
    for (const plan of [plain, guessed]) {
      const [narrow, taken, wide] = plan.choices.range.map(({ sdHz }) => sdHz!);
      expect(narrow).toBeLessThan(taken!);
      expect(taken).toBeLessThan(wide!);
      const [low, usual, high] = plan.choices.height.map(({ sdHz }) => sdHz!);
      expect(high).toBeLessThan(usual!);
      expect(usual).toBeLessThan(low!);
      for (const options of Object.values(plan.choices)) {
        expect(options.filter(({ taken: one }) => one)).toHaveLength(1);
      }
      expect(plan.expected[1].sdHz).toBeGreaterThan(0.1);
      expect(plan.expected[1].sdHz).toBeLessThan(0.6);
    }
  });

  it('a reading makes a narrower ladder that is expected to tell more', () => {
    const earlier = [{ axis: 'X', naturalHz: 41, sdHz: 0.4, dampingRatio: 0.06 }];
    const refined = makePlan({ ...NEEDS, axes: ['X'], earlier });
    expect(refined.rangeHz.from).toBe('reading');
    expect(refined.rangeHz.low).toBeLessThan(41 - 3 * 0.4);
    expect(refined.ladder.toHz - refined.ladder.fromHz).toBeLessThan(
      0.5 * (plain.ladder.toHz - plain.ladder.fromHz),
    );
    const at = (plan: Plan) => plan.expected[1].sdHz!;
    expect(at(refined)).toBeLessThan(at(plain));
    expect(refined.records).toHaveLength(1);
  });

  it('says what is assumed, what is not shown, what repeats, and where layers are short', () => {
    const codes = (plan: Plan) => plan.notes.map(({ code }) => code);
    expect(codes(plain)).not.toContain('corner-speed-assumed');
    const { cornerSpeedMmPerS, ...without } = NEEDS;
    expect(cornerSpeedMmPerS).toBe(6);
    const slow = makePlan({ ...without, maxAccelerationMmPerS2: 1500, knownPitchesMm: [1] });
    expect(codes(slow)).toEqual(
      expect.arrayContaining(['corner-speed-assumed', 'not-shown', 'pitch-inside', 'fine-ripples']),
    );
    expect(codes(plain)).toContain('short-layers');
  });

  it('warns beside what is expected of a range that is not all shown, and offers a way out', () => {
    const slow = makePlan({
      ...NEEDS,
      maxAccelerationMmPerS2: 1500,
      maxSpeedMmPerS: 100,
      layerHeightMm: 0.28,
      bedMm: [120, 120],
    });
    const [headline, warning] = planWords(slow).expected;
    expect(headline).toMatch(/^± /);
    expect(warning).toMatch(/^careful: an axis at \d+\sHz to 60\sHz is not shown/);
    expect(planWords(slow).next[0]).toMatch(/plan again.*idea of the frequency.*thinner layers/);
    expect(planWords(slow).notes.join()).toMatch(/are too fine for a nozzle/);
    expect(drawChecklist(slow).sides[0].goodFor).toContain(warning);
    expect(planWords(plain).expected.join()).not.toMatch(/careful/);
    expect(planWords(plain).next[0]).toMatch(/^make the tower/);
  });

  it('clockwise, and with a slot', () => {
    const [record] = makePlan({ ...NEEDS, axes: ['A'], turns: 'clockwise', slotMm: 0.6 }).records;
    expect(record!.face.leadingCorner).toBe('right');
    expect(record!.slots).toEqual([{ centreFromLeadingCornerMm: 50, widthMm: 0.6 }]);
  });

  it.each([
    ['a bed that is too small', { bedMm: [70, 70] }, 'plan-impossible'],
    ['a corner as fast as the wall', { maxSpeedMmPerS: 30, cornerSpeedMmPerS: 25 }, 'plan-impossible'],
    [
      'an acceleration that makes nothing swing',
      { maxAccelerationMmPerS2: 100, ideaHz: [60] },
      'plan-impossible',
    ],
    ['a limit of nothing', { maxAccelerationMmPerS2: 0 }, 'usage'],
    ['three axes', { axes: ['X', 'Y', 'Z'] }, 'usage'],
    ['a slot that no tower has', { slotMm: 60 }, 'record-field'],
    ['layers thicker than the nozzle', { layerHeightMm: 0.5 }, 'usage'],
    ['three ideas of two axes', { ideaHz: [30, 40, 50] }, 'usage'],
  ] as const)('refuses %s', (_, change, code) => {
    expect(syncInputErrorOf(() => makePlan({ ...NEEDS, ...change }))).toMatchObject({ code });
  });
});
