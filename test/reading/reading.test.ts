import { createHash } from 'node:crypto';
import { readFileSync, statSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { measurePhoto } from '../../src/measurePhoto.js';
import { parseReading, type Reading } from '../../src/reading/schema.js';
import { VERSION } from '../../src/version.js';
import { expectClose } from '../helpers/closeTo.js';
import { measured, photoBytes, photoPath, photoRecord, photoTruth } from '../helpers/measured.js';
import { inputErrorOf } from '../helpers/thrown.js';

const json = (path: string) =>
  JSON.parse(readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8')) as Record<string, unknown>;

const spacingOnly = measurePhoto(photoBytes('blue-markers'), photoRecord('blue-markers'), {
  spacingOnly: true,
});

const READINGS: readonly (readonly [string, string, () => Promise<Reading>])[] = [
  ['proposed', 'white-card', async () => (await measured('white-card')).reading],
  ['refused', 'blue-markers', async () => (await measured('blue-markers')).reading],
  ['spacing-only', 'blue-markers', () => spacingOnly],
];

/** Every value in a tree of plain data, with its path. */
function* leaves(value: unknown, path = ''): Generator<readonly [string, unknown]> {
  if (typeof value === 'object' && value !== null) {
    for (const [key, inner] of Object.entries(value)) yield* leaves(inner, `${path}.${key}`);
  } else yield [path, value];
}

describe.each(READINGS)('a reading that is %s (%s)', (state, name, read) => {
  test('has that state', async () => {
    expect((await read()).proposal.state).toBe(state);
  });

  test('survives JSON', async () => {
    const reading = await read();
    expect(parseReading(JSON.stringify(reading))).toStrictEqual(reading);
  });

  test('is plain data without NaN, and nothing in it is undefined', async () => {
    const found = [...leaves(await read())];
    expect(found.length).toBeGreaterThan(300);
    for (const [path, value] of found) {
      expect(['string', 'number', 'boolean'], path).toContain(typeof value);
      if (typeof value === 'number') expect(Number.isFinite(value), path).toBe(true);
    }
  });

  test('names its photo by content, size and time, not by place', async () => {
    const [photo] = (await read()).photos;
    const path = photoPath(`${name}.jpg`);
    // Source: node:crypto and the file system, on the file.
    expect(photo).toMatchObject({
      sha256: createHash('sha256').update(readFileSync(path)).digest('hex'),
      bytes: statSync(path).size,
      format: 'jpeg',
    });
    expect([photo!.widthPx, photo!.heightPx]).toEqual(photoTruth(name as 'white-card').upright_size_px);
    const known = [
      'sha256',
      'bytes',
      'format',
      'widthPx',
      'heightPx',
      'takenAt',
      'focalLengthMm',
      'focalLength35Mm',
    ];
    for (const key of Object.keys(photo!)) expect(known).toContain(key);
  });

  test('keeps the record as told', async () => {
    expect((await read()).printRecord).toEqual(photoRecord(name as 'white-card'));
  });

  test('has one row for each mm of the face that can be read, bottom up, each consistent in itself', async () => {
    const { heights, printRecord, face } = await read();
    expect(heights.length).toBeGreaterThan(0.9 * face!.heightMm - 3);
    heights.forEach((row, i) => {
      if (i > 0) expect(row.heightMm).toBeGreaterThan(heights[i - 1]!.heightMm);
      // Source: DESIGN 3, layer k fills [k, k + 1) · layer height above the bed.
      expect(row.layer).toBe(Math.floor(row.heightMm / printRecord.layerHeightMm + 1e-9));
      if (row.spacingMm === undefined || row.frequencyHz === undefined) return;
      expectClose(row.spacingMm.value * row.frequencyHz.value, printRecord.speedMmPerS, {
        rel: 1e-12,
        why: 'spacing = speed ÷ frequency',
      });
    });
  });
});

test('intervals hold 95 % by the normal distribution', async () => {
  const { proposal } = (await measured('white-card')).reading;
  if (proposal.state !== 'proposed') throw new Error('white-card must be proposed');
  for (const interval of [
    proposal.frequencyHz,
    proposal.fromNull,
    proposal.fromSpacing,
    proposal.bestHeightMm,
  ]) {
    const half = 1.96 * interval.sd;
    // Source: GUM (JCGM 100:2008) table G.1.
    expectClose([interval.low95, interval.high95], [interval.value - half, interval.value + half], {
      rel: 1e-12,
      why: 'rounding',
    });
  }
});

test('the budget adds up to what is claimed', async () => {
  const { proposal, budget } = (await measured('white-card')).reading;
  if (proposal.state !== 'proposed') throw new Error('white-card must be proposed');
  // Source: GUM (JCGM 100:2008) equation 10, independent causes: root of the sum of squares.
  expectClose(Math.hypot(...budget.map((line) => line.nullHz)), proposal.fromNull.sd, {
    rel: 1e-9,
    why: 'rounding',
  });
  expectClose(Math.hypot(...budget.map((line) => line.spacingHz)), proposal.fromSpacing.sd, {
    rel: 1e-9,
    why: 'rounding',
  });
});

describe('reading back', () => {
  const changedReading = async (change: (reading: Record<string, unknown>) => void): Promise<string> => {
    const copy = structuredClone((await measured('white-card')).reading) as unknown as Record<
      string,
      unknown
    >;
    change(copy);
    return JSON.stringify(copy);
  };

  test.each<[string, (reading: Record<string, unknown>) => void, string | undefined]>([
    ['an unknown key', (reading) => (reading['colour'] = 'blue'), undefined],
    ['an unknown key inside', (reading) => Object.assign(reading['face'] as object, { depthMm: 3 }), 'face'],
    [
      'a key of another state',
      (reading) => Object.assign(reading['proposal'] as object, { reason: 'too-noisy' }),
      'proposal',
    ],
    ['an unknown state', (reading) => (reading['proposal'] = { state: 'guessed' }), 'proposal.state'],
    ['a missing field', (reading) => delete reading['heights'], 'heights'],
    [
      'NaN, which JSON writes as null',
      (reading) => Object.assign(reading['face'] as object, { widthMm: NaN }),
      'face.widthMm',
    ],
    ['another version', (reading) => (reading['schema'] = 'stillband/reading@2'), 'schema'],
    [
      'a record that contradicts itself',
      (reading) => Object.assign(reading['printRecord'] as object, { cornerSpeedMmPerS: 500 }),
      'printRecord.cornerSpeedMmPerS',
    ],
  ])('%s is refused', async (_, change, field) => {
    const text = await changedReading(change);
    const error = await inputErrorOf(() => parseReading(text));
    expect(error).toMatchObject({ code: 'record-field', field });
    expect(error.message).toMatch(/^The reading('s field \S+)? is not as expected: .+\.$/);
  });

  test.each(['', 'no', '{"schema": "stillband/reading@1"', '{} {}'])('%j is no JSON', async (text) => {
    expect((await inputErrorOf(() => parseReading(text))).code).toBe('record-not-json');
  });

  test('the published schema accepts and refuses the same', async () => {
    // Zod reads the published file, not the source that it was made from.
    const published = json('schema/reading.schema.json');
    expect(published['$schema']).toBe('https://json-schema.org/draft/2020-12/schema');
    const readBack = z.fromJSONSchema(published);
    for (const [, , read] of READINGS) {
      const reading: unknown = JSON.parse(JSON.stringify(await read()));
      expect(readBack.safeParse(reading).error?.issues).toBeUndefined();
    }
    for (const change of [
      (reading: Record<string, unknown>) => (reading['colour'] = 'blue'),
      (reading: Record<string, unknown>) => delete reading['search'],
      (reading: Record<string, unknown>) => Object.assign(reading['face'] as object, { widthMm: null }),
    ]) {
      expect(readBack.safeParse(JSON.parse(await changedReading(change))).success).toBe(false);
    }
  });
});

test('the version is that of the package', async () => {
  expect(VERSION).toBe(json('package.json')['version']);
  expect((await measured('white-card')).reading.versions.stillband).toBe(VERSION);
});
