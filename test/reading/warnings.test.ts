import { describe, expect, test } from 'vitest';
import type { BudgetLine } from '../../src/band/budget.js';
import { decideBand } from '../../src/band/decide.js';
import { adviceFor, type AdviceFacts } from '../../src/reading/advice.js';
import {
  collectWarnings,
  WARNING_CODES,
  type WarningCode,
  type WarningFacts,
} from '../../src/reading/warnings.js';
import { REFUSAL_REASONS } from '../../src/core/outcome.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';

/** A drawn face about which there is nothing to warn. */
const { face, settings, profiles, ripples, evidence, decision } = measureDrawn({
  ...RECIPE,
  heightMm: 40,
  ladder: { fromHz: 20, toHz: 60, dampingRatio: RECIPE.dampingRatio },
});
const clean: WarningFacts = { settings, geometry: face, profiles, ripples, decision };
const { nullFit, spacingCheck, ringing, proposal } = decision;
if (proposal.state !== 'proposed') throw new Error('the drawn face must be proposed');
if (
  ripples === undefined ||
  ringing === undefined ||
  nullFit === undefined ||
  spacingCheck.spacingMm === undefined
) {
  throw new Error('the drawn face must be measurable');
}
const spacing = spacingCheck.spacingMm;
const codesOf = (facts: WarningFacts) => collectWarnings(facts).map(({ code }) => code);

const withSettings = (change: Partial<WarningFacts['settings']>): WarningFacts => ({
  ...clean,
  settings: { ...settings, ...change },
});
const withEnds = (endRatio: number): WarningFacts => ({ ...clean, ripples: { ...ripples, endRatio } });
const withOrigin = (timeOrigin: typeof nullFit.timeOrigin): WarningFacts => ({
  ...clean,
  decision: { ...decision, nullFit: { ...nullFit, timeOrigin } },
});
const withClipped = (clippedShare: number): WarningFacts => ({
  ...clean,
  geometry: { ...face, clippedShare },
});
const withPxPerRipple = (px: number): WarningFacts => ({
  ...clean,
  geometry: { ...face, pxPerMm: { alongWall: px / spacing.value, alongHeight: 16 } },
});
/** The drawn face is 80 × 40 mm, so that exchanged sides show four times its height ÷ width. */
const withAspect = (value: number, sd: number): WarningFacts => ({
  ...clean,
  geometry: { ...face, aspect: { value, sd } },
});
const withSize = (widthMm: number | undefined, heightMm: number | undefined) =>
  withSettings({ face: { ...settings.face, widthMm, heightMm } });
const withPenLine = (penLineMm: number, heightMm: number): WarningFacts => ({
  ...withSettings({ penLineMm }),
  profiles: { ...profiles, penLine: { heightMm, widthMm: 0.5 } },
});
/** The measured damping so many standard deviations off the shaper's setting. */
const withDamping = (setting: number, sds: number, mostLeft = 0.06): WarningFacts => ({
  ...withSettings({ shaper: { ...settings.shaper, dampingRatio: setting } }),
  decision: {
    ...decision,
    proposal: { ...proposal, cleanBandMm: { ...proposal.cleanBandMm, mostLeft } },
    ringing: { ...ringing, dampingRatio: { value: setting + 0.01 * sds, sd: 0.01 } },
  },
});
/** The same ladder, begun lower down. */
const withLadderFrom = (hz: number): WarningFacts => {
  const { ladder } = settings;
  if (ladder.kind !== 'linear') throw new Error('expected a linear ladder');
  const [first, ...others] = ladder.points;
  return withSettings({ ladder: { ...ladder, points: [{ mm: first!.mm, hz }, ...others] } });
};
const slots = [{ centreFromLeadingCornerMm: 60, widthMm: 2 }];
const slotted = measureDrawn({ ...RECIPE, heightMm: 10 }, { slots }).profiles;

