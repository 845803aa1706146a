import { describe, expect, test } from 'vitest';
import { loadFactor } from '../../src/physics/oscillator.js';
import { quietBand, worstVibration } from '../../src/physics/quietBand.js';
import { residualVibration } from '../../src/physics/residual.js';
import { shaperImpulses, type ShaperFamily } from '../../src/physics/shapers.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv, readJson } from '../helpers/readReference.js';

const exactly = (value: number) => ({ low: value, high: value });

describe('quietBand', () => {
  const widths = (
    readJson('shapers.json') as {
      insensitivity_5pct_undamped: Record<string, { r_low: number; r_high: number }>;
    }
  ).insensitivity_5pct_undamped;

  test.each(
    Object.entries({
      ZV: 'ZV',
      ZVD: 'ZVD',
      ZVDD: 'ZVDD',
      EI5: 'EI',
      EI2hump5: '2-hump EI',
      EI3hump5: '3-hump EI',
    } satisfies Record<string, ShaperFamily>),
  )('of %s without damping is the insensitivity of the reference', (name, family) => {
    // Source: test/reference/shapers.json, found apart from this code.
    const { r_low: low, r_high: high } = widths[name]!;
    // Humps touch 5 % in rounding.
    const found = quietBand(family, 0, exactly(0), 0.05 * (1 + 1e-9))!;
    expectClose([found.low, found.high], [low, high], {
      abs: 1e-8,
      why: 'two root finders, 1e-9 of the limit',
    });
  });

  test('has V within the limit at every damping ratio of its span, and above it outside', () => {
    const span = { low: 0.03, high: 0.09 };
    const band = quietBand('ZVD', 0.05, span, 0.05)!;
    const impulses = shaperImpulses({ family: 'ZVD', hz: 1, dampingRatio: 0.05, hzMeans: 'natural' });
    for (let zeta = 0.03; zeta <= 0.09; zeta += 0.005) {
      for (let r = band.low; r <= band.high; r += 0.01) {
        expect(residualVibration(impulses, r, zeta)).toBeLessThanOrEqual(0.05 + 1e-6);
      }
    }
    for (const outside of [band.low - 1e-4, band.high + 1e-4]) {
      expect(
        Math.max(...[0.03, 0.06, 0.09].map((zeta) => residualVibration(impulses, outside, zeta))),
      ).toBeGreaterThan(0.05);
    }
  });

  test('is none where the damping ratio alone lets more through', () => {
    // Source: ZV at its own frequency leaves about (π/2)|Δζ|: 0.04 makes 6 %.
    expect(quietBand('ZV', 0.06, { low: 0.02, high: 0.1 }, 0.05)).toBeUndefined();
    expect(quietBand('ZV', 0.06, { low: 0.04, high: 0.08 }, 0.05)).toBeDefined();
  });
});

test('worstVibration is no less than any row of the table in its span, and hardly more than the largest', () => {
  // Source: test/reference/shaper_V_table.csv, matrix exponential.
  const rows = readCsv('shaper_V_table.csv', ['zeta_design', 'zeta_system', 'r=f/f_s', 'V_expm'], ['shaper']);
  for (const [name, family] of [
    ['ZV', 'ZV'],
    ['ZVD', 'ZVD'],
    ['ZVDD', 'ZVDD'],
  ] as const) {
    const some = rows.filter(
      (row) =>
        row.shaper === name && row.zeta_design === 0.05 && row['r=f/f_s'] >= 0.7 && row['r=f/f_s'] <= 1.3,
    );
    const zetas = some.map((row) => row.zeta_system);
    const span = { low: Math.min(...zetas), high: Math.max(...zetas) };
    const ratios = some.map((row) => row['r=f/f_s']);
    const impulses = shaperImpulses({ family, hz: 30, dampingRatio: 0.05, hzMeans: 'natural' });
    const worst = worstVibration(
      impulses,
      { low: 30 * Math.min(...ratios), high: 30 * Math.max(...ratios) },
      span,
    );
    const largest = Math.max(...some.map((row) => row.V_expm));
    expect(some.length).toBeGreaterThan(4);
    expectClose(worst, largest, {
      abs: 1e-9,
      why: 'V of these is largest at a corner of the span, which is a row',
    });
  }
});

test('a load lowers frequency and damping ratio by the root of the mass', () => {
  // Source: f = √(k/m)/(2π): four times the mass halves it. REFERENCES §9: 10 % more mass, 4.7 % lower.
  expectClose(loadFactor(1, 3), 0.5, { abs: 1e-15, why: 'rounding' });
  expectClose(1 - loadFactor(1, 0.1), 0.047, { abs: 5e-4, why: 'two printed digits' });
  for (const [mass, added] of [
    [0, 1],
    [-1, 1],
    [1, -0.1],
    [NaN, 1],
    [1, Infinity],
  ] as const) {
    expect(() => loadFactor(mass, added)).toThrow(/mass > 0 kg/);
  }
});
