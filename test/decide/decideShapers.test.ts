import { describe, expect, test } from 'vitest';
import { decideShapers, type ChosenAxis, type DecideLimits } from '../../src/decide/decideShapers.js';
import { SHAPER_FAMILIES } from '../../src/physics/shapers.js';
import type { AnyReading } from '../../src/reading/jointSchema.js';
import { earlierAxis } from '../../src/planning/earlier.js';
import { expectClose } from '../helpers/closeTo.js';
import { syncInputErrorOf } from '../helpers/thrown.js';
import { bareRefusal, proofReading, spacingOnlyReading } from '../report/fixtures.js';
import { driveCorner } from '../synth/cornerPath.js';
import { shaperOf } from '../synth/shapers.js';
import { readingOf } from './fixtures.js';

const ALL: DecideLimits = { families: SHAPER_FAMILIES };

function chosen(reading: AnyReading, limits: Partial<DecideLimits> = {}): ChosenAxis {
  const [axis] = decideShapers([reading], { ...ALL, ...limits }).axes;
  if (axis?.state !== 'chosen') throw new Error('expected a choice');
  return axis;
}

describe('the choice', () => {
  test('is the shortest shaper that holds over the reading, ZV to 3.2 %, ZVD to 14 %, EI to 20 %', () => {
    // Source: 5 % insensitivity of published shapers without damping, test/reference/shapers.json.
    const damping = { value: 0.001, sd: 0.0005 };
    const at = (percent: number) =>
      chosen(readingOf({ hz: 40, sd: (0.4 * percent) / 1.96, damping })).choice.family;
    expect([1, 3].map(at)).toEqual(['ZV', 'ZV']);
    expect([3.5, 13].map(at)).toEqual(['ZVD', 'ZVD']);
    expect([15.5, 19].map(at)).toEqual(['EI', 'EI']);
  });

  test('is not ZV where the damping ratio alone leaves more than 5 %', () => {
    // Source: ZV at its own frequency leaves about (π/2)|Δζ|: ± 0.04 makes 6 %.
    const vague = chosen(readingOf({ damping: { value: 0.08, sd: 0.04 / 1.96 } }));
    expect(vague.choice.family).toBe('ZVD');
    expect(vague.zvFailsBy).toBe('damping');
    const far = chosen(readingOf({ sd: 1 }));
    expect(far.zvFailsBy).toBe('frequency');
    expect(chosen(readingOf()).zvFailsBy).toBeUndefined();
  });

  test('is the one that leaves least where none of those offered holds', () => {
    const axis = chosen(readingOf({ sd: 1.2 }), { families: ['ZV'] });
    expect(axis.choice).toMatchObject({ family: 'ZV', holds: false });
    expect(axis.choice.worstLeft).toBeGreaterThan(0.05);
    expect(axis.choice.mayFallHz).toBeUndefined();
    expect(axis.goodFor).toEqual([]);
  });

  test('an axis may drift as far as its band reaches, less sure by the reading', () => {
    const { choice } = chosen(readingOf({ sd: 0.2 }));
    const { mayFallHz, mayRiseHz, quietHz } = choice;
    expectClose(mayFallHz!.value, 41 - quietHz!.low, { abs: 1e-9, why: 'rounding' });
    expectClose(mayRiseHz!.value, quietHz!.high - 41, { abs: 1e-9, why: 'rounding' });
    expectClose(mayFallHz!.high95 - mayFallHz!.low95, 2 * 1.96 * 0.2, { abs: 1e-9, why: 'rounding' });
    // Source: ZV bears ± 3.2 % (less what the damping ratio leaves open).
    expectClose(mayFallHz!.value, 0.032 * 41, { rel: 0.15, why: 'the damping ratio is uncertain as well' });
  });

  test('a ladder of another damping ratio tells the null, and the natural frequency follows from the fit', () => {
    const reading = readingOf();
    const nullFit = { ...reading.nullFit!, naturalHz: 40.5, nullHz: { value: 41, sd: 0.2 } };
    const { mode } = chosen({ ...reading, nullFit });
    expectClose(mode.naturalHz.value, 40.5, { abs: 1e-9, why: 'rounding' });
    expect(mode.ladderHz.value).toBe(41);
    // The same one refines a plan.
    expectClose(earlierAxis({ ...reading, nullFit }).naturalHz, 40.5, { abs: 1e-9, why: 'rounding' });
  });
});

