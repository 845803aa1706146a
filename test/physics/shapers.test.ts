import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { meanDelayS, residualFactor, residualVibration } from '../../src/physics/residual.js';
import { shaperImpulses, type ShaperFamily } from '../../src/physics/shapers.js';
import { minimise1d } from '../../src/signal/simplex.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv, readJson } from '../helpers/readReference.js';

/** Names in the reference files. The other names there (UMZV, EI5_Kscaled) are shapers that are not offered. */
const FAMILIES: Readonly<Record<string, ShaperFamily>> = {
  ZV: 'ZV',
  ZVD: 'ZVD',
  ZVDD: 'ZVDD',
  EI5: 'EI',
  EI2hump5: '2-hump EI',
  EI3hump5: '3-hump EI',
};
const ALL = Object.values(FAMILIES);

const shaper = (family: ShaperFamily, hz: number, dampingRatio: number) =>
  shaperImpulses({ family, hz, dampingRatio, hzMeans: 'natural' });

const shapers = readJson('shapers.json') as Record<
  string,
  { zeta: number; amplitudes: number[]; times_in_natural_periods: number[] }[]
> & { insensitivity_5pct_undamped: Record<string, { I5: number; r_low: number; r_high: number }> };

describe('shaperImpulses', () => {
  test.each(Object.entries(FAMILIES))('%s has the amplitudes and times of the reference', (name, family) => {
    // Source: published theory, recomputed apart from this code: test/reference/shapers.json.
    const cases = shapers[name]!;
    expect(cases.length).toBeGreaterThanOrEqual(1);
    for (const { zeta, amplitudes, times_in_natural_periods: periods } of cases) {
      const impulses = shaper(family, 25, zeta);
      // The reference found EI's slope of 0 by differences: its times are off by up to 3e-11 periods, as the
      // slope at its own impulses shows (8e-11; the test of the definition below holds ours to less).
      const abs = family === 'EI' ? 5e-11 : 1e-14;
      expectClose(impulses.amplitudes, amplitudes, { abs: 1e-13, why: 'two solvers in double precision' });
      expectClose(
        impulses.timesS.map((time) => time * 25),
        periods,
        { abs, why: 'rounding, and the reference’s slope' },
      );
    }
  });

  test('shares add up to 1 and come in order from 0', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...ALL),
        fc.double({ min: 1, max: 300, noNaN: true }),
        fc.double({ min: 0, max: 0.5, noNaN: true }),
        fc.constantFrom('natural', 'damped'),
        (family, hz, dampingRatio, hzMeans) => {
          const { amplitudes, timesS } = shaperImpulses({ family, hz, dampingRatio, hzMeans });
          const sum = amplitudes.reduce((total, amplitude) => total + amplitude, 0);
          expectClose(sum, 1, { abs: 1e-14, why: 'rounding' });
          expect(amplitudes.every((amplitude) => amplitude > 0)).toBe(true);
          expect(timesS[0]).toBe(0);
          expect(timesS.every((time, i) => i === 0 || time > timesS[i - 1]!)).toBe(true);
          expect(timesS).toHaveLength(amplitudes.length);
        },
      ),
    );
  });

  test('EI meets its definition at every damping ratio', () => {
    // Source: Singhose, Seering & Singer 1994 (from memory): V = 5 % and no slope at the frequency it is built
    // for, one zero on each side.
    fc.assert(
      fc.property(fc.double({ min: 0, max: 0.5, noNaN: true }), (zeta) => {
        const impulses = shaper('EI', 1, zeta);
        const at = (r: number): number => residualVibration(impulses, r, zeta);
        expectClose(at(1), 0.05, { abs: 1e-12, why: 'solved to rounding' });
        // Five-point difference: its error goes as the fourth power of the step.
        const step = 1e-3;
        const slope =
          (8 * (at(1 + step) - at(1 - step)) - (at(1 + 2 * step) - at(1 - 2 * step))) / (12 * step);
        expectClose(slope, 0, { abs: 1e-10, why: 'difference quotient' });
        for (const outwards of [-0.005, 0.005]) {
          let r = 1;
          while (at(r + outwards) < at(r)) r += outwards;
          expect(Math.abs(r - 1), 'a zero apart from the frequency itself').toBeGreaterThan(0.1);
          const zero = minimise1d((x) => at(x) ** 2, r - 0.005, r + 0.005, 1e-10);
          expectClose(Math.sqrt(zero.cost), 0, { abs: 1e-8, why: 'the search ends 1e-10 beside the zero' });
        }
      }),
      { numRuns: 60 },
    );
  });

  test('does not care in which order damping ratios are asked for, more than are kept', () => {
    const first = shaper('EI', 40, 0.1);
    for (let k = 0; k < 100; k += 1) shaper('EI', 40, 0.004 * k);
    expect(shaper('EI', 40, 0.1)).toEqual(first);
  });

  test('takes the damped frequency when told so', () => {
    // Source: f_d = f √(1 − ζ²); half a damped period is 0.5 / f_d.
    const impulses = shaperImpulses({ family: 'ZV', hz: 40, dampingRatio: 0.1, hzMeans: 'damped' });
    expectClose(impulses.timesS[1]!, 0.0125, { rel: 1e-14, why: 'rounding' });
    const ei = { family: 'EI', dampingRatio: 0.1 } as const;
    const natural = shaperImpulses({ ...ei, hz: 40, hzMeans: 'natural' });
    const damped = shaperImpulses({ ...ei, hz: 40 * Math.sqrt(1 - 0.01), hzMeans: 'damped' });
    expectClose(damped.timesS, natural.timesS, { rel: 1e-14, why: 'rounding' });
  });

  test('refuses what is no shaper', () => {
    for (const hz of [0, -5, NaN, Infinity]) expect(() => shaper('ZV', hz, 0.1)).toThrow(/frequency > 0 Hz/);
    for (const zeta of [-0.01, 1, NaN]) expect(() => shaper('ZVD', 40, zeta)).toThrow(/damping ratio from 0/);
    expect(() => shaper('EI', 40, 0.51)).toThrow(/from 0 to 0.5 for EI but received 0.51/);
  });
});

