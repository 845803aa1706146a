import { describe, expect, test } from 'vitest';
import { marksOf, opinionOf, type Mark } from '../../src/band/secondOpinion.js';
import { interval95 } from '../../src/core/estimate.js';
import type { PenLine } from '../../src/profiles/penLine.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, RECIPE } from '../helpers/drawn.js';
import { readCsv } from '../helpers/readReference.js';

const { face, settings } = drawn({ ...RECIPE, pxPerMm: 8, noise: 0, gain: 0 });
const line = (heightMm: number, change: Partial<PenLine> = {}): PenLine => ({
  ...{ heightMm, heightSdMm: 0, widthMm: 0.6, slantRad: 0, ink: 'dark', confidence: 0.99 },
  ...change,
});
const marks = (penLines: readonly PenLine[], told: Partial<typeof settings> = {}) =>
  marksOf({ penLines }, { ...settings, ...told }, face);

describe('a mark', () => {
  test('its frequency is that of the ladder there', () => {
    const [mark] = marks([line(20)]).lines;
    // Source: closed form, 20 to 60 Hz over layers 0 to 199 of 0.25 mm through layer centres (DESIGN 3).
    const hz = 20 + (40 * (20 / 0.25 - 0.5)) / 199;
    expectClose(mark!.frequencyHz!.value, hz, { abs: 1e-9, why: 'rounding' });
    // The layer is as uncertain as half a layer to both sides: its thickness ÷ √12, GUM 4.3.7.
    const climb = 40 / 199 / 0.25;
    const sd = climb * Math.hypot(mark!.heightMm.sd, 0.25 / Math.sqrt(12));
    expectClose(mark!.frequencyHz!.sd, sd, { rel: 1e-9, why: 'rounding' });
  });

  test('the ink is meant anywhere in its width and along its slant, and heights begin where they begin for all', () => {
    const sdOf = (change: Partial<PenLine>) => marks([line(20, change)]).lines[0]!.ownSdMm;
    // Source: GUM 4.3.7, a rectangular distribution of full width w has w ÷ √12.
    expectClose(sdOf({ widthMm: 1.2 }), 1.2 / Math.sqrt(12), { rel: 1e-9, why: 'rounding' });
    expectClose(sdOf({ widthMm: 0, slantRad: 0.02 }), (Math.tan(0.02) * 80) / Math.sqrt(12), {
      rel: 1e-9,
      why: 'the wall is 80 mm',
    });
    const { heightMm, ownSdMm } = marks([line(20)]).lines[0]!;
    const shared = Math.hypot(face.bottomSdMm, face.heightRelativeSd * 20);
    expectClose(heightMm.sd, Math.hypot(ownSdMm, shared), { rel: 1e-9, why: 'independent' });
  });

  test('a typed height is as uncertain as calipers, the line, the foot and shrinkage', () => {
    const { typed, lines } = marks([], { penLineMm: 30 });
    expect(lines).toEqual([]);
    // ± 0.05 mm, a line of 0.8 mm, a foot of 0.15 mm, 0.3 % of 30 mm: 0.29 mm.
    const sd = Math.hypot(0.05 / Math.sqrt(3), 0.8 / Math.sqrt(12), 0.15, 0.003 * 30);
    expectClose(typed!.heightMm.sd, sd, { rel: 1e-9, why: 'rounding' });
    expect(typed!.contradicts).toBe(false);
    const told = marks([], { penLineMm: 30, penLinePlusMinusMm: 0.98 }).typed!;
    expectClose(told.heightMm.sd, Math.hypot(0.98 / 1.96, 0.15, 0.09), {
      rel: 1e-9,
      why: 'as told, of 95 %',
    });
  });

  test('of several lines the one that was measured is meant, else the likeliest', () => {
    const two = [line(14), line(33, { confidence: 0.8 })];
    const heights = (penLineMm?: number) => marks(two, { penLineMm }).lines.map((one) => one.line.heightMm);
    expect(heights()).toEqual([14, 33]);
    expect(heights(33.3)).toEqual([33, 14]);
    expect(heights(24)).toEqual([14, 33]);
    expect(marks(two, { penLineMm: 33.3 }).typed!.contradicts).toBe(false);
    expect(marks(two, { penLineMm: 24 }).typed!.contradicts).toBe(true);
    expectClose(marks(two, { penLineMm: 24 }).typed!.fromPhotoMm!.value, 10, {
      abs: 1e-12,
      why: 'closed form',
    });
  });
});

const SHAPER = { family: 'ZV', dampingRatio: 0, hzMeans: 'natural' } as const;
/** An axis of 41.0 Hz on a ladder of 0.7 Hz for each mm. */
const OURS_HZ = 41;
const decided = (sd: number, dampingRatio: number) => {
  const frequencyHz = interval95({ value: OURS_HZ, sd });
  return {
    proposal: {
      state: 'proposed',
      frequencyHz,
      fromNull: frequencyHz,
      fromSpacing: frequencyHz,
      combined: frequencyHz,
      bestHeightMm: interval95({ value: 31.1, sd: sd / 0.7 }),
      cleanBandMm: { low: 29, high: 33, mostLeft: 0.05 },
      goodFor: 'ZV',
      axis: 'Y',
    },
    nullFit: { naturalHz: OURS_HZ, nullHz: OURS_HZ, dampingRatio } as NonNullable<
      Parameters<typeof opinionOf>[1]['nullFit']
    >,
  } as const;
};
const markAt = (hz: number, sd = 0.05): Mark => ({
  heightMm: interval95({ value: 31.1 + (hz - OURS_HZ) / 0.7, sd: sd / 0.7 }),
  frequencyHz: interval95({ value: hz, sd }),
  ownSdMm: sd / 0.7,
});
const opinion = (
  hz: number,
  sd = 0.05,
  ourSd = 0.1,
  zeta = 0,
  shaper: Parameters<typeof opinionOf>[2] = SHAPER,
) => {
  const verdict = opinionOf(markAt(hz, sd), decided(ourSd, zeta), shaper);
  if (verdict.code === 'no-opinion') throw new Error('expected an opinion');
  return verdict;
};

