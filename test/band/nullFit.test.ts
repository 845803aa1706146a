import { describe, expect, it } from 'vitest';
import { fitNull, shaperNullHz, tryNull, type NullQuestion } from '../../src/band/nullFit.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv, readJson } from '../helpers/readReference.js';
import { seeded } from '../synth/random.js';

interface SweepMinima {
  readonly minima: Readonly<Record<string, readonly { readonly fs: number }[]>>;
}
const SWEEP = readJson('tower_sweep_minima.json') as SweepMinima;

/** Frequency of the main null in a case of the reference: the highest one. */
function mainNull(name: string): number {
  return Math.max(...SWEEP.minima[name]!.map((minimum) => minimum.fs));
}

describe('shaperNullHz', () => {
  // Source: test/reference/tower_sweep_minima.json, minima of an exact simulated sweep.
  it.each([
    ['A_ZV_z0', 'ZV', 0, 43.7, 0],
    ['B_ZV_matched_z0.08', 'ZV', 0.08, 43.7, 0.08],
    ['C_ZV_shaper_z0.10_system_z0.05', 'ZV', 0.1, 43.7, 0.05],
    ['D_ZVD_matched_z0.08', 'ZVD', 0.08, 43.7, 0.08],
    ['H_ZV_z0_57.3Hz', 'ZV', 0, 57.3, 0],
    ['I_ZV_matched_z0.08_57.3Hz', 'ZV', 0.08, 57.3, 0.08],
  ] as const)('%s', (name, family, setting, hz, zeta) => {
    const found = shaperNullHz({ family, dampingRatio: setting, hzMeans: 'natural' }, hz, zeta);
    // The sweep's minimum is that of the envelope at 0.12 s, ours of the ratio to the unshaped: the same
    // where the null is exact, 0.01 Hz apart where a wrong setting leaves a rest.
    expectClose(found, mainNull(name), { abs: 0.02, why: 'the reference tells minima to 0.003 Hz' });
  });

  it('a number that means the damped frequency moves the null by √(1 − ζ²)', () => {
    const at = (hzMeans: 'natural' | 'damped') =>
      shaperNullHz({ family: 'ZV', dampingRatio: 0.1, hzMeans }, 40, 0.1);
    // Source: REFERENCES §4, 0.5 % at ζ 0.1; closed form √(1 − ζ²).
    expectClose(at('damped') / at('natural'), Math.sqrt(1 - 0.01), { rel: 1e-6, why: 'identity' });
  });
});

const QUESTION: NullQuestion = {
  shaper: { family: 'ZV', dampingRatio: 0.08, hzMeans: 'natural' },
  frequencyHz: 43.7 * Math.sqrt(1 - 0.08 ** 2),
  dampingRatio: 0.08,
  dampingSd: 0.008,
  timeOrigins: [0],
  gated: true,
  cornerPhaseRad: 0.3,
};

/**
 * Signed amplitudes whose sizes are the reference's exact envelopes (case B: ZV, ζ 0.08, 43.7 Hz) and whose
 * phase is that of the shaped impulse train, written out here.
 */
function referenceAmplitudes(noise: number, seed: number, gainSlope = 0) {
  const random = seeded(seed);
  return readCsv('tower_sweep_expected.csv', ['zeta_system', 'f_s_Hz', 'envelope_exact_mm'], ['case'])
    .filter((row) => row.case === 'B_ZV_matched_z0.08' && row.f_s_Hz > 20)
    .map((row) => {
      const root = Math.sqrt(1 - 0.08 ** 2);
      const omega = 2 * Math.PI * 43.7;
      const t = 1 / (2 * row.f_s_Hz * root);
      const k = Math.exp((-Math.PI * 0.08) / root);
      const grow = k * Math.exp(0.08 * omega * t);
      const phase =
        Math.atan2(-grow * Math.sin(omega * root * t), 1 + grow * Math.cos(omega * root * t)) + 0.9;
      const size = row.envelope_exact_mm * (1 + gainSlope * (row.f_s_Hz - 45));
      return {
        ladderHz: row.f_s_Hz,
        re: size * Math.cos(phase) + noise * random.normal(),
        im: size * Math.sin(phase) + noise * random.normal(),
        sd: Math.max(noise, 1e-6),
      };
    });
}

