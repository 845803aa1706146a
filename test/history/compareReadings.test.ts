import { describe, expect, test } from 'vitest';
import { axisTrends } from '../../src/history/axisTrends.js';
import { axisPointOf } from '../../src/history/axisPoint.js';
import { compareReadings, unlike, type CompareOptions } from '../../src/history/compareReadings.js';
import type { Reading } from '../../src/reading/schema.js';
import { compareReport } from '../../src/report/compareReport.js';
import { trendAdvice } from '../../src/report/trendReport.js';
import { drawComparison } from '../../src/report/comparePicture.js';
import { expectClose } from '../helpers/closeTo.js';
import {
  bareRefusal,
  proofReading,
  proposedReading,
  quietProofReading,
  spacingOnlyReading,
} from '../report/fixtures.js';

/** The same reading with ripples so many times as large, of a photo as sharp as told. */
function louder(reading: Reading, times: number, blurPx?: number): Reading {
  return {
    ...reading,
    ...(reading.face === undefined || blurPx === undefined
      ? {}
      : { face: { ...reading.face, quality: { ...reading.face.quality, blurPx } } }),
    heights: reading.heights.map((height) => ({
      ...height,
      ...(height.amplitude === undefined
        ? {}
        : { amplitude: { ...height.amplitude, value: times * height.amplitude.value } }),
    })),
  };
}

const compare = (before: Reading, after: Reading, options: CompareOptions = {}) =>
  compareReadings([before], [after], options);

/** A proposal so many hertz higher. */
function higher(reading: Reading, hz: number): Reading {
  const { proposal } = reading;
  if (proposal.state !== 'proposed') throw new Error('expected a proposal');
  const { frequencyHz } = proposal;
  const { value, low95, high95, sd } = frequencyHz;
  const moved = { value: value + hz, low95: low95 + hz, high95: high95 + hz, sd };
  return { ...reading, proposal: { ...proposal, frequencyHz: moved } };
}

describe('frequency', () => {
  const reading = proposedReading();

  test('a change of more than 1.96 standard uncertainties of the difference is one', () => {
    // Source: GUM (JCGM 100:2008) equation 10: 0.26 Hz twice makes 0.368 Hz.
    const limit = 1.96 * Math.hypot(0.26, 0.26);
    expect(compare(reading, higher(reading, 0.99 * limit)).frequency?.changed).toBe(false);
    expect(compare(reading, higher(reading, 1.01 * limit)).frequency?.changed).toBe(true);
    expect(compare(reading, higher(reading, -1.01 * limit)).frequency?.by.value).toBeLessThan(0);
  });

  test('repeats are no surer than the surest of them, and as unsure as they scatter', () => {
    const same = compareReadings([reading, reading, reading], [reading]);
    expectClose(same.before.frequencyHz!.sd, 0.26, { abs: 1e-12, why: 'rounding' });
    const apart = compareReadings([reading, higher(reading, 3)], [reading]);
    // Source: closed form: two values 3 Hz apart scatter by 3 ÷ √2, their mean by 3 ÷ 2.
    expectClose(apart.before.frequencyHz!.sd, 1.5, { abs: 1e-12, why: 'rounding' });
  });

  test('by spacing it is told as the ladder would tell it, and less sure by the difference', () => {
    const reading = spacingOnlyReading();
    const { proposal, ringing } = reading;
    if (proposal.state !== 'spacing-only') throw new Error('expected a frequency by spacing');
    // Source: f_d = f √(1 − ζ²), any book on vibration; rectangular distribution, GUM 4.3.7.
    const natural = proposal.frequencyHz.value / Math.sqrt(1 - ringing!.dampingRatio.value ** 2);
    const point = axisPointOf(reading);
    expectClose(point.frequencyHz!.value, natural, { rel: 1e-12, why: 'rounding' });
    expectClose(
      point.frequencyHz!.sd,
      Math.hypot(proposal.frequencyHz.sd, (natural - proposal.frequencyHz.value) / Math.sqrt(3)),
      { rel: 1e-12, why: 'rounding' },
    );
  });

  test('what is entered comes by a ladder; else a ladder is asked for', () => {
    const again = 'measure again with a ladder before the setting is trusted';
    const bySpacing = spacingOnlyReading();
    const far = higher(reading, 5);
    expect(compareReport(compare(far, bySpacing))).toContain(again);
    expect(compareReport(compare(far, bySpacing))).not.toContain('enter the newer value');
    expect(compareReport(compare(reading, bareRefusal()))).toContain(again);
    expect(compareReport(compare(bySpacing, far))).toContain('enter the newer value');
    const history = [reading, far, bySpacing].map((one, i) => ({
      name: String(i),
      changes: [],
      reading: one,
    }));
    const [trend] = axisTrends(history.toSpliced(0, 1));
    expect(trendAdvice(trend!)).toEqual([again]);
    expect(trendAdvice(axisTrends(history.slice(0, 2))[0]!)[0]).toMatch(/^enter the newer value/);
  });

  test('a refusal tells no frequency, and nothing is said of a change', () => {
    const comparison = compare(bareRefusal(), reading);
    expect(comparison.frequency).toBeUndefined();
    expect(compareReport(comparison)).toMatch(/no frequency before .* nothing can be said of a change/s);
  });
});