describe('residualFactor, as residual vibration,', () => {
  test('agrees with exact propagation of the oscillator’s state', () => {
    // Source: test/reference/shaper_V_table.csv, V_expm: matrix exponential of the shaped step, 12 decimals.
    const rows = readCsv(
      'shaper_V_table.csv',
      ['zeta_design', 'zeta_system', 'r=f/f_s', 'V_expm'],
      ['shaper'],
    ).filter((row) => row.shaper in FAMILIES);
    expect(rows).toHaveLength(17 * (10 + 10 + 10 + 10 + 2 + 2));
    for (const isEi of [false, true]) {
      const some = rows.filter((row) => (row.shaper === 'EI5') === isEi);
      const found = some.map((row) => {
        const impulses = shaper(FAMILIES[row.shaper]!, 30, row.zeta_design);
        return residualVibration(impulses, 30 * row['r=f/f_s'], row.zeta_system);
      });
      const why = isEi ? 'the reference’s EI times, see above' : 'twelve printed decimals';
      expectClose(
        found,
        some.map((row) => row.V_expm),
        { abs: isEi ? 2e-10 : 1e-12, why },
      );
    }
  });

  test('agrees with the undamped closed forms', () => {
    // Source: closed forms, REFERENCES: ZV |cos(πr/2)|, ZVD its square, ZVDD its cube, EI |(1−V)/2 + (1+V)/2 cos πr|.
    fc.assert(
      fc.property(fc.double({ min: 0, max: 4, noNaN: true }), (r) => {
        const c = Math.abs(Math.cos((Math.PI * r) / 2));
        const expected = {
          ZV: c,
          ZVD: c ** 2,
          ZVDD: c ** 3,
          EI: Math.abs(0.475 + 0.525 * Math.cos(Math.PI * r)),
        };
        for (const [family, value] of Object.entries(expected)) {
          const found = residualVibration(shaper(family as ShaperFamily, 50, 0), 50 * r, 0);
          expectClose(found, value, { abs: 1e-13, why: 'rounding' });
        }
      }),
    );
  });

  test.each(Object.entries(FAMILIES))(
    '%s tolerates the frequency errors of the literature',
    (name, family) => {
      // Source: width of V ≤ 5 %, undamped: test/reference/shapers.json; the literature quotes 0.06, 0.286,
      // 0.398, 0.726 and 0.954 for ZV, ZVD, EI, 2-hump and 3-hump (Vaughan, Yano & Singhose 2008, from memory).
      const impulses = shaper(family, 1, 0);
      const excess = (r: number): number => residualVibration(impulses, r, 0) - 0.05;
      const edge = (direction: 1 | -1): number => {
        let inside = 1;
        // Humps touch 5 % in rounding; the edge is where V goes on above it.
        while (excess(inside + direction * 0.001) < 1e-9) inside += direction * 0.001;
        let outside = inside + direction * 0.001;
        for (let k = 0; k < 50; k += 1) {
          const middle = (inside + outside) / 2;
          if (excess(middle) > 0) outside = middle;
          else inside = middle;
        }
        return inside;
      };
      const expected = shapers.insensitivity_5pct_undamped[name]!;
      const why = 'two root finders';
      expectClose([edge(-1), edge(1)], [expected.r_low, expected.r_high], { abs: 1e-9, why });
      const quoted = { ZV: 0.06, ZVD: 0.286, EI: 0.398, '2-hump EI': 0.726, '3-hump EI': 0.954 };
      if (family !== 'ZVDD') {
        const rel = family === 'ZV' ? 0.08 : 0.012;
        expectClose(edge(1) - edge(-1), quoted[family], {
          rel,
          why: 'two or three printed digits; 3-hump is 1 % off',
        });
      }
    },
  );

  test('is 1 without shaping', () => {
    const one = { amplitudes: [1], timesS: [0] };
    expect(residualFactor(one, 40, 0.1)).toEqual({ re: 1, im: 0 });
  });
});

