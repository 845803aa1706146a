import { describe, expect, test } from 'vitest';
import type { BudgetLine } from '../../src/band/budget.js';
import { decideBand } from '../../src/band/decide.js';
import type { Decision, WallUse } from '../../src/band/decision.js';
import { expectClose } from '../helpers/closeTo.js';
import { adviceFor, narrowingOf, type AdviceFacts } from '../../src/reading/advice.js';
import {
  collectWarnings,
  WARNING_CODES,
  type WarningCode,
  type WarningFacts,
} from '../../src/reading/warnings.js';
import type { UsedReference } from '../../src/face/scales.js';
import type { SeenFace } from '../../src/face/seenFace.js';
import { REFUSAL_REASONS } from '../../src/core/outcome.js';
import { measureDrawn, RECIPE } from '../helpers/drawn.js';

/** A drawn face about which there is nothing to warn. */
const { face, settings, profiles, ripples, evidence, decision } = measureDrawn({
  ...RECIPE,
  heightMm: 40,
  ladder: { fromHz: 20, toHz: 60, dampingRatio: RECIPE.dampingRatio },
});
const search: SeenFace = {
  how: 'found',
  cornersPx: face.cornersPx,
  cornerSdPx: 1,
  movedCorners: [],
  edges: [],
  references: [],
  missing: [],
  lensClues: [],
  straightEdges: [],
};
const clean: WarningFacts = {
  record: { axis: settings.axis, machine: 'north bench 3' },
  settings,
  search,
  geometry: face,
  layersSeen: true,
  profiles,
  ripples,
  decision,
};
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
/** More or less energy at the far end, with a decay whose 95 % interval is so many times itself. */
const withEnds = (endRatio: number, decayU95: number): WarningFacts => ({
  ...clean,
  ripples: { ...ripples, endRatio },
  decision: {
    ...decision,
    ringing: {
      ...ringing,
      dampingRatio: { value: ringing.dampingRatio.value, sd: (decayU95 * ringing.dampingRatio.value) / 1.96 },
    },
  },
});
const withGlare = (glare: NonNullable<NonNullable<WarningFacts['profiles']>['glare']>): WarningFacts => ({
  ...clean,
  profiles: { ...profiles, glare },
});
/** A proof print whose shaper is set to 38 Hz, with ripples at another frequency. */
const proofAt = (hz: number): WarningFacts => ({
  ...withSettings({ ladder: { kind: 'fixed', hz: 38 } }),
  decision: {
    ...decision,
    proposal: {
      state: 'proof',
      axis: 'Y',
      at: {
        state: 'measured',
        dampedHz: { value: hz, sd: 0.1, low95: hz, high95: hz },
        dampingRatio: { value: 0.1, sd: 0.01 },
      },
      sharedSd: 0,
      steps: [],
    },
  },
});
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
  profiles: {
    ...profiles,
    penLines: [{ heightMm, heightSdMm: 0.05, widthMm: 0.5, slantRad: 0, ink: 'dark', confidence: 0.99 }],
  },
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
const second = {
  frequencyHz: { value: 53.04, sd: 1.1 },
  dampingRatio: { value: 0.06, sd: 0.01 },
  share: 0.52,
};
const withSecond: WarningFacts = { ...clean, decision: { ...decision, ringing: { ...ringing, second } } };
/** The same ladder, begun lower down. */
const withLadderFrom = (hz: number): WarningFacts => {
  const { ladder } = settings;
  if (ladder.kind !== 'linear') throw new Error('expected a linear ladder');
  const [first, ...others] = ladder.points;
  return withSettings({ ladder: { ...ladder, points: [{ mm: first!.mm, hz }, ...others] } });
};
const withUse = (use: UsedReference['use']): WarningFacts => ({
  ...clean,
  geometry: {
    ...face,
    references: [
      {
        kind: 'id1-card',
        points: [],
        pointSdPx: 0.1,
        sizeRelativeSd: 0.001,
        outlinePx: [],
        confidence: 1,
        behindFaceMm: 0,
        use,
      },
    ],
  },
});
const withMirrored = (mirrored: boolean): WarningFacts => {
  const [card] = withUse('scale').geometry!.references;
  const references = [{ ...card!, ...(mirrored ? { mirrored: true as const } : {}) }];
  return { ...clean, search: { ...search, references } };
};
/** A card whose code names a machine and an axis. */
const withCard = (machine: string, axis: string): WarningFacts => ({
  ...clean,
  search: { ...search, cardCode: { state: 'read', record: { machine, axis } } },
});
const withCode = (state: 'newer' | 'damaged' | 'foreign'): WarningFacts => ({
  ...clean,
  search: { ...search, cardCode: { state } },
});
const withWall = (use: WallUse): WarningFacts => ({
  ...clean,
  profiles: { ...profiles, walls: [...profiles.walls, { startMm: 61, endMm: 80, startsAt: 'slot' }] },
  decision: { ...decision, walls: ['used', use] },
});

