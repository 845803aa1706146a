import { describe, expect, it } from 'vitest';
import { makeProfiles } from '../../src/profiles/makeProfiles.js';
import { measureRipples } from '../../src/ripple/measureRipples.js';
import { proofRipples, type ProofRipples } from '../../src/ripple/proofRipples.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawn, RECIPE } from '../helpers/drawn.js';
import { readCsv } from '../helpers/readReference.js';
import { cornerResponse, rateAtCorner } from '../synth/motion.js';
import type { FaceRecipe } from '../synth/recipe.js';
import { shaperOf } from '../synth/shapers.js';

const MM_PER_S2 = [2000, 3000, 4000, 5500, 8000];

function proofRecipe(over: Partial<FaceRecipe>, mmPerS2: readonly number[] = MM_PER_S2): FaceRecipe {
  const step = RECIPE.heightMm / mmPerS2.length;
  const accelerations = mmPerS2.map((value, i) => ({
    fromMm: step * i,
    toMm: step * (i + 1),
    mmPerS2: value,
  }));
  return { ...RECIPE, noise: 0.03, accelerations, ...over };
}

function unshaped(over: Partial<FaceRecipe>, mmPerS2?: readonly number[]): FaceRecipe {
  const recipe = { ...proofRecipe(over, mmPerS2) };
  delete (recipe as { ladder?: unknown }).ladder;
  return recipe;
}

function measure(recipe: FaceRecipe): ProofRipples {
  const { face, settings } = drawn(recipe);
  const profiles = makeProfiles(face, settings);
  return proofRipples(profiles, settings, measureRipples(profiles, settings)!)!;
}

/** Rate of the swing at the corner ÷ print speed, by integration. */
function trueSwing(recipe: FaceRecipe, mmPerS2: number): number {
  const { ladder, speedMmPerS } = recipe;
  const response = cornerResponse({ ...recipe, accelerationMmPerS2: mmPerS2 }, recipe, 0.2);
  const shaper =
    ladder === undefined ? [{ share: 1, lateS: 0 }] : shaperOf('ZV', ladder.fromHz, ladder.dampingRatio);
  return rateAtCorner(response, recipe, shaper) / speedMmPerS;
}

// Lambert's cosine law: a lamp 22° from straight in front shows a slope as tan 22° of contrast.
const CONTRAST = Math.tan((22 * Math.PI) / 180);

describe('ringing that is left', () => {
  const recipe = proofRecipe({ ladder: { fromHz: 46, toHz: 46, dampingRatio: 0.1 } });
  const proof = measure(recipe);

  it('is found at its own frequency, not at the one that the shaper is set to', () => {
    expect(proof.frequency).toEqual({ state: 'measured' });
    expectClose(proof.ripples.frequencyHz.value, RECIPE.naturalHz * Math.sqrt(1 - RECIPE.dampingRatio ** 2), {
      abs: 0.4,
      why: 'four of its standard uncertainties, 0.1 Hz',
    });
  });

  // Source: integration step by step in test/synth, and Lambert's law.
  it.each(MM_PER_S2.map((mmPerS2, i) => ({ mmPerS2, i })))('at $mmPerS2 mm/s²', ({ mmPerS2, i }) => {
    const { amplitude, heights } = proof.steps[i]!;
    expect(heights).toBeGreaterThanOrEqual(8);
    const wanted = CONTRAST * trueSwing(recipe, mmPerS2);
    expectClose(amplitude!.value, wanted, {
      abs: 3 * amplitude!.sd,
      rel: 3 * proof.sharedSd,
      why: 'three standard uncertainties, and three of what all steps share',
    });
    expect(amplitude!.sd).toBeLessThan(0.3 * CONTRAST * trueSwing(recipe, 8000));
  });
});

