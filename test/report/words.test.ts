import { describe, expect, test } from 'vitest';
import { REFUSAL_REASONS } from '../../src/core/outcome.js';
import type { Reading } from '../../src/reading/schema.js';
import { reportSections } from '../../src/report/words.js';
import {
  bareRefusal,
  proposedReading,
  refusedReading,
  spacingOnlyReading,
  twoLadderReading,
  unseenReading,
} from './fixtures.js';

const THIN = '\u2009';

const refusedFor = (reason: (typeof REFUSAL_REASONS)[number]): Reading => ({
  ...bareRefusal(),
  proposal: { state: 'refused', reason, advice: `What to do about ${reason}.` },
});

test('several ladders: the best height of each is told, the best known one first', () => {
  const { verdict, why, numbers } = JSON.parse(
    JSON.stringify(reportSections(twoLadderReading())).replaceAll(THIN, ' '),
  ) as ReturnType<typeof reportSections>;
  expect(verdict).toContain('best 14.7 mm up');
  // Source: the fixture's null, 41.02 Hz, on its two ladders at layer centres: 0.1 + 29.8 · 23.02/48 and 31.1 + 32.8 · 11.02/20 mm.
  expect(why[0]).toContain('at 14.4 mm and 49.2 mm');
  expect(numbers).toContain('best height 14.7 mm ± 0.4 above the bed');
  expect(numbers).toContain('on another ladder 49.4 mm ± 0.8, clean from 47.6 to 51.2 mm');
});

test('what does not die out may be ringing of the other corner where the decay is why a face is refused', () => {
  const pattern = { pitchMm: { value: 2.7, sd: 0.01 }, amplitude: { value: 0.02, sd: 0.001 } };
  const reading = { ...refusedReading(), fixedPitches: [pattern] };
  const proposal = { state: 'refused', reason: 'not-ringing', advice: 'Something.' } as const;
  const words = (one: Reading) =>
    reportSections(one).why.find((line) => line.includes('a pattern that repeats'));
  expect(words(reading)).toMatch(/belongs to the drive and was set aside$/);
  expect(words({ ...reading, proposal })).toMatch(
    /was set aside: it belongs to the drive, or is ringing of the other corner$/,
  );
});

describe('refusals', () => {
  test('every reason is said in words of its own, and its code stands below', () => {
    const verdicts = REFUSAL_REASONS.map((reason) => {
      const { verdict, goodFor, next } = reportSections(refusedFor(reason));
      expect(verdict).toMatch(/^Axis Y {3}no band can be proposed: [a-z][^.]{20,}[a-z]$/);
      // A code is for scripts: in the words themselves it would read as jargon.
      expect(verdict).not.toContain(reason);
      expect(goodFor).toBe(`reason ${reason}`);
      expect(next).toEqual([`What to do about ${reason}.`]);
      return verdict;
    });
    expect(new Set(verdicts).size).toBe(REFUSAL_REASONS.length);
  });

  test('the number that decided stands beside its limit', () => {
    expect(reportSections(refusedReading()).goodFor).toBe(
      'reason spacing-disagrees (difference of the two routes, Hz: 4.1, limit 1.03)',
    );
  });
});

describe('a photo in which no face is read', () => {
  const unseen = (search: Partial<Reading['search']>) => {
    const reading = unseenReading();
    return reportSections({ ...reading, search: { ...reading.search, ...search } });
  };
  const guess = (confidence: number) => ({ ...unseenReading().search.guesses[0]!, confidence });

  test('only faces that are worth a look are told', () => {
    expect(unseen({ guesses: [guess(0.61), guess(0.021), guess(0.019)] }).photo[0]).toBe(
      `the likeliest faces are marked in the picture, sure to 61${THIN}%, 2${THIN}%`,
    );
    expect(unseen({ guesses: [guess(0.996), guess(0)] }).photo[0]).toBe(
      `the likeliest face is marked in the picture, sure to more than 99${THIN}%`,
    );
    expect(unseen({ guesses: [guess(0.019)] }).photo[0]).toBe('no ruler was found');
  });

  test('what is to blame is said', () => {
    const said = (['photo', 'shape', 'click'] as const).map((cause) => unseen({ cause }));
    expect(new Set(said.map(({ verdict }) => verdict)).size).toBe(3);
    expect(new Set(said.map(({ photo }) => photo[0])).size).toBe(3);
    expect(unseen({}).verdict).toBe(said[0]!.verdict);
  });

  test.each(['glare', 'blurred', 'too-coarse'] as const)(
    '%s is said of the photo and not of a face',
    (reason) => {
      const verdictOf = (reading: Reading) =>
        reportSections({ ...reading, proposal: { state: 'refused', reason, advice: 'Something.' } }).verdict;
      expect(verdictOf(unseenReading())).toMatch(/: the photo is /);
      expect(verdictOf(unseenReading())).not.toBe(verdictOf(bareRefusal()));
    },
  );
});

