import { describe, expect, test } from 'vitest';
import type { Reading } from '../../src/reading/schema.js';
import { penWords } from '../../src/report/penWords.js';
import { proposedReading } from './fixtures.js';

type PenLine = NonNullable<Reading['penLine']>;
const interval = (value: number, sd: number) => ({
  value,
  sd,
  low95: value - 1.96 * sd,
  high95: value + 1.96 * sd,
});
const known = proposedReading().penLine!;
const opinion = {
  code: 'keep',
  apartMm: interval(-1, 0.3),
  apartHz: interval(-0.7, 0.2),
  left: { value: 0.0272, low95: 0.004, high95: 0.049 },
  leftAtOurs: 0.002,
} as const;
const said = (penLine: Partial<PenLine> | undefined) =>
  penWords({
    ...proposedReading(),
    penLine: penLine === undefined ? undefined : { ...known, slantDeg: 0, verdict: opinion, ...penLine },
  }).map((line) => line.replaceAll('\u2009', ' '));

describe('the second opinion in words', () => {
  test('nothing drawn, nothing said', () => {
    expect(said(undefined)).toEqual([]);
  });

  test('as JOURNEYS 2 has it', () => {
    expect(said({ heightMm: interval(30.1, 0.25), frequencyHz: interval(40.3, 0.2) })).toEqual([
      'a dark line was found at 30.1 mm ± 0.5, where the ladder stands at 40.3 Hz ± 0.4',
      '0.7 Hz (1.0 mm) apart; with ZV the leftover ringing would be about 2.7 % (0.4 to 4.9 %): keep yours if it is already entered',
    ]);
  });

  test.each([
    [opinion, /keep yours if it is already entered$/],
    [
      { ...opinion, code: 'agrees' },
      /^it agrees with ours: 0\.7 Hz \(1\.0 mm\) apart, within the ±; with ZV/,
    ],
    [{ ...opinion, code: 'worth-changing' }, /\(0\.4 to 4\.9 %\), with ours about 0\.2 %: worth changing$/],
    [
      { code: 'no-opinion', because: 'nothing-proposed' },
      /^no opinion can be given, since no band is proposed/,
    ],
    [{ code: 'no-opinion', because: 'off-ladder' }, /^no opinion can be given: the ladder has no frequency/],
  ] as const)('%j', (verdict, words) => {
    expect(said({ verdict })[1]).toMatch(words);
    expect(said({ verdict }).join(' ')).not.toMatch(/wrong|mistake|should have/);
  });

  test('a slant is told in mm along the wall, a level line is not', () => {
    // Source: closed form, 84 mm · tan 1° = 1.47 mm.
    expect(said({ slantDeg: 1 })[0]).toMatch(/, rising by 1\.5 mm along the wall$/);
    expect(said({ slantDeg: -1 })[0]).toMatch(/, falling by 1\.5 mm along the wall$/);
    expect(said({ slantDeg: 0.2 })[0]).not.toMatch(/along the wall/);
  });

  test('a typed height is told beside the line, and where they contradict each has its opinion', () => {
    const typed = {
      heightMm: interval(30, 0.3),
      frequencyHz: interval(40.2, 0.25),
      fromPhotoMm: interval(-0.1, 0.4),
      contradicts: false,
      verdict: opinion,
    };
    expect(said({ typed })[2]).toBe(
      'the height typed, 30.0 mm ± 0.6, where the ladder stands at 40.2 Hz ± 0.5, is that line: 0.1 mm ± 0.8 from the line in the photo',
    );
    const apart = said({ typed: { ...typed, fromPhotoMm: interval(-2, 0.4), contradicts: true } });
    expect(apart[2]).toMatch(/2\.0 mm ± 0\.8 from the line in the photo, more than both ± allow$/);
    expect(apart[3]).toMatch(/^of the height typed: 0\.7 Hz/);
  });

  test('a height typed alone, a line that is not sure, others', () => {
    expect(said({ source: 'calipers' })[0]).toMatch(/^the height typed, 32\.6 mm ± 0\.6, where/);
    expect(said({ confidence: 0.8 })[0]).toMatch(/, not for sure drawn by hand$/);
    const other = {
      heightMm: interval(12, 0.3),
      widthMm: 0.5,
      slantDeg: 0,
      ink: 'light',
      confidence: 0.7,
    } as const;
    expect(said({ others: [other] })[2]).toBe(
      'another light line at 12.0 mm ± 0.6, not for sure drawn by hand',
    );
  });
});