describe('fitNull on the exact simulated sweep', () => {
  it('finds the null and its sign reversal without noise', () => {
    const fit = fitNull(referenceAmplitudes(0, 1), QUESTION)!;
    expectClose(fit.nullHz, 43.7, { abs: 0.05, why: 'the priors of gain and phase act without noise, too' });
    expect(fit.reversalF).toBeGreaterThan(3);
    expect(fit.signalBelow).toBeGreaterThan(2);
    expect(fit.signalAbove).toBeGreaterThan(2);
  });

  it('a gain that doubles over the ladder, as light does, does not move it', () => {
    const fit = fitNull(referenceAmplitudes(0, 1, 0.015), QUESTION)!;
    expectClose(fit.nullHz, 43.7, { abs: 0.15, why: 'the gain is modelled by bends with a prior' });
  });

  it('claims an uncertainty that the scatter bears out', () => {
    const fits = Array.from({ length: 60 }, (_, i) => fitNull(referenceAmplitudes(0.006, 10 + i), QUESTION)!);
    const errors = fits.map((fit) => (fit.nullHz - 43.7) / fit.nullSdHz);
    const rms = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
    // 60 draws tell a standard deviation to 9 %; 1.1 and the floor of 0.1 Hz make the claim conservative.
    expect(rms).toBeLessThan(1.2);
    expect(rms).toBeGreaterThan(0.25);
  });

  it('a path that never turns over has no reversal', () => {
    const flat = referenceAmplitudes(0.004, 3).map((a) => ({ ...a, re: 0.1 + 0.2 * a.re, im: 0.05 }));
    const fit = fitNull(flat, QUESTION)!;
    expect(fit.reversalF).toBeLessThan(3);
  });

  it('a dip without a reversal has none either, not even where the corner leans', () => {
    // The size of the sweep, with the delay's own phase and a lean, but never turned over.
    const upright = referenceAmplitudes(0, 1);
    for (const leanRad of [0, 0.4]) {
      const random = seeded(9);
      const dip = upright.map(({ ladderHz, re, im, sd }, i) => {
        const lag = (-Math.PI * 43.7) / (2 * ladderHz) + leanRad * ((2 * i) / upright.length - 1);
        const size = Math.hypot(re, im);
        return {
          ladderHz,
          re: size * Math.cos(lag) + 0.004 * random.normal(),
          im: size * Math.sin(lag) + 0.004 * random.normal(),
          sd: Math.max(sd, 0.004),
        };
      });
      expect(fitNull(dip, QUESTION)!.reversalF).toBeLessThan(3);
    }
  });

  it('a double zero touches and goes back: ZVD keeps its sign, ZV changes it', () => {
    // Published residuals: |R| of a ZVD shaper is that of a ZV squared (Singer & Seering 1990, from memory).
    const signs = (family: 'ZV' | 'ZVD') => {
      const amplitudes = referenceAmplitudes(0.002, 4).map((a) => {
        const power = family === 'ZV' ? 1 : 2;
        const size = Math.hypot(a.re, a.im) ** power;
        const phase = Math.atan2(a.im, a.re) * power;
        return { ...a, re: size * Math.cos(phase), im: size * Math.sin(phase) };
      });
      const fit = fitNull(amplitudes, { ...QUESTION, shaper: { ...QUESTION.shaper, family } })!;
      return [Math.sign(fit.path[3]!), Math.sign(fit.path[fit.path.length - 4]!)];
    };
    expect(signs('ZV')).toEqual([-1, 1]);
    expect(signs('ZVD')).toEqual([1, 1]);
  });

  it('tryNull is the null of fitNull', () => {
    const amplitudes = referenceAmplitudes(0.004, 5);
    expect(tryNull(amplitudes, QUESTION)!.nullHz).toBe(fitNull(amplitudes, QUESTION)!.nullHz);
  });

  it('cannot fit fewer than eight heights, or none inside the gate', () => {
    const amplitudes = referenceAmplitudes(0.004, 5);
    expect(fitNull(amplitudes.slice(0, 7), QUESTION)).toBeUndefined();
    expect(fitNull(amplitudes, { ...QUESTION, frequencyHz: 500 })).toBeUndefined();
  });
});
