import { describe, expect, test } from 'vitest';
import { afterSteps } from '../../src/decide/afterSteps.js';
import { decideShapers, type DecideLimits } from '../../src/decide/decideShapers.js';
import { SHAPER_FAMILIES } from '../../src/physics/shapers.js';
import { optionName, RECORD_FLAGS } from '../../src/print/overrides.js';
import { readPrintRecord } from '../../src/print/readPrintRecord.js';
import type { AnyReading } from '../../src/reading/jointSchema.js';
import { afterReport } from '../../src/report/afterReport.js';
import { drawDecision } from '../../src/report/decidePicture.js';
import { decideReport } from '../../src/report/decideReport.js';
import { readingOf } from '../decide/fixtures.js';
import { bareRefusal, proofReading, spacingOnlyReading } from './fixtures.js';
import { expectGoldenText } from './golden.js';

const ALL: DecideLimits = { families: SHAPER_FAMILIES };
const decide = (readings: readonly AnyReading[], limits: Partial<DecideLimits> = {}) =>
  decideShapers(readings, { ...ALL, ...limits });

const BOTH = [readingOf(), readingOf({ axis: 'X', hz: 52.3, sd: 0.3 })];
const TOLD = { maxAccelerationMmPerS2: 5000, maxRoundingMm: 0.2 };

describe('decideReport', () => {
  test('two axes, limits told', () => {
    expectGoldenText('decide-both', decideReport(decide(BOTH, TOLD), false));
  });

  test('a load, a gap, and the other shapers', () => {
    const limits = { maxAccelerationMmPerS2: 5000, maxRoundingMm: 0.1, slotMm: 1.2 };
    const load = { axis: 'Y', addedKg: 0.5, bedKg: 1.2 };
    expectGoldenText('decide-load', decideReport(decide([readingOf()], { ...limits, load }), true));
  });

  test('no limits, a reading too uncertain for ZV, and one that is refused', () => {
    const vague = readingOf({ axis: 'X', sd: 1.2 });
    expectGoldenText('decide-asked', decideReport(decide([vague, bareRefusal()]), false));
  });

  test('the reading is told by its own number, and the natural frequency where that is another', () => {
    const reading = readingOf();
    const nullFit = { ...reading.nullFit!, naturalHz: 40.5, nullHz: { value: 41, sd: 0.2 } };
    const text = decideReport(decide([{ ...reading, nullFit }]), false);
    expect(text).toMatch(/reading {2}41\.0 Hz ± 0\.4 \(± 1\.0 %\)/);
    expect(text).toMatch(
      /the natural frequency of the axis is 40\.5 Hz ± 0\.4, by which shapers are built: the ladder/,
    );
    const damped = readingOf({ record: { shaper: { family: 'ZV', hzMeans: 'damped' } } });
    expect(decideReport(decide([{ ...damped, nullFit }]), false)).toMatch(
      /: your machine takes the damped one/,
    );
    expect(decideReport(decide([reading]), false)).not.toMatch(/by which shapers are built/);
  });

  test.each([
    ['a proof', proofReading(), /no shaper can be chosen: its reading is of a proof print/],
    [
      'a re-check',
      spacingOnlyReading(),
      /comes from ripple spacing alone[\s\S]*measure a test tower with a ladder/,
    ],
    ['none that holds', readingOf({ sd: 4 }), /print the test again: no shaper offered holds/],
  ])('%s decides nothing', (_, reading, says) => {
    expect(decideReport(decide([reading], { families: ['ZV', 'ZVD'] }), false)).toMatch(says);
  });

  test('what stands in the way of ZV is told with what helps', () => {
    const damping = { value: 0.08, sd: 0.03 };
    expect(decideReport(decide([readingOf({ damping })]), false)).toMatch(
      /the damping ratio is what stands in the way of ZV/,
    );
    const budget = [{ cause: 'layer-rounding', type: 'B' as const, nullHz: 1, spacingHz: 1 }];
    expect(decideReport(decide([{ ...readingOf({ sd: 1 }), budget }]), false)).toMatch(
      /not good enough for ZV \(bears ± 3.2 %\), only for ZVD \(bears ± 14 %\) and what bears more\n[\s\S]*most uncertain by: steps of the ladder \(100 % of the variance\)\n\s+Print again with a ladder that climbs more slowly/,
    );
  });

  test('an acceleration is named only within a limit that was told', () => {
    expect(decideReport(decide([readingOf()]), false)).not.toMatch(/print at up to/);
    expect(decideReport(decide([readingOf()], { maxRoundingMm: 0.1 }), false)).toMatch(/if your limit does/);
    expect(decideReport(decide([readingOf()], TOLD), false)).toMatch(
      /print at up to 5000 mm\/s², your limit/,
    );
    const fast = { ...TOLD, maxRoundingMm: 0.05, cornerSpeedMmPerS: 40 };
    expect(decideReport(decide([readingOf()], fast), false)).toMatch(/keep less than 40 mm\/s through them/);
  });
});

