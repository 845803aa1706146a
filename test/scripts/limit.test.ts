import { describe, expect, it } from 'vitest';
import { boundOf } from '../../scripts/accuracy/cramerRao.js';
import { limitOf } from '../../scripts/accuracy/limit.js';
import { expectClose } from '../helpers/closeTo.js';
import { RECIPE } from '../helpers/drawn.js';
import { residualFactor } from '../../src/physics/residual.js';
import { shaperImpulses } from '../../src/physics/shapers.js';
import { fitNull } from '../../src/band/nullFit.js';
import { seeded } from '../synth/random.js';
import { ladderHz } from '../synth/recipe.js';
import type { BandSignal } from '../synth/signal.js';

/** Hardly any ramp, so that travel time is distance ÷ speed; the ends of the wall say nothing. */
const STEADY = { ...RECIPE, accelerationMmPerS2: 1e6, cornerSpeedMmPerS: 100, wallShaped: false };

function bands(count: number, binSd: number): readonly BandSignal[] {
  return Array.from({ length: count }, (_, i) => ({
    heightMm: ((i + 0.5) * STEADY.heightMm) / count,
    amplitude: 0.04 * Math.abs(i / count - 0.45) + 1e-4,
    binSd,
  }));
}

describe('limitOf', () => {
  it('of frequency and damping is the bound of a damped sine, and a little more for the background', () => {
    const amplitude = 0.05;
    const sd = 0.01;
    const { naturalHz, dampingRatio, speedMmPerS } = STEADY;
    const hz = naturalHz * Math.sqrt(1 - dampingRatio ** 2);
    // From 2 mm behind the corner on; the amplitude is that at the corner.
    const timeS = Float64Array.from({ length: 620 }, (_, i) => (2 + 0.125 * (i + 0.5)) / speedMmPerS);
    // Source: boundOf, held against crb_damped_sine.csv. Mean information of two phases a quarter apart.
    const phases = [0.3, 0.3 + Math.PI / 2].map((phase) =>
      boundOf(timeS, hz, dampingRatio, phase, sd / amplitude),
    );
    const mean = (of: 'hz' | 'dampingRatio') =>
      1 / Math.sqrt(phases.reduce((sum, bound) => sum + bound[of] ** -2, 0) / 2);
    const found = limitOf(
      STEADY,
      bands(48, sd).map((band) => ({ ...band, amplitude })),
    )!;
    for (const [value, bound] of [
      [found.dampedHz * Math.sqrt(48), mean('hz')],
      [found.dampingRelative * Math.sqrt(48), mean('dampingRatio') / dampingRatio],
    ] as const) {
      expect(value / bound).toBeGreaterThan(1);
      expect(value / bound).toBeLessThan(1.2);
    }
  });

  it('is as large as the noise, and smaller by the root of the number of bands', () => {
    const one = limitOf(STEADY, bands(48, 0.001))!;
    const noisy = limitOf(STEADY, bands(48, 0.002))!;
    const more = limitOf(STEADY, bands(192, 0.001))!;
    expectClose(noisy.dampedHz / one.dampedHz, 2, { rel: 1e-9, why: 'no prior has a say' });
    expectClose(one.dampedHz / more.dampedHz, 2, {
      rel: 1e-2,
      why: 'nearly the same ripples seen four times',
    });
    // What is known beforehand of gain, corner and damping weighs the more the noisier the amplitudes are.
    expect(noisy.nullHz / one.nullHz).toBeGreaterThan(1.5);
    expect(noisy.nullHz / one.nullHz).toBeLessThan(2);
    expect(one.nullHz / more.nullHz).toBeGreaterThan(1.5);
    expect(one.nullHz / more.nullHz).toBeLessThan(2);
  });

  it('of the null is what a fit of such amplitudes comes near to', () => {
    // Amplitudes of a ZV ladder with an even gain, light and corner known well, noise of their own.
    const { naturalHz, dampingRatio, ladder, layerHeightMm, heightMm } = STEADY;
    const layers = heightMm / layerHeightMm;
    const shaper = { family: 'ZV', dampingRatio: ladder!.dampingRatio, hzMeans: 'natural' } as const;
    const clear = Array.from({ length: 48 }, (_, i) => {
      const height = ((i + 0.5) * heightMm) / 48;
      const hz = ladderHz(ladder!, height / layerHeightMm - 0.5, layers);
      const { re, im } = residualFactor(shaperImpulses({ ...shaper, hz }), naturalHz, dampingRatio);
      return { height, hz, re, im };
    });
    const gain = 0.05;
    const binSd = 0.01;
    const sharp = { ...STEADY, pxPerMm: 40 };
    const limit = limitOf(
      sharp,
      clear.map(({ height, re, im }) => ({
        heightMm: height,
        amplitude: gain * Math.hypot(re, im),
        binSd,
      })),
    )!;
    // The variance of each part of an amplitude: two columns share the energy of a decaying wave from 2 mm on.
    const sigma = (2 * Math.PI * 38 * dampingRatio) / STEADY.speedMmPerS;
    const partSd = binSd / Math.sqrt(Math.exp(-4 * sigma) / (4 * sigma) / 0.125);
    const random = seeded(5);
    const errors = Array.from({ length: 300 }, () => {
      const amplitudes = clear.map(({ hz, re, im }) => ({
        // Of a ladder that climbs evenly.
        ...{ heightMm: hz, ladderHz: hz },
        re: gain * re + partSd * random.normal(),
        im: gain * im + partSd * random.normal(),
        sd: partSd,
      }));
      const fit = fitNull(amplitudes, {
        ...{ shaper, frequencyHz: 38, dampingRatio, dampingSd: 0.15 * dampingRatio },
        ...{ timeOrigins: [0], gated: true, cornerPhaseRad: 0.1 },
      })!;
      return fit.naturalHz - naturalHz;
    });
    const rms = Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
    // 300 draws tell an rms to 4 %. The fit allows for errors of its model and knows the damping less well.
    expect(rms / limit.nullHz).toBeGreaterThan(0.9);
    expect(rms / limit.nullHz).toBeLessThan(1.4);
  });

  it('of the null grows where the corner may lie further off, and there is none without a ladder', () => {
    const sure = limitOf({ ...STEADY, pxPerMm: 30 }, bands(48, 0.001))!;
    const unsure = limitOf({ ...STEADY, pxPerMm: 8 }, bands(48, 0.001))!;
    expect(unsure.nullHz).toBeGreaterThan(sure.nullHz);
    const { ladder, ...off } = STEADY;
    expect(ladder).toBeDefined();
    expect(limitOf(off, bands(48, 0.001))).toBeUndefined();
  });
});
