import { describe, expect, it } from 'vitest';
import { decideBand } from '../../src/band/decide.js';
import { measureRipples, spacingMm } from '../../src/ripple/measureRipples.js';
import { sharedPattern, withoutShared } from '../../src/ripple/sharedPattern.js';
import { expectClose } from '../helpers/closeTo.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';
import { truthOf } from '../synth/truth.js';

const { dampedHz, nullHz } = truthOf(RECIPE);
const SPACING_MM = RECIPE.speedMmPerS / dampedHz;
/** Stripes 2.5 % further apart than the ripples, a tenth as strong: nothing tells the two apart in one profile. */
const PITCH = { pitchMm: 1.025 * SPACING_MM, amplitude: 0.006 };

describe('a pattern that is nearly the ripples’ spacing', () => {
  it('shows by being the same at all heights, and is taken out of the measurement', () => {
    const { ripples, decision } = measureDrawn({ ...RECIPE, noise: 0.02, pitch: PITCH });
    const [pattern] = ripples!.fixedPitches;
    // Source: the drawing's own pitch. A fifth of a turn over 80 mm of wall is 0.7 % of this pitch, in steps of that.
    expectClose(pattern!.pitchMm.value, PITCH.pitchMm, {
      rel: 0.01,
      why: 'scanned in steps of a fifth of a turn over the wall, and bent by the ripples beside it',
    });
    // The logarithm of 1 + amplitude is amplitude to 0.3 %.
    expectClose(pattern!.amplitude.value, PITCH.amplitude, {
      rel: 0.4,
      why: 'a first look beside ripples that have swallowed part of it; the next rounds take the rest',
    });
    const { proposal, budget } = decision;
    expect(proposal.state).toBe('proposed');
    if (proposal.state !== 'proposed') return;
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
    expect(budget.map(({ cause }) => cause)).toContain('near-pattern');
  });

  it('is not seen where there is none', () => {
    const { ripples, settings, decision } = measureDrawn({ ...RECIPE, noise: 0.02 });
    const { fit, frequencyHz } = ripples!;
    const spacing = spacingMm(settings.speedMmPerS.value, frequencyHz.value);
    // Six real numbers are free; the light's own fall along the wall is not quite what the columns say.
    expect(sharedPattern(fit, spacing)!.chiSquare).toBeLessThan(100);
    expect(ripples!.fixedPitches).toEqual([]);
    expect(decision.budget.map(({ cause }) => cause)).not.toContain('near-pattern');
  });

  it('taken out of profiles that are nothing else leaves nothing', () => {
    const { profiles } = measureDrawn({ ...RECIPE, noise: 0.02 });
    const pattern = { pitchMm: { value: 2.7, sd: 0 }, re: 0.02, im: -0.01, chiSquare: 1 };
    const wave = (x: number) =>
      0.02 * Math.cos((2 * Math.PI * x) / 2.7) + 0.01 * Math.sin((2 * Math.PI * x) / 2.7);
    const bands = profiles.bands.map((band) => ({ ...band, values: profiles.positionsMm.map(wave) }));
    const left = withoutShared({ ...profiles, bands }, pattern).bands[3]!.values;
    // Source: closed form; double precision.
    expect(Math.max(...left.map(Math.abs))).toBeLessThan(1e-15);
  });
});

describe('settings that were not told', () => {
  it.each([
    ['accelerationMmPerS2', 'assumed-acceleration'],
    ['cornerSpeedMmPerS', 'assumed-corner-speed'],
  ] as const)('%s costs width', (field, cause) => {
    const { profiles, settings, evidence, decision: told } = measureDrawn(RECIPE);
    const assumed = new Set<string>([field]);
    const ripples = measureRipples(profiles, settings, assumed);
    const { proposal, budget } = decideBand({ ...evidence, ripples, assumed });
    const line = budget.find((one) => one.cause === cause)!;
    expect(Math.abs(line.spacingHz) + Math.abs(line.nullHz)).toBeGreaterThan(0);
    if (proposal.state !== 'proposed' || told.proposal.state !== 'proposed')
      throw new Error('Expected two proposals.');
    // Source: GUM (JCGM 100:2008) equation 13: one more cause never makes a result surer.
    expect(proposal.fromSpacing.sd).toBeGreaterThanOrEqual(told.proposal.fromSpacing.sd);
    expect(proposal.fromNull.sd).toBeGreaterThanOrEqual(told.proposal.fromNull.sd);
  });
});