describe('cautions', () => {
  const readings = [BOTH, [bareRefusal()], [readingOf({ sd: 4 })], [proofReading()]];

  test.each(readings.map((some) => [some]))('stand below every decision and what comes after it', (some) => {
    for (const limits of [{}, TOLD]) {
      const decision = decide(some, limits);
      for (const text of [
        decideReport(decision, false),
        afterReport(afterSteps(decision)),
        drawDecision(decision, true),
      ]) {
        const plain = text.replaceAll(/<[^>]*>/g, ' ').replaceAll(/\s+/g, ' ');
        expect(plain).toMatch(/maker's instructions and local rules come before any number/);
        expect(plain).toMatch(/only beside the machine/);
        expect(plain).toMatch(/not on real prints/);
      }
    }
  });
});

describe('afterReport', () => {
  test('two axes, limits told', () => {
    expectGoldenText('after-both', afterReport(afterSteps(decide(BOTH, TOLD))));
  });

  test('without a limit no proof is planned, and it is asked for', () => {
    const text = afterReport(afterSteps(decide(BOTH)));
    expect(text).toMatch(/tell it by --max-acceleration, none is guessed here/);
    expect(text).not.toMatch(/acceleration-bands/);
  });

  test('what does not hold is not to be entered', () => {
    const refused = { ...bareRefusal(), printRecord: { ...bareRefusal().printRecord, axis: 'X' } };
    const text = afterReport(
      afterSteps(decide([readingOf({ sd: 4 }), refused], { ...TOLD, families: ['ZV', 'ZVD'] })),
    );
    expect(text).not.toMatch(/^enter/m);
    expect(text).toMatch(/^not yet {2}Axis Y: print the test again/m);
    expect(text).toMatch(/Axis X: no shaper can be chosen: its reading was refused/);
    expect(text).not.toMatch(/stay beside the machine while the proof prints/);
  });

  test('its flags make the record of the test print that of the proof', () => {
    const text = afterReport(afterSteps(decide(BOTH, TOLD)));
    const line = /axis X: (--speed .*)/.exec(text)![1]!;
    const words = [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((match) => match[1] ?? match[2]!);
    const given: Record<string, string> = {};
    for (let i = 0; i < words.length; i += 2) {
      expect(RECORD_FLAGS.some(({ flag }) => flag.startsWith(`${words[i]!} `))).toBe(true);
      given[optionName(words[i]!)] = words[i + 1]!;
    }
    const record = readPrintRecord(JSON.stringify(BOTH[1]!.printRecord), given);
    expect(record.ladder).toEqual({ kind: 'fixed', hz: 52.3 });
    expect(record.shaper).toMatchObject({ family: 'ZV', dampingRatio: 0.06 });
    expect(record.accelerationLadder!.bands.at(-1)).toMatchObject({ toMm: 64, mmPerS2: 5000 });
    expect(record.face).toEqual(BOTH[1]!.printRecord.face);
  });
});

describe('drawDecision', () => {
  const texts = (svg: string) => [...svg.matchAll(/<text[^>]*>([^<]*)<\/text>/g)].map((match) => match[1]!);

  test('says for each axis what the report says, and keeps its place apart from the other', () => {
    const decision = decide(BOTH, TOLD);
    const svg = drawDecision(decision, false);
    for (const text of [
      '41.0\u2009Hz',
      '52.3\u2009Hz',
      'axis Y',
      'axis X',
      'not this one',
      'Drift',
      'Corner',
    ]) {
      expect(texts(svg)).toContain(text);
    }
    expect(svg).not.toMatch(/NaN|undefined|Infinity/);
    expect(texts(svg)).not.toContain('3-hump EI');
    expect(texts(drawDecision(decision, true))).toContain('3-hump EI');
  });

  test('the band and the reading lie on one scale of Hz', () => {
    const decision = decide([readingOf()], TOLD);
    const [axis] = decision.axes;
    if (axis?.state !== 'chosen') throw new Error('expected a choice');
    const svg = drawDecision(decision, false);
    const drift = /<g class="drift">.*?<\/g>/s.exec(svg)![0];
    const [, x, width] = /<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"[^>]*fill-opacity/
      .exec(drift)!
      .map(Number) as [number, number, number];
    const dot = Number(/<circle cx="([\d.]+)"/.exec(drift)![1]);
    const { low, high } = axis.choice.quietHz!;
    expect((dot - x) / width).toBeCloseTo((axis.mode.naturalHz.value - low) / (high - low), 3);
  });

  test('an axis without a choice has its reason, and no corner', () => {
    const svg = drawDecision(decide([bareRefusal()]), true);
    expect(texts(svg).join(' ')).toMatch(/no shaper can be chosen: its reading was refused/);
    expect(texts(svg)).not.toContain('Corner');
  });
});
