import { describe, expect, test } from 'vitest';
import type { Reading } from '../../src/reading/schema.js';
import { jointReadingSchema } from '../../src/reading/jointSchema.js';
import { jointReport } from '../../src/report/jointReport.js';
import { textReport } from '../../src/report/textReport.js';
import {
  bareRefusal,
  jointReading,
  proposedReading,
  refusedReading,
  movedReading,
  proofReading,
  quietProofReading,
  spacingOnlyReading,
  unseenReading,
} from './fixtures.js';
import { expectGoldenText } from './golden.js';

/** A reading with all that is said now and then only. */
function wordyReading(): Reading {
  const reading = refusedReading();
  return {
    ...reading,
    assumptions: [],
    scales: [
      ...reading.scales,
      { kind: 'dpi', class: 'physical', perCommanded: { value: 0.9948, sd: 0.0021 } },
    ],
    fixedPitches: [{ pitchMm: { value: 2.003, sd: 0.004 }, amplitude: { value: 0.004, sd: 0.001 } }],
    spacingCheck: {
      ...reading.spacingCheck,
      explanation: { cause: 'speed', impliedSpeedMmPerS: 92.4, nullHz: 34.4, nullHeightMm: 22.5 },
    },
    penLine: {
      source: 'photo',
      heightMm: { value: 27.4, sd: 0.4, low95: 26.6, high95: 28.2 },
      widthMm: 0.6,
      slantDeg: 0,
      ink: 'light',
      confidence: 0.9,
      others: [],
      verdict: { code: 'no-opinion', because: 'nothing-proposed' },
    },
  };
}

const ALL: readonly (readonly [string, () => Reading])[] = [
  ['report-proposed', proposedReading],
  ['report-refused', refusedReading],
  ['report-at-the-door', bareRefusal],
  ['report-spacing-only', spacingOnlyReading],
  ['report-moved', movedReading],
  ['report-proof', proofReading],
  ['report-proof-quiet', quietProofReading],
  ['report-wordy', wordyReading],
  ['report-no-face', unseenReading],
];

describe.each(ALL)('%s', (name, make) => {
  const reading = make();
  const text = textReport(reading);
  const lines = text.split('\n');

  test('reads as it was kept', () => {
    expectGoldenText(name, text);
  });

  test('the verdict comes first, then its use, then why, numbers and what next', () => {
    expect(lines[0]).toMatch(
      /^Axis Y {3}(\d.*± .* best .* up|swings at .*± |no ringing seen up to \d+ mm|no band can be proposed: )/,
    );
    const labels = lines.slice(1).flatMap((line) => /^[a-z]+(?: line)?/.exec(line)?.[0] ?? []);
    const order = ['why', 'pen line', 'numbers', 'photo', 'assumed', 'note', 'next'];
    expect(labels).toEqual(order.filter((label) => labels.includes(label)));
    expect(labels.at(-1)).toBe('next');
    expect(labels).toContain('photo');
  });

  test('has its uncertainties, no NaN, no trailing space, one newline at its end', () => {
    if (reading.face !== undefined) expect(text).toContain('±');
    expect(text).not.toMatch(/NaN|undefined|Infinity|null\b|\[object/);
    for (const line of lines) expect(line).toBe(line.trimEnd());
    expect(text).toMatch(/[^\n]\n$/);
  });

  test('has plain spaces only, so that it can be searched and copied', () => {
    // Source: Unicode, general category Zs (space separators); of them only U+0020 is typed.
    expect(text.match(/\p{Zs}/gu)!.filter((space) => space !== ' ')).toEqual([]);
  });

  test('is the same after storage', () => {
    expect(textReport(JSON.parse(JSON.stringify(reading)) as Reading)).toBe(text);
  });
});

describe('the report of several photos', () => {
  const names = ['a.jpg', 'b.jpg', 'c.jpg', 'd.jpg'];

  test('verdict, what each photo is to it, notes by photo', () => {
    const joint = jointReading();
    expect(jointReadingSchema.parse(joint)).toEqual(joint);
    expectGoldenText('report-joint', jointReport(joint, names));
  });

  test('photos without a name are counted from 1', () => {
    expect(jointReport(jointReading(), [])).toContain('photo 2: Invented: about one photo.');
  });
});