describe('ripples', () => {
  const sharp = louder(proposedReading(), 1, 1);

  test('half as large in the same light', () => {
    const { amplitude } = compare(sharp, louder(sharp, 0.5), { sameLight: true });
    if (amplitude?.state !== 'compared') throw new Error('expected a comparison');
    expectClose(amplitude.ratio.value, 0.5, { abs: 0.01, why: 'noise is taken off both sides alike' });
    expect(amplitude.changed).toBe(true);
  });

  test('in unknown light half as large is no change, a tenth is one', () => {
    const changed = (times: number) => {
      const { amplitude } = compare(sharp, louder(sharp, times));
      return amplitude?.state === 'compared' && amplitude.changed;
    };
    expect([changed(0.7), changed(0.1)]).toEqual([false, true]);
  });

  test('a blurred photo of the same print has the same layer lines once its blur is taken off', () => {
    // Source: closed form, a Gaussian of 1.5 px lowers a wave of 4.24 px by exp(−2π² 1.5² ÷ 4.24²).
    const loss = Math.exp(-2 * (Math.PI * (1.5 / 4.24)) ** 2 + 2 * (Math.PI * (1 / 4.24)) ** 2);
    const after = louder(proposedReading(), 1, 1.5);
    const blurred = { ...after, layerLines: { ...after.layerLines!, contrast: 0.04 * loss } };
    const { amplitude } = compare(sharp, blurred);
    if (amplitude?.state !== 'compared') throw new Error('expected a comparison');
    expect(amplitude.byLayerLines).toBe(true);
    expectClose(amplitude.ratio.value, 1, { abs: 1e-9, why: 'rounding' });
  });

  test.each([
    ['light', { ...sharp, layerLines: undefined }, sharp],
    ['heights', { ...sharp, heights: sharp.heights.slice(0, 3) }, sharp],
    ['nothing-before', louder(sharp, 0.01), sharp],
  ] as const)('not comparable: %s', (why, before, after) => {
    const { layerLines, ...rest } = before;
    const reading: Reading = layerLines === undefined ? rest : { ...rest, layerLines };
    expect(compare(reading, after).amplitude).toEqual({ state: 'not-comparable', why });
  });
});

describe('proof prints', () => {
  const before = proofReading();

  test('without a level the readings say where it is quiet, with one the amplitudes do', () => {
    expect(compare(before, before).proof?.quietAfter).toBe(3500);
    // 2000 and 3500 mm/s² show 0.4 and 0.5 % ± 0.47; 5000 shows 1.9 %. The lowest was not read, and so is not tolerated.
    expect(compare(before, before, { level: 0.01 }).proof?.quietAfter).toBeUndefined();
    const { proposal } = before;
    if (proposal.state !== 'proof') throw new Error('expected a proof');
    const read = { ...before, proposal: { ...proposal, steps: proposal.steps.slice(1) } };
    expect(compare(read, read, { level: 0.01 }).proof?.quietAfter).toBe(3500);
    expect(compare(read, read, { level: 0.008 }).proof?.quietAfter).toBeUndefined();
    expect(compare(read, read, { level: 0.03 }).proof?.quietAfter).toBe(5000);
  });

  test('sets each acceleration beside itself', () => {
    const { proof } = compare(before, before, { sameLight: true });
    expect(proof!.steps.map(({ mmPerS2 }) => mmPerS2)).toEqual([300, 2000, 3500, 5000, 7000]);
    expect(proof!.steps[0]).toEqual({ mmPerS2: 300 });
    expectClose(proof!.ratio!.value, 1, { abs: 1e-9, why: 'the same readings' });
  });
});

