import { describe, expect, test } from 'vitest';
import { decideBand } from '../../src/band/decide.js';
import { decideWalls } from '../../src/band/decideWalls.js';
import { slotWidths } from '../../src/profiles/slotWidths.js';
import { wallsBehind } from '../../src/profiles/wallsBehind.js';
import { measureDrawn, RECIPE, type DrawnResult } from '../helpers/drawn.js';
import { truthOf } from '../synth/truth.js';

const SLOT = { fromMm: 25, widthMm: 1.6, flankMm: 12 };
const FACE = { ...RECIPE, noise: 0.05, slot: SLOT };
const toldAt = (centreFromLeadingCornerMm: number, widthMm = 1.6) => ({
  slots: [{ centreFromLeadingCornerMm, widthMm }],
});
const TOLD = toldAt(25.8);
const behindOf = ({ face, settings, profiles }: DrawnResult) =>
  wallsBehind(profiles, slotWidths(face, settings, profiles));

describe('a face with a slot', () => {
  const both = measureDrawn(FACE, TOLD);

  test('the wall behind counts, and the interval is narrower', () => {
    const { alone, decision } = both;
    expect(decision.walls).toEqual(['used', 'used']);
    if (alone.proposal.state !== 'proposed' || decision.proposal.state !== 'proposed')
      throw new Error('none');
    expect(decision.proposal.frequencyHz.sd).toBeLessThan(0.95 * alone.proposal.frequencyHz.sd);
    // Source: as drawn.
    const { nullHz } = truthOf(FACE);
    expect(Math.abs(decision.proposal.frequencyHz.value - nullHz)).toBeLessThan(0.5);
    expect(decision.signalToNoise).toBeGreaterThan(both.ripples!.signalToNoise);
    // What is drawn over the heights is the leading corner's.
    expect(decision.nullFit!.turned).toHaveLength(both.profiles.bands.length);
  });

  test('one that rings at another frequency is left out', () => {
    const other = measureDrawn({ ...FACE, naturalHz: 46 }, TOLD);
    const { decision, alone } = decideWalls(both.evidence, behindOf(other));
    expect(decision.walls).toEqual(['used', 'contradicts']);
    expect(decision.proposal).toEqual(alone.proposal);
  });

  test('one that shows no ringing is left out', () => {
    const quiet = measureDrawn({ ...FACE, gain: 0 }, TOLD);
    const { decision, alone } = decideWalls(both.evidence, behindOf(quiet));
    expect(decision.walls).toEqual(['used', 'unfit']);
    expect(decision.proposal).toEqual(alone.proposal);
  });

  test('where the leading corner does not ring, the face is refused whatever is behind', () => {
    const quiet = measureDrawn({ ...FACE, gain: 0 }, TOLD);
    const { decision } = decideWalls(quiet.evidence, behindOf(both));
    expect(decision.walls).toEqual(['used', 'unfit']);
    expect(decision.proposal).toEqual(decideBand(quiet.evidence).proposal);
  });

  test('for the spacing alone, and where layers alternate, it is not tried', () => {
    const { evidence } = both;
    const settings = { ...evidence.settings, direction: 'alternates' } as const;
    for (const asked of [
      { ...evidence, spacingOnly: true },
      { ...evidence, settings },
    ]) {
      expect(decideWalls(asked, behindOf(both)).decision.walls).toEqual(['used', 'not-tried']);
    }
  });
});

test('a told slot that is not there: the leading wall alone counts', () => {
  const { decision, alone } = measureDrawn(RECIPE, toldAt(45));
  expect(decision.walls).toEqual(['used', 'not-seen']);
  expect(decision.proposal).toEqual(alone.proposal);
});

test('a slot too near the far end leaves no wall behind it', () => {
  const slot = { ...SLOT, fromMm: 73 };
  const { decision, alone } = measureDrawn({ ...RECIPE, slot }, toldAt(73.8));
  expect(decision.walls).toEqual(['used', 'too-short']);
  expect(decision.proposal).toEqual(alone.proposal);
});

test('heights at which the slot is closed do not count behind it', () => {
  const closes = { atMm: 15, side: 'below', overMm: 4 } as const;
  const open = measureDrawn({ ...FACE, slot: { ...SLOT, closes } }, TOLD);
  const [wall] = behindOf(open);
  expect(Math.min(...wall!.bands.map(({ heightMm }) => heightMm))).toBeGreaterThan(16);
  expect(open.decision.walls).toEqual(['used', 'used']);
});

test('without a slot nothing changes', () => {
  const { evidence } = measureDrawn({ ...RECIPE, heightMm: 20 });
  expect(decideWalls(evidence, []).decision).toEqual(decideBand(evidence));
});

test('on drawn faces the interval is narrower, and the error what it says', { timeout: 240_000 }, () => {
  let squares = 0;
  let sdRatio = 0;
  let count = 0;
  for (const [seed, naturalHz] of [31, 34, 41, 44, 47].entries()) {
    const recipe = { ...FACE, naturalHz, seed };
    const { alone, decision } = measureDrawn(recipe, TOLD);
    expect(decision.walls).toEqual(['used', 'used']);
    if (alone.proposal.state !== 'proposed' || decision.proposal.state !== 'proposed') continue;
    const { value, sd } = decision.proposal.frequencyHz;
    squares += ((value - truthOf(recipe).nullHz) / sd) ** 2;
    sdRatio += Math.log(sd / alone.proposal.frequencyHz.sd);
    count += 1;
  }
  expect(count).toBe(5);
  expect(Math.exp(sdRatio / count)).toBeLessThan(0.95);
  // χ² of five errors exceeds 15.1 in 1 of 100 runs, where each is as large as its sd says.
  expect(squares).toBeLessThan(15.1);
});
