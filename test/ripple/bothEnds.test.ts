import { describe, expect, it } from 'vitest';
import { measureRipples } from '../../src/ripple/measureRipples.js';
import { measureDrawn, RECIPE, type DrawnResult } from '../helpers/drawn.js';
import { truthOf } from '../synth/truth.js';

// Source of every expected value: the drawing's own axis (test/synth), which shares nothing with src.

function isRight({ decision }: DrawnResult, naturalHz = RECIPE.naturalHz): boolean {
  const { nullHz } = truthOf({ ...RECIPE, naturalHz });
  const { proposal } = decision;
  if (proposal.state !== 'proposed') return false;
  return nullHz > proposal.combined.low95 && nullHz < proposal.combined.high95;
}

describe('layers printed in alternating directions', () => {
  it('are noticed by ripples that begin at both ends, and read from both', () => {
    const alternating = measureDrawn({ ...RECIPE, alternates: true, noise: 0.03 });
    expect(alternating.ripples?.bothEnds).toBe(true);
    expect(isRight(alternating)).toBe(true);
  });

  it('are right as told', () => {
    const told = measureDrawn({ ...RECIPE, alternates: true, noise: 0.03 }, { direction: 'alternates' });
    expect(told.ripples?.bothEnds).toBe(true);
    expect(isRight(told)).toBe(true);
  });

  it('are read alike told or not, where a usual band would hold more layers of one direction', () => {
    // Five layers of 0.2 mm to a band of 1 mm; even bands have six.
    const recipe = { ...RECIPE, layerHeightMm: 0.2, alternates: true, noise: 0.03 };
    const untold = measureDrawn(recipe);
    const told = measureDrawn(recipe, { direction: 'alternates' });
    expect(untold.profiles.bands.length).toBeLessThan(
      measureDrawn({ ...recipe, alternates: false }).profiles.bands.length,
    );
    expect(untold.profiles.bands.map(({ heightMm }) => heightMm)).toEqual(
      told.profiles.bands.map(({ heightMm }) => heightMm),
    );
    expect(untold.ripples!.frequencyHz).toEqual(told.ripples!.frequencyHz);
    expect(isRight(untold)).toBe(true);
  });

  it('of little damping, whose ripples from both ends meet, are told apart all the same', () => {
    const recipe = { ...RECIPE, alternates: true, noise: 0.03, dampingRatio: 0.04, naturalHz: 30 };
    const { ripples } = measureDrawn(recipe);
    const truth = truthOf(recipe);
    expect(ripples?.bothEnds).toBe(true);
    // Scatter of such a face is far less; patterns of another spacing would be far off.
    expect(Math.abs(ripples!.frequencyHz.value / truth.dampedHz - 1)).toBeLessThan(0.01);
    expect(Math.abs(ripples!.dampingRatio.value / truth.dampingRatio - 1)).toBeLessThan(0.3);
  });

  it('printed the same way, but told as alternating, the face is right all the same', () => {
    const told = measureDrawn({ ...RECIPE, noise: 0.03 }, { direction: 'alternates' });
    expect(isRight(told)).toBe(true);
  });

  it('are not seen where the wall is printed one way, nor where a pattern of the drive runs all along it', () => {
    expect(measureDrawn(RECIPE).ripples?.bothEnds).toBe(false);
    const pitch = { pitchMm: 2, amplitude: 0.1 };
    expect(measureDrawn({ ...RECIPE, pitch }).ripples?.bothEnds).toBe(false);
    expect(measureDrawn({ ...RECIPE, gain: 0, pitch }).ripples?.bothEnds).toBe(false);
  });

  it('are not seen where the wrong corner is told as the leading one: only the far one rings then', () => {
    const { profiles, settings } = measureDrawn({ ...RECIPE, noise: 0.03 });
    const bands = profiles.bands.map((band) => ({ ...band, values: band.values.toReversed() }));
    const turned = { ...profiles, bands, usable: profiles.usable.toReversed() };
    expect(measureRipples(turned, settings)?.bothEnds).toBe(false);
  });
});