const movedCorners = [{ corner: 'top-right', offPx: 58.3 }] as const;

/** A near neighbour on each side of the rule that is stated with each code. */
const SIDES: readonly (readonly [WarningCode, string, WarningFacts, WarningFacts])[] = [
  ['corner-moved', 'the edges', { ...clean, search: { ...search, movedCorners } }, clean],
  ['reference-not-found', 'a card', { ...clean, search: { ...search, missing: ['id1-card'] } }, clean],
  ['photo-mirrored', 'a card', withMirrored(true), withMirrored(false)],
  ['reference-off-plane', 'a card', withUse('off-plane'), withUse('scale')],
  ['reference-unsure', 'a card', withUse('unsure'), withUse('size')],
  [
    'card-of-another',
    'machine',
    withCard('south bench', settings.axis),
    withCard('north bench 3', settings.axis),
  ],
  ['card-of-another', 'axis', withCard('north bench 3', 'Q'), withCard('north bench 3', settings.axis)],
  ['card-code-ignored', 'damaged', withCode('damaged'), clean],
  ['card-code-ignored', 'foreign', withCode('foreign'), clean],
  ['card-code-ignored', 'newer', withCode('newer'), clean],
  [
    'layers-not-seen',
    'named, and not seen',
    { ...withSettings({ references: [{ kind: 'layers' }] }), layersSeen: false },
    { ...withSettings({ references: [{ kind: 'face' }] }), layersSeen: false },
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
    withSettings({ layers: 200, face: { ...settings.face, bottomMm: 10 } }),
  ],
  ['ends-look-swapped', 'energy 1.1', withEnds(1.101, 1.3), withEnds(1.099, 1.3)],
  [
    'ends-look-swapped',
    'no decay',
    { ...withEnds(1.5, 0.99), ripples: { ...ripples, endRatio: 1.5, undamped: true } },
    withEnds(1.5, 0.99),
  ],
  ['ends-look-swapped', 'a decay that may be none', withEnds(1.5, 1.01), withEnds(1.5, 0.99)],
  ['time-origin', 'one later', withOrigin(1), withOrigin(0)],
  ['time-origin', 'one earlier', withOrigin(-1), withOrigin(0)],
  ['other-walls-unused', 'no gap', withWall('not-seen'), withWall('used')],
  ['other-walls-unused', 'another frequency', withWall('contradicts'), withWall('used')],
  ['clipped-light', '1 %', withClipped(0.0101), withClipped(0.0099)],
  [
    'soft-focus',
    '3 px',
    { ...clean, geometry: { ...face, blurPx: 3.01 } },
    { ...clean, geometry: { ...face, blurPx: 2.99 } },
  ],
  ['few-px-per-ripple', '40 px', withPxPerRipple(39.9), withPxPerRipple(40.1)],
  [
    'seam-on-corner',
    'the seam',
    withSettings({ seam: 'leading-corner' }),
    withSettings({ seam: 'this-face' }),
  ],
  [
    'alternating-walls',
    'not told',
    { ...clean, ripples: { ...ripples, bothEnds: true } },
    { ...withSettings({ direction: 'alternates' }), ripples: { ...ripples, bothEnds: true } },
  ],
  ['glare-left-out', 'a patch', withGlare([{ fromMm: 20, toMm: 31, lowMm: 12, highMm: 19 }]), withGlare([])],
  ['second-frequency', 'one stands out', withSecond, clean],
  ['pen-line-not-found', 'told', withSettings({ penLineMm: 20 }), clean],
  // 1.96 standard uncertainties of their difference: foot, shrinkage, edge and width of the line make 0.3 mm.
  ['pen-line-differs', '0.7 mm', withPenLine(20, 20.7), withPenLine(20, 20.5)],
  // Zeros of cos(π/2 · f/f_s) at f/f_s = 1, 3, 5: Singer & Seering 1990 (from memory).
  ['harmonic-null', 'a third of 38 Hz', withLadderFrom(12.5), withLadderFrom(12.9)],
  [
    'routes-strained',
    'apart',
    { ...clean, decision: { ...decision, strain: 1.97 } },
    { ...clean, decision: { ...decision, strain: 1.95 } },
  ],
  // 1.96 standard deviations: GUM (JCGM 100:2008) table G.1.
  ['proof-off-setting', '20 %', proofAt(45.7), proofAt(45.5)],
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
    const byCode = new Map(SIDES.map(([code, , beyond]) => [code, collectWarnings(beyond)[0]!.text]));
    const texts = [...byCode.values()];
    for (const text of texts) expect(text).toMatch(/^[A-Z].*\.$/);
  });

  test('a moved corner and a missing reference are named, with how far and with what counts instead', () => {
    const [moved, missing] = collectWarnings({
      ...clean,
      search: { ...search, movedCorners, missing: ['ruler', 'id1-card'] },
    });
    expect(moved!.text).toMatch(/--face\), top-right by 58 px, and the edges count/);
    expect(missing!.text).toMatch(/the ruler and the card named in .* rests on the face's size/);
  });

  test("another machine's card is named beside the record's", () => {
    const [warning] = collectWarnings(withCard('south bench', 'Q'));
    expect(warning!.text).toMatch(/is that of machine south bench, not north bench 3 and axis Q, not /);
  });

  test('a marker card that looks off the plane may have been printed at another size', () => {
    const geometry = withUse('off-plane').geometry!;
    const references = geometry.references.map((one) => ({ ...one, kind: 'marker-card' as const }));
    const said = (facts: WarningFacts) => collectWarnings(facts)[0]!.text;
    expect(said({ ...clean, geometry: { ...geometry, references } })).toMatch(/--check-length/);
    expect(said(withUse('off-plane'))).not.toMatch(/--check-length/);
  });

  test('a size that was not told is said to come from a reference, or from the corners where one side was told', () => {
    const said = (facts: WarningFacts) => collectWarnings(facts)[0]!.text;
    expect(said(withSize(undefined, undefined))).toMatch(/taken from a reference/);
    expect(said(withSize(80, undefined))).toMatch(/height was not told and was taken from the shape/);
    expect(said(withSize(undefined, 40))).toMatch(/width was not told/);
  });

  test('a second frequency is told with its uncertainty, and which one the result is of', () => {
    // 1.96 × 1.1.
    expect(collectWarnings(withSecond)[0]!.text).toMatch(
      /53\.0 ± 2\.2 Hz, 0\.5 times .* the proposal is for the stronger/,
    );
  });

  test('several stand in the order of their codes', () => {
    const facts = { ...withClipped(0.2), ripples: { ...ripples, bothEnds: true } };
    expect(codesOf(facts)).toEqual(['clipped-light', 'alternating-walls']);
  });

  test('where nothing was measured, nothing is warned about what was not', () => {
    expect(
      codesOf({
        record: clean.record,
        settings,
        search,
        geometry: face,
        layersSeen: false,
        profiles: undefined,
        ripples: undefined,
        decision: { proposal: decision.proposal, spacingCheck: { state: 'not-measurable' }, budget: [] },
      }),
    ).toEqual([]);
  });
});