describe('a load', () => {
  const load = { axis: 'Y', addedKg: 0.5, bedKg: 1.5 };

  test('lowers the frequency by the root of the mass, and the choice holds with and without it', () => {
    // Source: f = √(k/m)/(2π): 41 Hz · √(1.5/2) = 35.507 Hz.
    const axis = chosen(readingOf(), { load });
    expectClose(axis.loaded!.naturalHz.value, 35.507, { abs: 5e-4, why: 'printed digits' });
    expect(axis.goodFor[0]).toBe('ZV');
    expect(axis.choice.holds).toBe(true);
    expect(axis.choice.family).not.toBe('ZV');
    const { quietHz } = axis.choice;
    expect(quietHz!.low).toBeLessThan(axis.loaded!.naturalHz.low95);
    expect(quietHz!.high).toBeGreaterThan(axis.mode.naturalHz.high95);
    expect(chosen(readingOf(), { load: { ...load, addedKg: 0 } }).choice.family).toBe('ZV');
  });

  test('lies on one axis only', () => {
    const { axes } = decideShapers([readingOf(), readingOf({ axis: 'X', hz: 50 })], { ...ALL, load });
    const [y, x] = axes as readonly ChosenAxis[];
    expect(y!.loaded).toBeDefined();
    expect(x!.loaded).toBeUndefined();
  });
});

describe('acceleration and corner', () => {
  test('the corner is the worse of both ways round, by motion driven step by step', () => {
    // Source: numerical integration apart from this code.
    const { axes } = decideShapers([readingOf({ hz: 41 }), readingOf({ axis: 'X', hz: 52 })], {
      ...ALL,
      maxAccelerationMmPerS2: 5000,
    });
    const [y, x] = axes as readonly ChosenAxis[];
    const shaper = ({ choice }: ChosenAxis) => shaperOf('ZV', choice.enterHz, choice.dampingRatio);
    const motion = { speedMmPerS: 110, accelerationMmPerS2: 5000, cornerSpeedMmPerS: 6 };
    const mode = { naturalHz: 41, dampingRatio: 0.06 };
    const ways = [
      driveCorner(motion, shaper(y!), shaper(x!), mode, 5e-6),
      driveCorner(motion, shaper(x!), shaper(y!), mode, 5e-6),
    ].map(({ commandedMm }) => commandedMm);
    for (const axis of [y!, x!]) {
      expectClose(axis.corner!.roundingMm, Math.max(...ways), { abs: 1e-4, why: 'steps of 5 µs' });
      expect(axis.corner!.otherAxis).toBe('measured');
    }
    expect(Math.abs(ways[0]! - ways[1]!)).toBeGreaterThan(1e-3);
  });

  test('is the limit, or less where corners may not be cut so far', () => {
    const limit = chosen(readingOf(), { maxAccelerationMmPerS2: 5000, maxRoundingMm: 1 });
    expect(limit.acceleration).toEqual({ state: 'chosen', mmPerS2: 5000, because: 'limit' });
    const rounded = chosen(readingOf(), { maxAccelerationMmPerS2: 50_000, maxRoundingMm: 0.06 });
    expect(rounded.acceleration).toMatchObject({ state: 'chosen', because: 'rounding' });
    expect(rounded.choice.roundingMm).toBeLessThanOrEqual(0.06);
    // Rounded down to two digits: no more than a tenth below.
    expect(rounded.choice.roundingMm).toBeGreaterThan(0.053);
  });

  test('without a limit none is named: the test print is the example, where its acceleration is told', () => {
    expect(chosen(readingOf()).acceleration).toEqual({ state: 'test-print', mmPerS2: 6000 });
    const reading = readingOf();
    const { ...record } = reading.printRecord;
    delete record.accelerationMmPerS2;
    const unknown = chosen({ ...reading, printRecord: record });
    expect(unknown.acceleration).toEqual({ state: 'unknown' });
    expect([unknown.corner, unknown.choice.roundingMm]).toEqual([undefined, undefined]);
  });

  test('no acceleration fits where the corner speed alone cuts by more', () => {
    const axis = chosen(readingOf(), {
      maxRoundingMm: 0.05,
      cornerSpeedMmPerS: 40,
      maxAccelerationMmPerS2: 5000,
    });
    expect(axis.acceleration).toEqual({ state: 'none-fits' });
  });

  test('what closes a gap is length times speed', () => {
    // Source: common practice, no source. ZV without much damping lasts half a period: 12.2 ms at 41 Hz.
    const { choice } = chosen(readingOf(), { speedMmPerS: 200 });
    expectClose(choice.travelMm, (200 * 0.5) / 41, { rel: 3e-3, why: 'damping makes it longer' });
  });

  test('what was not told is asked for', () => {
    expect(decideShapers([readingOf()], ALL).missing).toEqual([
      'max-acceleration',
      'max-rounding',
      'other-axis',
    ]);
    const { ...reading } = readingOf();
    const record = { ...reading.printRecord };
    delete record.cornerSpeedMmPerS;
    const told = { ...ALL, maxAccelerationMmPerS2: 4000, maxRoundingMm: 0.2 };
    const both = [{ ...reading, printRecord: record }, readingOf({ axis: 'X', hz: 50 })];
    expect(decideShapers(both, told).missing).toEqual(['corner-speed']);
    expect(decideShapers(both, { ...told, cornerSpeedMmPerS: 5 }).missing).toEqual([]);
  });
});

