import { describe, expect, it } from 'vitest';
import { decideBand } from '../../src/band/decide.js';
import { decideTogether } from '../../src/band/decideTogether.js';
import { fuseRipples, fuseSecond } from '../../src/ripple/fuseRipples.js';
import { measureRipples } from '../../src/ripple/measureRipples.js';
import { measureDrawn, RECIPE, type DrawnResult } from '../helpers/drawn.js';
import type { FaceRecipe } from '../synth/recipe.js';
import { truthOf } from '../synth/truth.js';

const { nullHz, dampedHz } = truthOf(RECIPE);
/** Photos of one face: each has noise of its own. */
const shots = (count: number, recipe: FaceRecipe): readonly DrawnResult[] =>
  Array.from({ length: count }, (_, shot) => measureDrawn({ ...recipe, shot }));

describe('several photos of one axis', () => {
  it('are fitted together, and the truth lies inside', () => {
    const photos = shots(3, { ...RECIPE, noise: 0.15 });
    const { proposal, uses, ringing, budget } = decideTogether(photos);
    expect(uses).toEqual(['used', 'used', 'used']);
    if (proposal?.state !== 'proposed') throw new Error('Expected a proposal.');
    // Source: the drawing's own axis and shaper (test/synth/truth.ts).
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
    // Three standard uncertainties; the drawing's speed is exact.
    expect(Math.abs(ringing!.frequencyHz.value - dampedHz)).toBeLessThan(3 * ringing!.frequencyHz.sd);
    // Scatter shrinks with the number of photos; what is uncertain of print and record does not.
    const scatter = (lines: typeof budget) =>
      lines.find(({ cause }) => cause === 'scatter-spacing')!.spacingHz;
    const alone = Math.max(...photos.map(({ decision }) => scatter(decision.budget)));
    expect(scatter(budget)).toBeLessThan(alone);
    const speed = (lines: typeof budget) => lines.find(({ cause }) => cause === 'speed')!.spacingHz;
    // Source: GUM (JCGM 100:2008) F.1.2.3: what is common to all readings does not average out. 2 % of the frequency.
    // Of each photo alone, whose frequency is not quite that of all.
    expect(Math.abs(speed(budget) / proposal.fromSpacing.value - 0.02)).toBeLessThan(0.0002);
  });

  it('have one second frequency, from all that show it', () => {
    const second = { naturalHz: 28, dampingRatio: 0.06, share: 0.3 };
    const photos = shots(3, { ...RECIPE, second });
    const alone = photos.map(({ ripples }) => ripples!.second!.frequencyHz);
    const fused = fuseSecond(photos.map(({ ripples }) => ripples!))!.frequencyHz;
    // Source: the drawing's own second swing; its speed is exact. Three standard uncertainties of scatter, and 0.5 % for the light.
    const truth = second.naturalHz * Math.sqrt(1 - second.dampingRatio ** 2);
    expect(Math.abs(fused.value - truth)).toBeLessThan(3 * fused.sd + 0.005 * truth);
    expect(fused.value).toBeGreaterThan(Math.min(...alone.map(({ value }) => value)));
    expect(fused.value).toBeLessThan(Math.max(...alone.map(({ value }) => value)));
    expect(fused.sd).toBeLessThan(Math.max(...alone.map(({ sd }) => sd)));
    const { ringing } = decideTogether(photos);
    expect(ringing).toMatchObject({ second: { frequencyHz: { value: fused.value } } });
  });

  it('each too faint to be proposed by itself may be enough together', () => {
    const photos = shots(5, { ...RECIPE, noise: 0.3 });
    const alone = photos.filter(({ decision }) => decision.proposal.state === 'proposed').length;
    const { proposal } = decideTogether(photos);
    expect(alone).toBe(0);
    if (proposal?.state !== 'proposed') throw new Error('Expected a proposal.');
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
  });

  it.each([0, 2, 4])('the odd one of five is named, wherever it stands: %i', (place) => {
    const photos = [...shots(5, RECIPE)];
    photos[place] = measureDrawn({ ...RECIPE, naturalHz: 1.1 * RECIPE.naturalHz, shot: place });
    const { proposal, uses } = decideTogether(photos);
    expect(uses.map((use, i) => (use === 'odd-one-out' ? i : -1)).filter((i) => i >= 0)).toEqual([place]);
    expect(proposal?.state).toBe('proposed');
  });

  it('of two that contradict each other neither is believed', () => {
    const photos = [measureDrawn(RECIPE), measureDrawn({ ...RECIPE, naturalHz: 1.1 * RECIPE.naturalHz })];
    expect(decideTogether(photos).proposal).toMatchObject({ state: 'refused', reason: 'photos-disagree' });
  });

  it('of two and two nobody is the odd one', () => {
    const other = { ...RECIPE, naturalHz: 1.1 * RECIPE.naturalHz };
    const { proposal, uses } = decideTogether([...shots(2, RECIPE), ...shots(2, other)]);
    expect(proposal).toMatchObject({ state: 'refused', reason: 'photos-disagree' });
    expect(uses).not.toContain('odd-one-out');
  });

  it('what cannot be measured by itself is left out, and nothing is proposed where nothing is left', () => {
    const dead = measureDrawn({ ...RECIPE, gain: 0 });
    const { proposal, uses } = decideTogether([dead, undefined, ...shots(2, RECIPE)]);
    expect(uses).toEqual(['refused', 'refused', 'used', 'used']);
    expect(proposal?.state).toBe('proposed');
    expect(decideTogether([dead, undefined])).toMatchObject({
      uses: ['refused', 'refused'],
      proposal: undefined,
    });
  });

  it('a ladder told upside down is not believed, however many photos agree on it', () => {
    const ladder = { kind: 'linear', fromHz: 60, toHz: 20, firstLayer: 0, lastLayer: 199 };
    const photos = [0, 1, 2].map((shot) => measureDrawn({ ...RECIPE, shot }, { ladder }));
    const { proposal } = decideTogether(photos);
    expect(proposal?.state).not.toBe('proposed');
  });

  it('their order changes nothing, though one has a poor scale and another an assumed acceleration', () => {
    const photos = shots(3, { ...RECIPE, noise: 0.15 });
    const [a, b, c] = photos.map(({ evidence, decision }) => ({ evidence, decision }));
    const geometry = { ...b!.evidence.geometry, lengthRelativeSd: 0.01, heightRelativeSd: 0.01 };
    const assumed = new Set(['accelerationMmPerS2']);
    const ripples = measureRipples(c!.evidence.profiles!, c!.evidence.settings, assumed);
    const evidences = [a!.evidence, { ...b!.evidence, geometry }, { ...c!.evidence, ripples, assumed }];
    const singles = evidences.map((evidence) => ({ evidence, decision: decideBand(evidence) }));
    const results = [
      [0, 1, 2],
      [2, 0, 1],
      [1, 2, 0],
    ].map((order) => decideTogether(order.map((i) => singles[i])));
    const values = results.map(({ proposal }) => {
      if (proposal?.state !== 'proposed') throw new Error('Expected a proposal.');
      return proposal.combined;
    });
    for (const { value, sd } of values) {
      // The search begins elsewhere, and ends in the same minimum to a small part of its uncertainty.
      expect(Math.abs(value - values[0]!.value)).toBeLessThan(0.05 * values[0]!.sd);
      expect(Math.abs(sd / values[0]!.sd - 1)).toBeLessThan(0.05);
    }
    expect(results[0]!.budget.map(({ cause }) => cause)).toContain('assumed-acceleration');
  });

  it('one that was fitted at a wrong frequency by itself does not lead the others astray', () => {
    const [good, other] = shots(2, RECIPE);
    const { ripples } = other!.evidence;
    const fit = { ...ripples!.fit, frequencyHz: 20, dampingRatio: 0.02 };
    const misled = { ...ripples!, fit, frequencyHz: { value: 20, sd: 20 } };
    for (const sources of [
      [good!.ripples!, misled],
      [misled, good!.ripples!],
    ]) {
      const { frequencyHz } = fuseRipples(sources)!;
      expect(Math.abs(frequencyHz.value - dampedHz)).toBeLessThan(3 * frequencyHz.sd);
    }
  });

  it('what one photo shows too faintly, an unreadable second one does not make clear', () => {
    const [faint] = shots(1, { ...RECIPE, noise: 0.3 });
    const { proposal } = decideTogether([faint, undefined]);
    expect(proposal).toEqual(faint!.decision.proposal);
  });

  it('one photo together with nothing is what it is alone', () => {
    const photo = measureDrawn(RECIPE);
    const { proposal } = decideTogether([photo]);
    const own = photo.decision.proposal;
    if (proposal?.state !== 'proposed' || own.state !== 'proposed')
      throw new Error('Expected two proposals.');
    // The joint fit begins elsewhere and ends in the same minimum, to a small part of its uncertainty.
    expect(Math.abs(proposal.combined.value - own.combined.value)).toBeLessThan(0.1 * own.combined.sd);
  });
});