test('heights of prints that moved otherwise are not set beside each other', () => {
  const reading = louder(proposedReading(), 1, 1);
  const faster = { ...reading, printRecord: { ...reading.printRecord, speedMmPerS: 60 } };
  const ladder = { kind: 'linear', fromHz: 66, toHz: 18, firstLayer: 4, lastLayer: 319 } as const;
  const reversed = { ...reading, printRecord: { ...reading.printRecord, ladder } };
  for (const other of [faster, reversed]) {
    expect(compare(reading, other, { sameLight: true }).amplitude).toEqual({
      state: 'not-comparable',
      why: 'print',
    });
  }
});

describe('unlike', () => {
  const reading = proposedReading();
  const ofAnother = (one: Reading): Reading => ({
    ...one,
    photos: one.photos.map((photo) => ({ ...photo, sha256: '6a'.repeat(32) })),
  });
  const of = (fields: object): Reading =>
    ofAnother({ ...reading, printRecord: { ...reading.printRecord, ...fields } });

  test('one photo does not stand on both sides', () => {
    expect(unlike([reading], [reading])).toMatch(/one photo/);
  });

  test.each([
    [{ axis: 'X' }, /axes Y and X/],
    [{ machine: 'south bench 1' }, /machines north bench 3 and south bench 1/],
  ])('%j', (fields, message) => {
    expect(unlike([reading], [of(fields)])).toMatch(message);
  });

  test('a proof print goes with no other reading', () => {
    expect(unlike([proofReading(), proofReading()], [ofAnother(proofReading())])).toMatch(/one on each side/);
    expect(unlike([proofReading()], [ofAnother(proofReading())])).toBeUndefined();
  });

  test('natural and damped frequencies are not mixed', () => {
    expect(unlike([reading], [of({ shaper: { hzMeans: 'damped' } })])).toMatch(/natural ones and damped/);
  });

  test('the same axis of one machine, named or not, is alike', () => {
    expect(unlike([reading], [of({ machine: undefined })])).toBeUndefined();
  });
});

describe('the picture', () => {
  test.each([
    ['waists', proposedReading()],
    ['proof prints', proofReading()],
    ['a refusal', bareRefusal()],
  ])('of %s is whole and says what it shows', (_what, reading) => {
    const comparison = compare(reading, reading);
    const svg = drawComparison(comparison, reading, reading);
    expect(svg).toMatch(/^<svg [\s\S]*<\/svg>\s*$/);
    expect(svg).not.toMatch(/NaN|undefined/);
    expect(svg).toContain(`<title id="title">Axis Y`);
  });
});

describe('the picture of two proof prints', () => {
  const comparison = compareReadings([proofReading()], [quietProofReading()], {
    sameLight: true,
    level: 0.02,
  });
  const svg = drawComparison(comparison, proofReading(), quietProofReading());

  test('draws the level that is tolerated, and a factor as the same distance everywhere', () => {
    expect(svg).toMatch(/>tolerated: 2\u2009%</);
    const y = (percent: string) => Number(new RegExp(`y="([\\d.]+)"[^>]*>${percent}\u2009%<`).exec(svg)![1]);
    expect(y('1') - y('2')).toBeCloseTo(y('0\\.5') - y('1'), 1);
  });

  test('has all it draws inside its frame', () => {
    const [width, height] = /viewBox="0 0 (\d+) ([\d.]+)"/.exec(svg)!.slice(1).map(Number);
    const points = [...svg.matchAll(/[ML](-?[\d.]+) (-?[\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)]);
    expect(points.length).toBeGreaterThan(50);
    for (const [x, y] of points) {
      expect(x).toBeGreaterThanOrEqual(48);
      expect(x).toBeLessThanOrEqual(width! - 48);
      expect(y).toBeGreaterThanOrEqual(48);
      expect(y).toBeLessThanOrEqual(height!);
    }
  });
});