describe('advice', () => {
  const facts: AdviceFacts = {
    settings,
    assumed: new Set(),
    suspect: undefined,
    distanceMm: undefined,
  };

  test('every reason has its own', () => {
    const all = REFUSAL_REASONS.map((reason) => adviceFor(reason, decision, facts));
    expect(new Set(all).size).toBe(REFUSAL_REASONS.length);
    for (const advice of all) expect(advice).toMatch(/^[A-Z][^.]*\.$/);
  });

  test('a face that is unclear for what was told says which', () => {
    const criterion = { quantity: 'height ÷ width of the clearest face', value: 0.5249, limit: 0.493 };
    const proposal = { state: 'refused', reason: 'face-unclear', criterion } as const;
    const told = (unseen: AdviceFacts['unseen']) =>
      adviceFor('face-unclear', { ...decision, proposal }, { ...facts, unseen });
    // The drawn face is 80 × 40 mm.
    expect(told('shape')).toMatch(/height ÷ width 0\.525, the record says 0\.500;/);
    expect(told('click')).toMatch(/^Check the corners that were given/);
    expect(new Set([told('shape'), told('click'), told(undefined)]).size).toBe(3);
  });

  test('sizes that contradict each other: what is accused, with the number that would fit', () => {
    const told = (suspect: AdviceFacts['suspect']) =>
      adviceFor('scales-disagree', decision, { ...facts, suspect });
    expect(told({ what: 'layer-height', mm: { value: 0.2497, sd: 0.001 }, orCovered: false })).toMatch(
      /layer height .* 0\.25 mm/,
    );
    for (const what of ['height', 'layer-height'] as const) {
      const mm = { value: 0.1971, sd: 0.001 };
      expect(told({ what, mm, orCovered: true })).toMatch(/part of the face is hidden or a cover/);
      expect(told({ what, mm, orCovered: false })).not.toMatch(/hidden/);
    }
    expect(told({ what: 'width', mm: { value: 83.96, sd: 0.4 } })).toMatch(/the width .* 84 mm/);
    const behindMm = { value: 29.8, sd: 2 };
    expect(told({ what: 'reference', kind: 'id1-card', behindMm })).toMatch(
      /the card .* 30 mm behind the face/,
    );
    expect(told({ what: 'reference', kind: 'marker-card', behindMm })).toMatch(/--check-length/);
    expect(told({ what: 'reference', kind: 'ruler', behindMm: { value: -12, sd: 2 } })).toMatch(
      /12 mm in front of/,
    );
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

  test('a ladder that ends before ringing comes back asks for a wider one, a side that is only faint for light', () => {
    const told = (value: number) => {
      const criterion = { quantity: 'signal of the weaker side ÷ noise', value, limit: 2 };
      const proposal = { state: 'refused', reason: 'one-sided', criterion } as const;
      return adviceFor('one-sided', { ...decision, proposal }, facts);
    };
    expect(told(0)).toMatch(/^Print again with a wider ladder[^.]*\.$/);
    expect(told(1.5)).toMatch(/^Take a new photo/);
  });

  test('2- and 3-hump EI on a ladder inside their band ask for one that reaches beyond it', () => {
    const told = (family: typeof settings.shaper.family, toHz: number) => {
      const points = [
        { mm: 0, hz: 20 },
        { mm: 50, hz: toHz },
      ];
      const ladder = { ...settings.ladder, kind: 'linear', points } as typeof settings.ladder;
      const own = { ...settings, shaper: { ...settings.shaper, family }, ladder };
      return adviceFor('too-noisy', decision, { ...facts, settings: own });
    };
    const wider = /^Print again with a ladder from half the frequency to two and a half times it[^.]*\.$/;
    expect(told('3-hump EI', 60)).toMatch(wider);
    expect(told('2-hump EI', 99)).toMatch(wider);
    expect(told('2-hump EI', 101)).not.toMatch(wider);
    expect(told('EI', 60)).not.toMatch(wider);
  });

  test('too coarse a photo is told how near to come, where the distance is known', () => {
    const coarse = (value: number): Decision => ({
      ...decision,
      proposal: {
        state: 'refused',
        reason: 'too-coarse',
        criterion: { quantity: 'px per ripple', value, limit: 15 },
      },
    });
    const told = (one: Decision, distanceMm?: number) =>
      adviceFor('too-coarse', one, { ...facts, distanceMm });
    // DESIGN 5.7 advises 40 px per ripple: 12 px at 80 cm are 40 px at 24 cm.
    expect(told(coarse(12), 800)).toMatch(/from about 24 cm instead of 80 cm\./);
    expect(told(coarse(12))).toMatch(/from nearer/);
    expect(told(coarse(12), 200)).toMatch(/as near as the camera focuses/);
    const unseen: Decision = {
      proposal: coarse(12).proposal,
      spacingCheck: { state: 'not-measurable' },
      budget: [],
    };
    // Of the slowest ripples, 12 Hz: usual ones are 45/12 times as short.
    expect(told(unseen, 3000)).toMatch(/from about 24 cm instead of 300 cm\./);
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
    expect(told('reversed-ladder')).toMatch(/stands upright/);
    expect(told('speed')).toMatch(/speed .* at about 80 mm\/s all would fit; .* face's size and corners/);
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

describe('narrowingOf', () => {
  const interval = (value: number) => ({ value, sd: 0.3, low95: value - 0.6, high95: value + 0.6 });
  const routes = { fromNull: interval(41), fromSpacing: interval(41) };

  test('names the largest cause of what both routes together are uncertain by', () => {
    // Source: GUM equation 13: equal routes share the weight, so that 0.4 and −0.4 of one cause cancel.
    const budget = [
      { cause: 'scatter-null', type: 'A', nullHz: 0.3, spacingHz: 0 },
      { cause: 'scatter-spacing', type: 'A', nullHz: 0, spacingHz: 0.3 },
      { cause: 'layer-origin', type: 'B', nullHz: 0.4, spacingHz: -0.4 },
      { cause: 'speed', type: 'B', nullHz: 0.32, spacingHz: 0.32 },
    ] as const;
    const found = narrowingOf(routes, [...budget])!;
    expect(found.cause).toBe('speed');
    expectClose(found.share, 0.32 ** 2 / (0.32 ** 2 + 2 * 0.15 ** 2), { abs: 1e-9, why: 'rounding' });
    expect(found.advice).toMatch(/^[A-Z][^.]*speed[^.]*\.$/);
  });

  test('nothing is named where no cause is known', () => {
    expect(narrowingOf(routes, [])).toBeUndefined();
  });
});