/** A near neighbour on each side of the rule that is stated with each code. */
const SIDES: readonly (readonly [WarningCode, string, WarningFacts, WarningFacts])[] = [
  [
    'reference-not-read',
    'a card, against two points',
    withSettings({ references: [{ kind: 'face' }, { kind: 'id1-card', behindFaceMm: 0 }] }),
    withSettings({ references: [{ kind: 'face' }, { kind: 'dpi', dotsPerInch: 600 }] }),
  ],
  ['size-from-reference', 'no width', withSize(undefined, 40), withSize(80, 40)],
  ['size-from-reference', 'no height', withSize(80, undefined), withSize(80, 40)],
  ['face-looks-turned', 'sides exchanged', withAspect(4, 0.02), withAspect(3.8, 0.02)],
  ['face-shape-unsure', '5 %', withAspect(1, 0.0168), withAspect(1, 0.0166)],
  [
    'face-shape-unsure',
    'a shape that is refused is sure',
    withAspect(1.05, 0.0195),
    withAspect(1.06, 0.0195),
  ],
  [
    'face-ends-low',
    '3 % of 40 mm',
    { ...withSettings({ layers: 165 }), geometry: { ...face, heightMm: 40 } },
    { ...withSettings({ layers: 164 }), geometry: { ...face, heightMm: 40 } },
  ],
  [
    'face-ends-low',
    'where it begins is told',
    { ...withSettings({ layers: 200 }), geometry: face },
    { ...withSettings({ layers: 200 }), geometry: { ...face, bottomMm: 10 } },
  ],
  ['ends-look-swapped', 'energy 1.1', withEnds(1.101), withEnds(1.099)],
  ['time-origin', 'one later', withOrigin(1), withOrigin(0)],
  ['time-origin', 'one earlier', withOrigin(-1), withOrigin(0)],
  ['other-walls-unused', 'a slot', { ...clean, profiles: slotted }, clean],
  ['clipped-light', '1 %', withClipped(0.0101), withClipped(0.0099)],
  ['few-px-per-ripple', '40 px', withPxPerRipple(39.9), withPxPerRipple(40.1)],
  [
    'seam-on-corner',
    'the seam',
    withSettings({ seam: 'leading-corner' }),
    withSettings({ seam: 'this-face' }),
  ],
  [
    'alternating-walls',
    'the direction',
    withSettings({ direction: 'alternates' }),
    withSettings({ direction: 'same' }),
  ],
  ['pen-line-not-found', 'told', withSettings({ penLineMm: 20 }), clean],
  ['pen-line-differs', '1.1 mm', withPenLine(20, 21.1), withPenLine(20, 20.9)],
  ['acceleration-ladder-not-read', 'told', withSettings({ accelerationLadder: [] }), clean],
  // Zeros of cos(π/2 · f/f_s) at f/f_s = 1, 3, 5: Singer & Seering 1990 (from memory).
  ['harmonic-null', 'a third of 38 Hz', withLadderFrom(12.5), withLadderFrom(12.9)],
  [
    'routes-strained',
    'apart',
    { ...clean, decision: { ...decision, strain: 1.97 } },
    { ...clean, decision: { ...decision, strain: 1.95 } },
  ],
  // 1.96 standard deviations: GUM (JCGM 100:2008) table G.1.
  ['damping-setting-off', 'above', withDamping(0.1, -1.97), withDamping(0.1, -1.95)],
  ['damping-setting-off', 'below', withDamping(0.1, 1.97), withDamping(0.1, 1.95)],
  ['damping-setting-off', 'it costs', withDamping(0.1, 3, 0.051), withDamping(0.1, 3, 0.05)],
];

describe('warnings', () => {
  test('nothing to warn about', () => {
    expect(codesOf(clean)).toEqual([]);
  });

  test.each(SIDES)('%s: %s', (code, _, beyond, within) => {
    expect(codesOf(beyond)).toEqual([code]);
    expect(codesOf(within)).toEqual([]);
  });

  test('each code is tried, and says something of its own', () => {
    expect(new Set(SIDES.map(([code]) => code))).toEqual(new Set(WARNING_CODES));
    const texts = SIDES.map(([, , beyond]) => collectWarnings(beyond)[0]!.text);
    expect(new Set(texts).size).toBe(WARNING_CODES.length);
    for (const text of texts) expect(text).toMatch(/^[A-Z].*\.$/);
  });

  test('several stand in the order of their codes', () => {
    const facts = { ...withClipped(0.2), settings: { ...settings, direction: 'alternates' as const } };
    expect(codesOf(facts)).toEqual(['clipped-light', 'alternating-walls']);
  });

  test('where nothing was measured, nothing is warned about what was not', () => {
    expect(
      codesOf({
        settings,
        geometry: face,
        profiles: undefined,
        ripples: undefined,
        decision: { proposal: decision.proposal, spacingCheck: { state: 'not-measurable' }, budget: [] },
      }),
    ).toEqual([]);
  });
});