describe('no choice', () => {
  test.each([
    ['refused', bareRefusal()],
    ['proof', proofReading()],
    ['spacing-only', spacingOnlyReading()],
  ] as const)('by a reading that is %s', (why, reading) => {
    const decision = decideShapers([reading], ALL);
    expect(decision.axes).toMatchObject([{ state: 'no-choice', axis: 'Y', why }]);
    expect(decision.missing).toEqual([]);
    expect(decision.speeds).toBeUndefined();
    // The other axis gets its own.
    const both = decideShapers([reading, readingOf({ axis: 'X' })], ALL);
    expect(both.axes.map(({ state }) => state)).toEqual(['no-choice', 'chosen']);
  });

  test.each([
    ['readings-differ', /two of them belong to axis Y/, [readingOf(), readingOf()], {}],
    [
      'readings-differ',
      /machines north bench 3 and south/,
      [readingOf(), readingOf({ axis: 'X', record: { machine: 'south' } })],
      {},
    ],
    ['readings-differ', /3 axes/, [readingOf(), readingOf({ axis: 'X' }), readingOf({ axis: 'Z' })], {}],
    ['usage', /No shaper is offered/, [readingOf()], { families: [] }],
    ['usage', /load lies on axis X/, [readingOf()], { load: { axis: 'X', addedKg: 1, bedKg: 1 } }],
    ['usage', /corner speed of 200 mm\/s/, [readingOf()], { cornerSpeedMmPerS: 200 }],
  ] as const)('a mistake is told as %s: %s', (code, message, readings, limits) => {
    const error = syncInputErrorOf(() => decideShapers(readings, { ...ALL, ...limits }));
    expect(error.code).toBe(code);
    expect(error.message).toMatch(message);
    expect(error.advice).toMatch(/\.$/);
  });
});

test('a decision survives JSON: no number is lost', () => {
  const decision = decideShapers([readingOf(), readingOf({ axis: 'X', hz: 55 })], {
    ...ALL,
    maxRoundingMm: 100,
    maxAccelerationMmPerS2: 5000,
  });
  expect(JSON.parse(JSON.stringify(decision))).toEqual(decision);
});