describe('where the ringing vanishes when the shaper is swept', () => {
  test('minima of V lie at the ratios of the reference', () => {
    // Source: test/reference/shaper_minima.csv, eight decimals, found apart from this code.
    const rows = readCsv('shaper_minima.csv', ['zeta', 'f_s/f', 'V_min'], ['shaper']).filter(
      (row) => row.shaper in FAMILIES,
    );
    expect(rows).toHaveLength(77);
    for (const row of rows) {
      const v = (ratio: number): number =>
        residualVibration(shaper(FAMILIES[row.shaper]!, 40 * ratio, row.zeta), 40, row.zeta);
      const ratio = row['f_s/f'];
      const found = minimise1d((r) => v(r) ** 2, ratio * 0.99, ratio * 1.01, 1e-12);
      // A triple zero (ZVDD) is flat to 1e-16 over 5e-6: no search finds it closer, nor did the reference's.
      const flat = row.shaper === 'ZVDD' && row.V_min < 1e-9;
      expectClose(found.point, ratio, {
        abs: flat ? 1e-5 : 1.2e-8,
        why: `${row.shaper} ζ ${row.zeta}: ${flat ? 'flat minimum' : 'eight printed decimals, and 7e-9 of the reference’s search'}`,
      });
      expectClose(Math.sqrt(found.cost), row.V_min, { abs: 5e-8, rel: 5e-4, why: 'four printed digits' });
    }
  });

  test('without damping they are the zeros of the closed forms', () => {
    // Source: closed forms above: ZV vanishes at odd f ÷ f_s, EI where cos πr = −(1 − V)/(1 + V). The reference tells
    // them to eight decimals only, the third of them as 0.33333334.
    const at = (family: ShaperFamily, ratio: number): number =>
      minimise1d(
        (r) => residualVibration(shaper(family, 40 * r, 0), 40, 0) ** 2,
        ratio * 0.99,
        ratio * 1.01,
        1e-12,
      ).point;
    const r = Math.acos(-0.95 / 1.05) / Math.PI;
    for (const [family, ratio] of [
      ['ZV', 1],
      ['ZV', 1 / 3],
      ['ZV', 1 / 5],
      ['EI', 1 / r],
      ['EI', 1 / (2 - r)],
      ['EI', 1 / (2 + r)],
    ] as const) {
      expectClose(at(family, ratio), ratio, { abs: 1e-9, why: 'the search ends 1e-12 beside the zero' });
    }
  });

  test('EI’s frequency is the harmonic mean of its two nulls', () => {
    // Source: REFERENCES §4, closed form: r = 1 ± 0.14005 undamped.
    const at = (hz: number): number => residualVibration(shaper('EI', hz, 0), 40, 0) ** 2;
    const nulls = [minimise1d(at, 33, 37, 1e-8).point, minimise1d(at, 44, 49, 1e-8).point] as const;
    expectClose(2 / (1 / nulls[0] + 1 / nulls[1]), 40, { abs: 1e-6, why: 'two searches' });
    expectClose(nulls, [40 * 0.8772, 40 * 1.1629], { rel: 5e-4, why: 'four printed digits' });
  });

  const cases: readonly [string, ShaperFamily, number, number, number][] = [
    ['A_ZV_z0', 'ZV', 43.7, 0, 0],
    ['B_ZV_matched_z0.08', 'ZV', 43.7, 0.08, 0.08],
    ['C_ZV_shaper_z0.10_system_z0.05', 'ZV', 43.7, 0.1, 0.05],
    ['D_ZVD_matched_z0.08', 'ZVD', 43.7, 0.08, 0.08],
    ['E_EI5_z0', 'EI', 43.7, 0, 0],
    ['F_EI5_exact_z0.1', 'EI', 43.7, 0.1, 0.1],
    ['G_2humpEI5_z0', '2-hump EI', 43.7, 0, 0],
    ['H_ZV_z0_57.3Hz', 'ZV', 57.3, 0, 0],
    ['I_ZV_matched_z0.08_57.3Hz', 'ZV', 57.3, 0.08, 0.08],
  ];

  test.each(cases)('%s: heights of a tower', (name, family, modeHz, shaperZeta, systemZeta) => {
    // Source: test/reference/tower_sweep_minima.json: f_s = 15 + h Hz, envelope at a fixed time after the
    // corner, so that |R| and not V has the minimum.
    const minima = (readJson('tower_sweep_minima.json') as { minima: Record<string, { h: number }[]> })
      .minima;
    const envelope = (h: number): number => {
      const { re, im } = residualFactor(shaper(family, 15 + h, shaperZeta), modeHz, systemZeta);
      return re * re + im * im;
    };
    expect(minima[name]!.length).toBeGreaterThanOrEqual(1);
    for (const { h } of minima[name]!) {
      // From 0.28 mm down to the bed there is room for 0.28 mm only.
      const reach = Math.min(0.5, h);
      const found = minimise1d(envelope, h - reach, h + reach, 1e-8).point;
      expectClose(found, h, { abs: 2e-5, why: 'five printed decimals; ZVD is flat' });
    }
  });

  test.each(cases)('%s: envelope over the height', (name, family, modeHz, shaperZeta, systemZeta) => {
    // Source: test/reference/tower_sweep_expected.csv, exact: piecewise matrix exponential. The scale (what
    // the unshaped corner leaves) is common to a case, so ratios to one height are compared.
    const rows = readCsv(
      'tower_sweep_expected.csv',
      ['height_mm', 'f_s_Hz', 'envelope_exact_mm'],
      ['case'],
    ).filter((row) => row.case === name);
    expect(rows.length).toBe(25);
    const found = rows.map((row) => {
      const { re, im } = residualFactor(shaper(family, row.f_s_Hz, shaperZeta), modeHz, systemZeta);
      return Math.hypot(re, im);
    });
    const scale = rows[4]!.envelope_exact_mm / found[4]!;
    expectClose(
      found.map((value) => value * scale),
      rows.map((row) => row.envelope_exact_mm),
      { abs: 1e-12, rel: 1e-11, why: 'thirteen printed digits' },
    );
  });
});

test('meanDelayS is the centroid of the impulses', () => {
  // Source: closed form: a symmetric shaper delays by half its length.
  fc.assert(
    fc.property(fc.constantFrom(...ALL), fc.double({ min: 10, max: 100, noNaN: true }), (family, hz) => {
      const impulses = shaper(family, hz, 0);
      expectClose(meanDelayS(impulses), impulses.timesS.at(-1)! / 2, { rel: 1e-12, why: 'rounding' });
    }),
  );
});
