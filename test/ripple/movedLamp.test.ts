import { describe, expect, it } from 'vitest';
import { decideLamps } from '../../src/band/decideLamps.js';
import { decideTogether } from '../../src/band/decideTogether.js';
import type { Profiles } from '../../src/profiles/makeProfiles.js';
import { lampsTogether, type LitPhoto } from '../../src/ripple/movedLamp.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';
import { seeded } from '../synth/random.js';
import { truthOf } from '../synth/truth.js';

const COUNT = 300;
const BANDS = 12;
const FAR = { fromMm: 20, windowMm: 5 };

/** A photo of ripples that decay within 10 mm, seen with a gain, over what all photos have in common. */
function photo(gain: number, common: readonly Float64Array[], noise = 0, seed = 1): LitPhoto {
  const { normal } = seeded(seed);
  const positionsMm = Float64Array.from({ length: COUNT }, (_, i) => 0.125 * (i + 0.5));
  const bands = Array.from({ length: BANDS }, (_, k) => ({
    heightMm: k + 0.5,
    ladderHz: 20 + k,
    values: positionsMm.map((x, i) => gain * ripple(k, x) + common[k]![i]! + noise * normal()),
  }));
  const profiles: Profiles = {
    walls: [{ startMm: 0, endMm: 37.5, startsAt: 'leading-corner' }],
    stepMm: 0.125,
    positionsMm,
    usable: new Uint8Array(COUNT).fill(1),
    bands,
    penLines: [],
  };
  const amplitudes = bands.map((_, k) => ({ amplitude: { re: gain * 0.01 * (k - 5), im: 0 }, sd: 1e-4 }));
  return { profiles, amplitudes };
}

const ripple = (k: number, x: number) => 0.01 * (k - 5) * Math.exp(-x / 3) * Math.cos(2.5 * x);

function stains(seed: number): readonly Float64Array[] {
  const { normal } = seeded(seed);
  return Array.from({ length: BANDS }, () => Float64Array.from({ length: COUNT }, () => 0.02 * normal()));
}

describe('photos between which only the lamp was moved', () => {
  it('what all have in common cancels where the ripples turn over', () => {
    const common = stains(7);
    const { profiles, gains, shares } = lampsTogether([photo(1, common), photo(-1, common)], FAR)!;
    // Source: closed form: C⁻¹g = g/σ² where g is at right angles to (1, 1), so that c = g/(gᵀg).
    expect([...gains, ...shares]).toEqual([1, -1, 0.5, -0.5].map((x) => expect.closeTo(x, 10) as number));
    profiles.bands.forEach(({ values }, k) => {
      const off = values.map((value, i) => Math.abs(value - ripple(k, profiles.positionsMm[i]!)));
      // Double precision of values of 0.1.
      expect(Math.max(...off)).toBeLessThan(1e-15);
    });
  });

  it('photos of one light count alike, and one with twice the noise a quarter as much', () => {
    const nothing = stains(7).map((row) => row.fill(0));
    const alike = lampsTogether([photo(1, nothing, 0.02, 2), photo(1, nothing, 0.04, 3)], FAR)!;
    // Source: weights 1/σ² of independent values (GUM, JCGM 100:2008, G.4.1 by Aitken): 4 : 1. Their variances are taken
    // from 12 · 140 places, to 3.5 %, and the shares' ratio from both.
    expect(alike.shares[0]! / alike.shares[1]!).toBeGreaterThan(4 / 1.2);
    expect(alike.shares[0]! / alike.shares[1]!).toBeLessThan(4 * 1.2);
  });

  it('photos without a height in common, or one alone, are not put together', () => {
    const common = stains(7);
    const one = photo(1, common);
    const raised = {
      ...one.profiles,
      bands: one.profiles.bands.map((b) => ({ ...b, heightMm: b.heightMm + 50 })),
    };
    expect(lampsTogether([one, { ...one, profiles: raised }], FAR)).toBeUndefined();
    expect(lampsTogether([one], FAR)).toBeUndefined();
    expect(lampsTogether([one, photo(-1, common)], { ...FAR, fromMm: 37 })).toBeUndefined();
  });

  it('stains cancel on drawn faces: the ripples stand out more, and the truth lies inside', () => {
    const stained = {
      ...RECIPE,
      noise: 0.05,
      texture: { widthSlope: 0, widthMm: 1, layerJitter: 0, grain: 0.06, grooves: 0 },
    };
    const light = (azimuthDeg: number) => ({
      lamp: { azimuthDeg, elevationDeg: 5, distanceWidths: 10 },
      camera: { azimuthDeg: 0, elevationDeg: 0, distanceWidths: 4 },
      surface: { silk: 0, silkAlong: 0.3, silkAcross: 0.8 },
      ambient: 0.2,
    });
    const photos = [-60, 60].map((azimuthDeg, shot) =>
      measureDrawn({ ...stained, shot, lighting: light(azimuthDeg) }),
    );
    const { proposal, lamps } = decideLamps(photos, decideTogether(photos))!;
    expect(lamps.gains[1]).toBeLessThan(-0.5);
    // Grain of 6 % against noise of 5 % of a pixel, many of which are averaged: nearly all that is noise cancels.
    expect(lamps.signalToNoise.together).toBeGreaterThan(1.5 * lamps.signalToNoise.alone);
    if (proposal?.state !== 'proposed') throw new Error('Expected a proposal.');
    const { nullHz } = truthOf(RECIPE);
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
    // A lamp that stays on one side shows nothing the other way round.
    const same = [-60, -45].map((azimuthDeg, shot) =>
      measureDrawn({ ...stained, shot, lighting: light(azimuthDeg) }),
    );
    expect(decideLamps(same, decideTogether(same))).toBeUndefined();
  });
});