describe('advice', () => {
  const facts: AdviceFacts = { settings, assumed: new Set() };

  test('every reason has its own', () => {
    const all = REFUSAL_REASONS.map((reason) => adviceFor(reason, decision, facts));
    expect(new Set(all).size).toBe(REFUSAL_REASONS.length);
    for (const advice of all) expect(advice).toMatch(/^[A-Z][^.]*\.$/);
  });

  test.each(['no-reversal', 'one-sided', 'too-noisy', 'not-ringing', 'fixed-pitch-only'] as const)(
    '%s may come of a cover over the wall',
    (reason) => {
      expect(adviceFor(reason, decision, facts)).toMatch(/\(paint, tape, a shadow\)/);
    },
  );

  test('ripples that do not turn over may come of another shaper than was told', () => {
    expect(adviceFor('no-reversal', decision, facts)).toMatch(/^Check the shaper's family and damping /);
    for (const field of ['shaper.family', 'shaper.dampingRatio']) {
      const assumed = { ...facts, assumed: new Set([field]) };
      expect(adviceFor('no-reversal', decision, assumed)).toMatch(/^Tell the shaper's .* assumed/);
    }
  });

  test('a frequency twice what the ladder covers may come of light from the front', () => {
    const above = (hz: number) =>
      adviceFor(
        'above-ladder',
        { ...decision, spacingCheck: { ...spacingCheck, expectedNullHz: { value: hz, sd: 1 } } },
        facts,
      );
    // The drawn ladder runs from 20 to 60 Hz, and 10 % beyond either end is about within it.
    for (const hz of [37, 76, 131])
      expect(above(hz)).toMatch(/light from the front .* print again .* ends higher/);
    for (const hz of [35, 133]) expect(above(hz)).toMatch(/^Print again/);
  });

  test('a spacing that disagrees is told by its cause', () => {
    const told = (cause: 'speed' | 'reversed-ladder') =>
      adviceFor(
        'spacing-disagrees',
        {
          ...decision,
          spacingCheck: {
            ...spacingCheck,
            state: 'disagrees',
            explanation: { cause, impliedSpeedMmPerS: 80, nullHz: 30, nullHeightMm: 12 },
          },
        },
        facts,
      );
    expect(told('reversed-ladder')).toMatch(/upside down/);
    expect(told('speed')).toMatch(/speed .* face's size and corners/);
  });

  test('what is too uncertain is told by what makes it so: to photograph, to tell or to print again', () => {
    const told = (cause?: BudgetLine['cause']) =>
      adviceFor(
        'too-uncertain',
        {
          ...decision,
          budget: decision.budget.map((line) => (line.cause === cause ? { ...line, nullHz: -9 } : line)),
        },
        facts,
      );
    expect(told('scatter-null')).toMatch(/new photo .* print again with a ladder that climbs more slowly/);
    expect(told('layer-origin')).toMatch(/--face-bottom/);
    expect(told('scale-along-height')).toMatch(/height of the face/);
    expect(told('layer-rounding')).toMatch(/thinner layers/);
  });

  test('what is too uncertain by its spacing is told by that, and of no frequency that is not told', () => {
    const told = (change: Partial<typeof face>, sd = ripples.frequencyHz.sd) => {
      const { nullFit: fit, ...found } = decideBand({
        ...evidence,
        geometry: { ...face, ...change },
        ripples: { ...ripples, frequencyHz: { ...ripples.frequencyHz, sd } },
      });
      expect(fit).toBeUndefined();
      return adviceFor('too-uncertain', found, facts);
    };
    // Two points an eighth of their distance off, from which width and height were taken.
    expect(told({ lengthRelativeSd: 0.125, sharedRelativeSd: 0.125 })).toMatch(
      /width and height of the face/,
    );
    expect(told({ lengthRelativeSd: 0.125 })).toMatch(/width and height of the face/);
    expect(told({}, 5)).toMatch(/new photo/);
    expect(told({}, 5)).not.toMatch(/this frequency|ladder/);
  });

  test('is not to do what was done, or to check what was never told', () => {
    const seam = { ...facts, settings: { ...settings, seam: 'leading-corner' } as const };
    for (const reason of ['no-ringing', 'too-noisy'] as const) {
      expect(adviceFor(reason, decision, seam)).toMatch(/seam on another face/);
      expect(adviceFor(reason, decision, facts)).not.toMatch(/seam/);
    }
    const assumed = { ...facts, assumed: new Set(['accelerationMmPerS2']) };
    expect(adviceFor('acceleration-disagrees', decision, assumed)).toMatch(/--acceleration.*assumed/);
    expect(adviceFor('acceleration-disagrees', decision, facts)).not.toMatch(/assumed/);
  });
});