describe('what became of a reference', () => {
  test('each use is said in words of its own', () => {
    const reading = proposedReading();
    const [card] = reading.search.references;
    const seemsBehindMm = { value: 31, sd: 1.5 };
    const uses = (['scale', 'size', 'off-plane', 'unsure', 'none'] as const).map((use) => {
      const references = [{ ...card!, use, seemsBehindMm }];
      const { photo } = reportSections({ ...reading, search: { ...reading.search, references } });
      return photo.find((line) => line.startsWith('the card was found'));
    });
    expect(new Set(uses).size).toBe(5);
    // 1.96 standard uncertainties (GUM, JCGM 100:2008, table G.1) of 1.5 mm are 2.94 mm.
    expect(uses[2]).toBe(
      `the card was found, but looks as large as if it lay 31.0${THIN}mm ± 2.9 behind the face, and is not used`,
    );
    expect(uses).not.toContain(undefined);
  });
});

describe('what a proposal is good for', () => {
  const goodFor = (use: 'ZV' | 'ZVD', half: number, value = 40.98) => {
    const reading = proposedReading();
    if (reading.proposal.state !== 'proposed') throw new Error('the fixture must be proposed');
    const frequencyHz = { value, sd: half / 1.96, low95: value - half, high95: value + half };
    const { verdict, goodFor: words } = reportSections({
      ...reading,
      proposal: { ...reading.proposal, goodFor: use, frequencyHz },
    });
    return [/± ([\d.]+) /.exec(verdict)?.[1], words];
  };

  // Source: DESIGN 5.8, 5 % residual vibration within ± 3.2 % for ZV and ± 14 % for ZVD; of 40.98 Hz.
  test('is said with what each shaper needs', () => {
    expect(goodFor('ZV', 0.51)).toEqual(['0.5', `good enough for ZV (needs ± 1.3${THIN}Hz)`]);
    expect(goodFor('ZVD', 2.1)).toEqual([
      '2.1',
      `good enough for ZVD or EI only (ZV needs ± 1.3${THIN}Hz, ZVD ± 5.7${THIN}Hz)`,
    ]);
  });

  // 3.2 % of 40.98 Hz are 1.3114 Hz and 14 % are 5.737 Hz; of 120 Hz, 3.84 Hz.
  test('is said with the digits that show why', () => {
    expect(goodFor('ZVD', 1.34)).toEqual([
      '1.3',
      `good enough for ZVD or EI only (± 1.34${THIN}Hz; ZV needs ± 1.31${THIN}Hz, ZVD ± 5.74${THIN}Hz)`,
    ]);
    expect(goodFor('ZVD', 1.3122)[1]).toContain(`(± 1.312${THIN}Hz; ZV needs ± 1.311${THIN}Hz`);
    expect(goodFor('ZVD', 5.71)).toEqual([
      '6',
      `good enough for ZVD or EI only (± 5.7${THIN}Hz; ZV needs ± 1.3${THIN}Hz, ZVD ± 5.7${THIN}Hz)`,
    ]);
    expect(goodFor('ZV', 3.8, 120)).toEqual([
      '4',
      `good enough for ZV (± 3.8${THIN}Hz; needs ± 3.8${THIN}Hz)`,
    ]);
    expect(goodFor('ZV', 1.3113)).toEqual(['1.3', `good enough for ZV (needs ± 1.3${THIN}Hz)`]);
  });
});