describe('against the table', () => {
  // Source: test/reference/corner_ringing_amplitude.csv: at Δv 100 mm/s and 40 Hz, 3000 mm/s² leaves 0.0823 mm and
  // 4000 mm/s², a ramp of one whole swing, nothing. Its closed form gives the other accelerations.
  const table = readCsv('corner_ringing_amplitude.csv', ['dv', 'a', 'f', 'X_closed']).filter(
    ({ dv, f }) => dv === 100 && f === 40,
  );
  const mmPerS2 = [3000, 4000, 5000, 7000, 10_000];
  const omega = 2 * Math.PI * 40;
  const closed = (a: number) => ((2 * a) / omega ** 2) * Math.abs(Math.sin((omega * 100) / (2 * a)));
  const zeta = 0.02;
  const proof = measure(
    unshaped(
      {
        ...{ naturalHz: 40, dampingRatio: zeta, speedMmPerS: 100.2, cornerSpeedMmPerS: 0.2 },
        gain: 0.4,
      },
      mmPerS2,
    ),
  );
  const sizes = proof.steps.map((step) => step!.amplitude!.value);

  it('the table is the closed form', () => {
    const tested = table.filter(({ a }) => mmPerS2.includes(a));
    expect(tested.map(({ a }) => a)).toEqual([3000, 4000]);
    for (const { a, X_closed: wanted } of tested) {
      expectClose(closed(a), wanted, { abs: 1e-9, why: 'nine digits' });
    }
  });

  // Damping 0.02 lets the swing of a ramp of T seconds decay by 1 − e^{−ωζT}: 15 % at 3000 mm/s², so that much of what the
  // ramp's two ends leave does not cancel.
  it.each(mmPerS2.map((a, i) => ({ a, i })))('amplitude at $a mm/s² ÷ that at 10000', ({ a, i }) => {
    const undone = 1 - Math.exp((-omega * zeta * 100) / a);
    expectClose(sizes[i]! / sizes[4]!, closed(a) / closed(10_000), {
      abs: (undone * (a / omega ** 2)) / closed(10_000) + 0.03,
      why: 'what damping leaves of the first end of the ramp, and 3 % for noise',
    });
  });

  it('it is not monotone: the ramp of one whole swing leaves least', () => {
    expect(sizes[1]!).toBeLessThan(0.35 * sizes[0]!);
    expect(Math.min(...sizes)).toBe(sizes[1]);
  });
});

describe('where nothing rings', () => {
  it('the shaper says where to look, and amplitudes stay within their noise', () => {
    const proof = measure(proofRecipe({ ladder: { fromHz: 38, toHz: 38, dampingRatio: 0.07 }, gain: 0 }));
    expect(proof.frequency).toMatchObject({ state: 'assumed', dampingRatio: 0.1 });
    // Source: f_d = f √(1 − ζ²), elementary.
    const { dampedHz } = proof.frequency as { dampedHz: number };
    expectClose(dampedHz, 38 * Math.sqrt(0.99), { rel: 1e-12, why: 'the same form' });
    for (const step of proof.steps) {
      expect(step!.amplitude!.value).toBeLessThan(4 * step!.noise);
    }
  });

  it('without a shaper the worst of many frequencies is told, and no amplitude', () => {
    const proof = measure(unshaped({ gain: 0 }));
    expect(proof.frequency).toMatchObject({ state: 'range', lowHz: 20, highHz: 100 });
    for (const step of proof.steps) expect(step).toMatchObject({ amplitude: undefined });
    // Source: a mean of n px of white noise s errs by s/√n at least, over all 160 rows and 1280 columns of a step.
    for (const step of proof.steps) expect(step!.noise).toBeGreaterThan(0.03 / Math.sqrt(160 * 1280));
  });

  it('a step whose ramps leave no wall is not read', () => {
    const proof = measure(
      proofRecipe({ ladder: { fromHz: 38, toHz: 38, dampingRatio: 0.07 } }, [70, 3000, 6000]),
    );
    // Source: elementary, v²/2a at both ends: 79 mm each of 80 mm at 70 mm/s².
    expect(proof.steps[0]).toBeUndefined();
    expect(proof.steps[1]!.heights).toBeGreaterThan(10);
  });
});