const KNOWN: ReadonlySet<string> = new Set(['ZV', 'ZVD', 'EI']);

describe('the opinion', () => {
  test('what is left is what the published table says', () => {
    const rows = readCsv(
      'shaper_V_table.csv',
      ['zeta_design', 'zeta_system', 'r=f/f_s', 'V_expm'],
      ['shaper'],
    ).filter((row) => KNOWN.has(row.shaper) && row['r=f/f_s'] > 0.7 && row['r=f/f_s'] < 1.4);
    expect(rows.length).toBeGreaterThan(20);
    for (const row of rows) {
      const { shaper, zeta_design: dampingRatio, zeta_system: zeta, 'r=f/f_s': r } = row;
      const family = shaper as 'ZV' | 'ZVD' | 'EI';
      const { left } = opinion(OURS_HZ / r, 0.05, 0.1, zeta, { family, dampingRatio, hzMeans: 'natural' });
      // V refers to the instant of the first impulse, what is left to the last one's: until then all vibration decays.
      const periods = (family === 'ZV' ? 0.5 : 1) / Math.sqrt(1 - dampingRatio ** 2);
      const published = row.V_expm * Math.exp(2 * Math.PI * r * zeta * periods);
      expectClose(left.value, published, { abs: 1e-6, why: 'rounding of the table' });
    }
  });

  test('0.7 Hz below 41.0 Hz leaves 2.7 % with ZV: keep it', () => {
    const { code, apartHz, apartMm, left, leftAtOurs } = opinion(40.3);
    expect(code).toBe('keep');
    expectClose(apartHz.value, -0.7, { abs: 1e-9, why: 'closed form' });
    expectClose(apartMm.value, -1, { abs: 1e-9, why: '0.7 Hz for each mm' });
    // Source: closed form of an undamped ZV, |cos(π/2 · f/f_s)|; JOURNEYS 2 has 2.7 %.
    const v = (hz: number) => Math.abs(Math.cos((Math.PI / 2) * (OURS_HZ / hz)));
    expectClose(left.value, v(40.3), { abs: 1e-12, why: 'closed form' });
    expectClose(left.value, 0.027, { abs: 0.0005, why: 'JOURNEYS 2' });
    const half = 1.96 * Math.hypot(0.05, 0.1);
    expectClose(left.low95, v(40.3 + half), { abs: 1e-12, why: 'the end that lies nearer' });
    expectClose(left.high95, v(40.3 - half), { abs: 1e-12, why: 'the other end' });
    expectClose(leftAtOurs, 0, { abs: 1e-12, why: 'closed form' });
  });

  test.each([
    ['agrees', 40.8, 0.05, 0.1],
    ['keep', 40.75, 0.05, 0.1],
    ['agrees', 39, 1, 0.5],
    ['keep', 39.8, 0.05, 0.1],
    ['worth-changing', 39.6, 0.05, 0.1],
    ['worth-changing', 43, 0.05, 0.1],
  ] as const)('%s: %d Hz', (code, hz, sd, ourSd) => {
    // 5 % of an undamped ZV lie 3.2 % off: 1.3 Hz.
    expect(opinion(hz, sd, ourSd).code).toBe(code);
  });

  test('a shaper that forgives more makes it less worth changing', () => {
    expect(opinion(39, 0.05, 0.1).code).toBe('worth-changing');
    expect(opinion(39, 0.05, 0.1, 0, { ...SHAPER, family: 'ZVD' }).code).toBe('keep');
  });

  test('where the damping setting leaves much anyhow, a little more is no reason', () => {
    const { left, leftAtOurs } = opinion(40.5, 0.05, 0.1, 0.08);
    expect(leftAtOurs).toBeGreaterThan(0.1);
    expect(left.value).toBeLessThan(1.2 * leftAtOurs);
    expect(opinion(40.5, 0.05, 0.1, 0.08).code).toBe('keep');
  });

  test('what both share counts once', () => {
    const shared = { ...markAt(40.3, 0.5), ownSdMm: 0.05 / 0.7 };
    const verdict = opinionOf(shared, decided(0.1, 0), SHAPER);
    expect(verdict).toMatchObject({ code: 'keep' });
    expect(opinionOf(markAt(40.3, 0.5), decided(0.1, 0), SHAPER)).toMatchObject({ code: 'agrees' });
  });

  test('none where nothing is proposed, or the ladder has no frequency', () => {
    const refused = { proposal: { state: 'refused', reason: 'too-noisy' } } as const;
    expect(opinionOf(markAt(40), refused, SHAPER)).toEqual({
      code: 'no-opinion',
      because: 'nothing-proposed',
    });
    const { heightMm, ownSdMm } = markAt(40);
    expect(opinionOf({ heightMm, ownSdMm }, decided(0.1, 0), SHAPER)).toEqual({
      code: 'no-opinion',
      because: 'off-ladder',
    });
  });
});