describe('why', () => {
  const why = (change: Partial<Reading>) =>
    reportSections({ ...proposedReading(), ...change }).why.join('\n');
  const { spacingCheck, nullFit } = proposedReading();

  test.each(['agrees', 'disagrees'] as const)('the spacing %s', (state) => {
    expect(why({ spacingCheck: { ...spacingCheck, state } })).toMatch(
      new RegExp(`says .* ± .*: ${state}$`, 'm'),
    );
  });

  test('without a ladder the spacing says a frequency and no verdict', () => {
    const lines = reportSections(spacingOnlyReading()).why;
    expect(lines[0]).toMatch(/^spacing .* says .*Hz ± [\d.]+$/);
  });

  test('a spacing that is uncertain by a fifth of itself is not worth a line', () => {
    const spacing = (share: number) => ({ ...spacingCheck, spacingMm: { value: 2.7, sd: share * 2.7 } });
    expect(why({ spacingCheck: spacing(0.19) })).toMatch(/^spacing /m);
    expect(why({ spacingCheck: spacing(0.21) })).not.toMatch(/^spacing /m);
  });

  test('the speed is said as it was told', () => {
    const { printRecord } = proposedReading();
    expect(why({ printRecord: { ...printRecord, speedMmPerS: 112.75 } })).toContain(`112.75${THIN}mm/s`);
  });

  test('ripples that turn over, and such that do not', () => {
    expect(why({ nullFit: { ...nullFit!, reversalF: 3.1 } })).toMatch(/^ripples below and above turn over/);
    expect(why({ nullFit: { ...nullFit!, reversalF: 2.9 } })).toMatch(/without turning over/);
  });

  test('a shaper of even order has ripples that dip and do not turn over', () => {
    const reading = proposedReading();
    const touching = { ...nullFit!, turnsOver: false };
    expect(why({ nullFit: { ...touching, reversalF: 2.9 } })).toMatch(/without dipping/);
    expect(why({ nullFit: { ...touching, reversalF: 3.1 } })).toMatch(/^ripples vanish at/);
    const proposal = { state: 'refused', reason: 'no-reversal', advice: 'Print it again.' } as const;
    const verdictOf = (fit: Reading['nullFit']) =>
      reportSections({ ...reading, proposal, ...(fit === undefined ? {} : { nullFit: fit }) }).verdict;
    expect(verdictOf(touching)).toMatch(/the ripples do not dip at any height$/);
    expect(verdictOf(nullFit)).toMatch(/the ripples do not turn over at any height$/);
  });

  test('lit from the front, neither the height nor the spacing of doubled ripples is a finding', () => {
    const proposal = { state: 'refused', reason: 'light-from-front', advice: 'Move the lamp.' } as const;
    const lines = why({ proposal });
    expect(lines).not.toMatch(/turn over/);
    expect(lines).toMatch(/would say .*, which this refusal does not trust/);
  });

  test('a conflict is told by what would explain it', () => {
    const explained = (cause: 'speed' | 'reversed-ladder') =>
      why({
        spacingCheck: {
          ...spacingCheck,
          state: 'disagrees',
          explanation: { cause, impliedSpeedMmPerS: 92.4, nullHz: 34.4, nullHeightMm: 22.5 },
        },
      });
    expect(explained('speed')).toContain(`printed at about 92${THIN}mm/s`);
    expect(explained('reversed-ladder')).toMatch(/better with the tower turned upside down/);
  });

  test('where both routes only just agree, the speed is to be looked up before anything is entered', () => {
    const explanation = { cause: 'speed', impliedSpeedMmPerS: 104, nullHz: 41, nullHeightMm: 31 } as const;
    const strained = reportSections({
      ...proposedReading(),
      spacingCheck: { ...spacingCheck, state: 'agrees', explanation },
    });
    expect(strained.next[0]).toContain(`104${THIN}mm/s would fit better than 110${THIN}mm/s`);
    expect(strained.why.join('\n')).toContain('they would agree better if');
    expect(reportSections(proposedReading()).next.join('\n')).not.toMatch(/look up first/);
  });
});

describe('numbers', () => {
  const numbers = (change: Partial<Reading>) =>
    reportSections({ ...proposedReading(), ...change }).numbers.join('\n');

  test.each([
    [1.0042, `0.4${THIN}% ± 0.4 larger than commanded`],
    [0.9951, `0.5${THIN}% ± 0.4 smaller than commanded`],
  ])('a print of %d times its size', (value, words) => {
    const scales = [
      ...proposedReading().scales,
      { kind: 'dpi', class: 'physical', perCommanded: { value, sd: 0.0022 } } as const,
    ];
    expect(numbers({ scales })).toContain(words);
    expect(numbers({})).not.toContain('commanded');
  });

  test('the use of ± is said', () => {
    expect(numbers({})).toMatch(/± spans 95 %$/);
  });
});

test('a proposal names the axis that it belongs to, and the cautions', () => {
  const next = reportSections(proposedReading()).next.join(' ');
  expect(next).toMatch(/axis Y, the one perpendicular to this face/);
  expect(next).toMatch(/maker's limits/);
  expect(next).toMatch(/moving and hot parts/);
});
