import { describe, expect, it } from 'vitest';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';
import type { FaceRecipe } from '../synth/recipe.js';
import { truthOf } from '../synth/truth.js';

// Source of every expected value: the drawing's own modes (test/synth), which share nothing with src.

const { dampedHz, nullHz } = truthOf(RECIPE);
type Second = NonNullable<FaceRecipe['second']>;
const withSecond = (second: Second) => measureDrawn({ ...RECIPE, second });
const dampedHzOf = ({ naturalHz, dampingRatio }: Second) => naturalHz * Math.sqrt(1 - dampingRatio ** 2);

describe('a second frequency in the ripples', () => {
  it.each([
    { naturalHz: 25, dampingRatio: 0.08, share: 0.4 },
    { naturalHz: 28, dampingRatio: 0.06, share: 0.3 },
    { naturalHz: 68, dampingRatio: 0.05, share: 0.8 },
  ])('$naturalHz Hz is found, and does not spoil the first', (second) => {
    const { decision, ripples } = withSecond(second);
    const { ringing, proposal, budget } = decision;
    expect(ripples?.second?.moves).toBeUndefined();
    // There is no pattern of the drive on this face.
    expect(budget.map(({ cause }) => cause)).toContain('taken-second');
    expect(budget.map(({ cause }) => cause)).not.toContain('near-pattern');
    // The drawing's speed is exact: only scatter is left, and three of its standard uncertainties.
    const found = ripples!.second!.frequencyHz;
    expect(Math.abs(found.value - dampedHzOf(second))).toBeLessThan(3 * found.sd + 0.01 * found.value);
    expect(ringing!.second!.frequencyHz.sd).toBeGreaterThan(0.02 * found.value);
    expect(Math.abs(ringing!.frequencyHz.value - dampedHz)).toBeLessThan(0.015 * dampedHz);
    if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
  });

  it('is none where the axis swings at one', () => {
    expect(measureDrawn(RECIPE).ripples?.second).toBeUndefined();
    // A pattern of the drive does not decay, and is no swing.
    expect(
      measureDrawn({ ...RECIPE, pitch: { pitchMm: 2, amplitude: 0.02 } }).ripples?.second,
    ).toBeUndefined();
  });

  it('the one that swings further at the corner is the first, though the other lasts longer', () => {
    const { ripples, decision } = withSecond({ naturalHz: 27, dampingRatio: 0.03, share: 0.35 });
    expect(Math.abs(decision.ringing!.frequencyHz.value - dampedHz)).toBeLessThan(0.015 * dampedHz);
    expect(ripples!.second!.share).toBeLessThan(1);
  });

  it('too faint and close to be told makes the result less sure, so that it still holds', () => {
    for (const seed of [1, 2, 3, 4]) {
      const second = { naturalHz: 1.22 * RECIPE.naturalHz, dampingRatio: 0.06, share: 0.5 };
      const { decision, ripples } = measureDrawn({ ...RECIPE, noise: 0.04, seed, second });
      const { proposal, budget } = decision;
      if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
      expect(nullHz).toBeGreaterThan(proposal.combined.low95);
      expect(nullHz).toBeLessThan(proposal.combined.high95);
      expect(ripples?.second !== undefined || budget.some(({ cause }) => cause === 'faint-second')).toBe(
        true,
      );
    }
  });

  it.each([1.04, 1.08, 1.12])(
    'too close to the first, at %d times it, the answer lies between both',
    (factor) => {
      const { decision, ripples } = withSecond({
        naturalHz: factor * RECIPE.naturalHz,
        dampingRatio: 0.1,
        share: 0.8,
      });
      const { proposal } = decision;
      expect(ripples?.second).toBeUndefined();
      if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
      // Either is right, so that nothing between them is wrong.
      expect(proposal.combined.value).toBeGreaterThan(nullHz);
      expect(proposal.combined.value).toBeLessThan(factor * nullHz);
    },
  );
});
