import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { Reading } from '../../src/reading/schema.js';
import { jointReadingSchema, type JointReading } from '../../src/reading/jointSchema.js';
import { jointReport } from '../../src/report/jointReport.js';
import { textReport } from '../../src/report/textReport.js';
import {
  bareRefusal,
  proposedReading,
  refusedReading,
  movedReading,
  proofReading,
  quietProofReading,
  spacingOnlyReading,
  unseenReading,
} from './fixtures.js';

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
    penLine: { heightMm: { value: 27.4, sd: 0.4 }, widthMm: 0.6 },
  };
}

/** Three photos: one used with a note of its own, one used without, one that contradicts them. */
function jointReading(): JointReading {
  const reading = proposedReading();
  const { spacingCheck, budget, proposal, ringing } = reading;
  return {
    schema: 'stillband/joint-reading@1',
    versions: reading.versions,
    photos: [
      { use: 'used', reading },
      { use: 'used', reading: { ...reading, assumptions: refusedReading().assumptions } },
      { use: 'odd-one-out', reading },
      { use: 'refused', reading: refusedReading() },
    ],
    ringing: { ...ringing!, signalToNoise: 77 },
    lamps: { gains: [1, -0.8], signalToNoise: { alone: 52, together: 77 } },
    spacingCheck,
    nullFit: reading.nullFit,
    budget,
    proposal,
    warnings: [
      { code: 'soft-focus', text: 'Invented: about one photo.', photos: [1] },
      { code: 'clipped-light', text: 'Invented: about both that are used.', photos: [0, 1] },
    ],
  };
}

/**
 * Compares with the text that was read and kept. When they differ, the new one is written to test/output; read it,
 * and if it is meant, move it to test/report/golden.
 */
function expectGoldenText(name: string, text: string): void {
  const file = new URL(`golden/${name}.txt`, import.meta.url);
  let kept: string | undefined;
  try {
    kept = readFileSync(file, 'utf8');
  } catch {
    // Told below like any other difference.
  }
  if (kept !== text) {
    const output = new URL('../output/', import.meta.url);
    mkdirSync(output, { recursive: true });
    writeFileSync(new URL(`${name}.txt`, output), text);
  }
  expect(text, `${name}: see test/output/${name}.txt`).toBe(kept);
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
    const labels = lines.slice(1).flatMap((line) => /^[a-z]+/.exec(line)?.[0] ?? []);
    const order = ['why', 'numbers', 'photo', 'assumed', 'note', 'next'];
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
