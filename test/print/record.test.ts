import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../src/core/errors.js';
import {
  checkPrintRecord,
  ladderFields,
  parsePrintRecord,
  printRecordSchema,
} from '../../src/print/record.js';
import { changed, DEMO_RECORD, PHOTO_RECORDS, SHORT_RECORD } from './exampleRecords.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

const problem = (record: unknown) => syncInputErrorOf(() => parsePrintRecord(JSON.stringify(record)));
const problemAt = (path: string, value: unknown, record: object = DEMO_RECORD) =>
  problem(changed(record, path, value));

/** One plain sentence, and what to do. */
function expectPlain(error: InputError): void {
  expect(error.message).toMatch(/^\S[^\n]*\.$/);
  expect(error.advice).toMatch(/^\S[^\n]*[.?]$/);
}

describe('what is read', () => {
  test('the example of the design, unchanged', () => {
    expect(parsePrintRecord(JSON.stringify(DEMO_RECORD))).toEqual(DEMO_RECORD);
  });

  test.each(PHOTO_RECORDS.map((record) => [(record as { title: string }).title, record] as const))(
    'the record of the photograph %s, unchanged',
    (_, record) => {
      expect(parsePrintRecord(JSON.stringify(record, null, 2))).toEqual(record);
    },
  );

  test('the least that a record must say, with a byte order mark in front', () => {
    expect(parsePrintRecord(`\uFEFF${JSON.stringify(SHORT_RECORD)}`)).toEqual(SHORT_RECORD);
  });

  test.each([
    ['ladder', { kind: 'linear', fromHz: 60, toHz: 20, fromMm: 1, toMm: 64 }],
    [
      'ladder',
      {
        kind: 'stepped',
        bands: [
          { fromMm: 0, toMm: 5, hz: 30 },
          { fromMm: 5, toMm: 9, hz: 32 },
        ],
      },
    ],
    [
      'ladder',
      {
        kind: 'table',
        points: [
          { mm: 0, hz: 18 },
          { mm: 64, hz: 66 },
        ],
      },
    ],
    ['ladder', { kind: 'off' }],
    ['reference', [{ kind: 'face' }, { kind: 'layers' }, { kind: 'ruler' }, { kind: 'dpi' }]],
    ['reference', { kind: 'dpi', dotsPerInch: 600 }],
    ['reference', { kind: 'two-points', aPx: [1, 2], bPx: [3.5, 4], distanceMm: 84 }],
    ['shaper.alongWall', { hz: 40, family: '2-hump EI', dampingRatio: 0.1 }],
    [
      'facePx',
      [
        [1, 2],
        [3, 2],
        [3, 4],
        [1, 4],
      ],
    ],
  ])('%s %j', (path, value) => {
    const record = changed(DEMO_RECORD, path, value);
    expect(checkPrintRecord(record)).toEqual(record);
  });

  test('a proof print: the acceleration climbs beside a fixed shaper', () => {
    const accelerationLadder = { bands: [{ fromMm: 0, toMm: 10, mmPerS2: 2000 }] };
    const record = { ...SHORT_RECORD, accelerationLadder };
    expect(checkPrintRecord(record)).toEqual(record);
  });

  test('the fields of each kind of ladder are known', () => {
    expect(ladderFields('stepped')).toEqual(['kind', 'bands']);
    expect(ladderFields('linear')).toContain('firstLayer');
    expect(ladderFields('spiral')).toBeUndefined();
  });
});

describe('text that is not JSON', () => {
  // Source: RFC 8259, the grammar of JSON; line and column as editors count them, from 1.
  test.each([
    ['a missing comma', '{\n  "axis": "Y"\n  "layers": 3\n}', /line 3, column 3: a comma is missing/],
    ['a trailing comma', '{\n  "axis": "Y",\n}', /line 3, column 1: .*a comma is too many/],
    ['a comment', '{\n  // mine\n}', /line 2, column 3: there is a comment/],
    ['a bare word', '{"axis": Y}', /line 1, column 10: there is a word/],
    ['an open bracket', '{"face": {"widthMm": 3}', /a closing } is missing/],
    ['an open quote', '{"axis": "Y\n}', /line 1, column 10: a closing quote is missing/],
    ['a second value', '{} {}', /line 1, column 4: something follows/],
    ['Windows line ends', '{\r\n\r\n"axis" "Y"}', /line 3, column 8: a colon is missing/],
    ['nothing', ' \n', /is empty/],
    ['brackets without end', '['.repeat(200_000), /nested too deeply/],
  ])('%s', (_, text, message) => {
    const error = syncInputErrorOf(() => parsePrintRecord(text));
    expect(error.code).toBe('record-not-json');
    expect(error.message).toMatch(message);
    expectPlain(error);
  });

  test('every text is either JSON for JSON.parse too, or told as not JSON', () => {
    const text = JSON.stringify(DEMO_RECORD);
    const spoilt = fc
      .tuple(
        fc.nat(text.length),
        fc.nat(3),
        fc.constantFrom('', ',', '"', '}', '{', '01', '\\', '\u0001', '/**/'),
      )
      .map(([at, drop, insert]) => text.slice(0, at) + insert + text.slice(at + drop));
    fc.assert(
      fc.property(spoilt, (source) => {
        let valid = true;
        try {
          JSON.parse(source);
        } catch {
          valid = false;
        }
        let code = 'none';
        try {
          parsePrintRecord(source);
        } catch (error) {
          expect(error).toBeInstanceOf(InputError);
          code = (error as InputError).code;
        }
        expect(code !== 'record-not-json').toBe(valid);
      }),
      { seed: 3, numRuns: 2000 },
    );
  });
});

describe('two values where one belongs', () => {
  test('a key twice, with both places', () => {
    const error = syncInputErrorOf(() => parsePrintRecord('{\n"face": {"widthMm": 84,\n "widthMm": 85}}'));
    expect(error).toMatchObject({ code: 'record-duplicate-field', field: 'face.widthMm' });
    expect(error.message).toMatch(/face\.widthMm twice: in line 2, column 10 and in line 3, column 2/);
    expectPlain(error);
  });

  test('two ladders, as a key twice or as a list', () => {
    const text = JSON.stringify(DEMO_RECORD).replace('"ladder":', '"ladder": {"kind":"off"}, "ladder":');
    for (const error of [
      syncInputErrorOf(() => parsePrintRecord(text)),
      problemAt('ladder', [DEMO_RECORD.ladder]),
    ]) {
      expect(error).toMatchObject({ code: 'record-duplicate-field', field: 'ladder' });
      expect(error.advice).toMatch(/one above the other on one tower/);
      expectPlain(error);
    }
  });

  test('the same key in two objects is fine', () => {
    const bands = [
      { fromMm: 0, toMm: 5, hz: 30 },
      { fromMm: 5, toMm: 9, hz: 32 },
    ];
    expect(() => checkPrintRecord(changed(DEMO_RECORD, 'ladder', { kind: 'stepped', bands }))).not.toThrow();
  });
});

describe('keys that are not known', () => {
  test.each([
    ['speed', 'speedMmPerS'],
    ['print_speed', 'speedMmPerS'],
    ['axsi', 'axis'],
    ['layer height', 'layerHeightMm'],
    ['widthMm', 'face.widthMm'],
    ['dampingRatio', 'shaper.dampingRatio'],
    ['face.width', 'face.widthMm'],
    ['reference.behind', 'reference.behindFaceMm'],
    ['ladder.fromhz', 'ladder.fromHz'],
  ])('%s: did you mean %s?', (path, meant) => {
    const error = problemAt(path, 3);
    expect(error).toMatchObject({ code: 'record-unknown-field', field: path });
    expect(error.message).toContain(path);
    expect(error.advice).toBe(`Did you mean ${meant}?`);
    expectPlain(error);
  });

  test('a key like no other: the known ones are listed', () => {
    expect(problemAt('zzzzzz', 3).advice).toMatch(/Fields of a print record are: schema, machine, /);
  });

  test('a field of another kind of ladder or reference', () => {
    const error = problemAt('ladder.hz', 40);
    expect(error).toMatchObject({ code: 'record-unknown-field', field: 'ladder.hz' });
    expect(error.message).toMatch(/does not belong to ladder of kind "linear"/);
    const list = [{ kind: 'ruler' }, { kind: 'face', behindFaceMm: 3 }];
    expect(problemAt('reference', list).message).toMatch(/^reference\[1\]\.behindFaceMm .* of kind "face"/);
  });

  test('a misspelt key is told before the field that it makes missing', () => {
    const record = changed(changed(DEMO_RECORD, 'speedMmPerS', undefined), 'speed', 110);
    expect(problem(record).field).toBe('speed');
  });

  test('the key __proto__ is no way round', () => {
    const text = JSON.stringify(DEMO_RECORD).replace('"kind":"linear"', '"kind":"linear","__proto__":{}');
    expect(syncInputErrorOf(() => parsePrintRecord(text)).code).toBe('record-unknown-field');
  });
});

describe('fields that are missing or impossible', () => {
  test('a missing kind is told with the fields that each kind asks for in its turn', () => {
    expect(problemAt('ladder.kind', undefined).advice).toBe(
      'Add ladder.kind: one of "linear" with fromHz, toHz, firstLayer and lastLayer, "stepped" with bands, "table" with points, "several" with ladders, "fixed" with hz, "off".',
    );
    expect(problemAt('reference.kind', undefined).advice).toMatch(
      /"two-points" with aPx, bPx and distanceMm, "dpi"\.$/,
    );
  });

  test.each([
    'schema',
    'axis',
    'speedMmPerS',
    'layerHeightMm',
    'face',
    'face.leadingCorner',
    'ladder',
    'ladder.kind',
  ])('without %s', (path) => {
    const error = problemAt(path, undefined);
    expect(error).toMatchObject({ code: 'record-field', field: path });
    expect(error.message).toMatch(/does not say/);
    expect(error.advice).toContain(`Add ${path}: `);
    expectPlain(error);
  });

  test.each([
    ['speedMmPerS', '110', /speedMmPerS is "110"; a number from 5 to 1000 is expected/],
    ['speedMmPerS', null, /speedMmPerS is null/],
    ['speedMmPerS', -4, /speedMmPerS is -4; a number/],
    ['layers', 3.5, /layers is 3\.5; a whole number from 2/],
    ['axis', '', /axis is ""; a text of 1 to 20 characters/],
    ['seam', 'front', /seam is "front"; one of "other-face", "this-face"/],
    ['printedOn', '14.3.2026', /a date like "2026-03-14"/],
    ['printedOn', '2026-02-30', /a date like/],
    ['face', 5, /face is 5; an object with leadingCorner/],
    ['facePx', [[1, 2]], /a list of 4 points \[x, y\], null for one that is not told is expected/],
    ['knownPitchesMm', 2, /knownPitchesMm is 2; a list is expected/],
    ['ladder', 'off', /ladder is "off"; an object with a kind: "linear"/],
    [
      'ladder.kind',
      'linar',
      /ladder\.kind is "linar"; one of "linear", "stepped", "table", "several", "fixed", "off"/,
    ],
    ['shaper.alongWall', 'on', /"as-ladder" or "off" or an object with hz, family, dampingRatio/],
    ['reference', [], /a list of 1 or more/],
  ])('%s %j', (path, value, message) => {
    const error = problemAt(path, value);
    expect(error).toMatchObject({ code: 'record-field', field: path });
    expect(error.message).toMatch(message);
    expectPlain(error);
  });

  test.each([
    ['ladder', { kind: 'stepped', bands: [{ fromMm: 0, toMm: 5, hz: '30' }] }, 'ladder.bands[0].hz'],
    [
      'reference',
      [{ kind: 'face' }, { kind: 'two-points', aPx: [1], bPx: [2, 3], distanceMm: 4 }],
      'reference[1].aPx',
    ],
    ['shaper.alongWall', { hz: 40, dampingRatio: 0.1 }, 'shaper.alongWall.family'],
    [
      'facePx',
      [
        [1, 2],
        [3, 2],
        [3, 'x'],
        [1, 4],
      ],
      'facePx[2][1]',
    ],
  ])('inside %s %j', (path, value, field) => {
    expect(problemAt(path, value)).toMatchObject({ code: 'record-field', field });
  });

  test('all that is missing is told at once, in the order of the schema', () => {
    const error = problem({ schema: 'stillband/print-record@1', layerHeightMm: -1, face: {} });
    expect(error).toMatchObject({ code: 'record-field', field: 'axis' });
    expect(error.message).toBe(
      'The print record does not say axis, speedMmPerS, face.leadingCorner and ladder.',
    );
    expect(error.advice).toMatch(
      /^Add axis: a text .*; speedMmPerS: a number from 5 to 1000; .*ladder: .*\.$/,
    );
    expectPlain(error);
    const ends = problemAt('ladder', { kind: 'linear', fromHz: 18 }).message;
    expect(ends).toBe('The print record does not say ladder.toHz, ladder.firstLayer and ladder.lastLayer.');
    const inMm = problemAt('ladder', { kind: 'linear', toMm: 18 }).message;
    expect(inMm).toBe('The print record does not say ladder.fromHz, ladder.toHz and ladder.fromMm.');
  });

  test.each([
    ['seam', 'Other-Face', '"other-face"'],
    ['face.leadingCorner', 'LEFT', '"left"'],
    ['shaper.family', 'zvd', '"ZVD"'],
    ['shaper.alongWall', 'OFF', '"off"'],
    ['ladder.kind', 'Linear', '"linear"'],
    ['reference.kind', 'ID1-card', '"id1-card"'],
  ])('%s %j: a word in other letters is refused, its spelling named', (path, value, spelling) => {
    const error = problemAt(path, value);
    expect(error).toMatchObject({ code: 'record-field', field: path });
    expect(error.advice).toBe(`Write ${path} as ${spelling}.`);
  });

  const TEXTS = ['machine', 'material', 'title', 'axis', 'photoOf', 'notes'];
  /** The beginning and the end of the basic plane, where characters are that print nothing. */
  const CHARACTERS = Array.from({ length: 0x10000 }, (_, i) => i)
    .filter((i) => i < 0x3000 || i >= 0xfe00)
    .map((i) => String.fromCharCode(i));
  test.each(TEXTS)('%s: what moves the cursor or turns the text is refused, all else is not', (path) => {
    const refused = CHARACTERS.filter(
      (character) => !printRecordSchema.safeParse({ ...DEMO_RECORD, [path]: `a${character}b` }).success,
    );
    // Source: Unicode by way of the engine's own tables; XML 1.0 for the last two.
    const wanted = CHARACTERS.filter((character) =>
      /[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}\uFFFE\uFFFF]/u.test(character),
    ).filter((character) => path !== 'notes' || !'\t\n'.includes(character));
    expect(refused).toEqual(wanted);
  });

  test('is told by its field; notes may hold tabs and line breaks of every system', () => {
    const error = problemAt('title', 'new\u202ebelts');
    expect(error).toMatchObject({ code: 'record-field', field: 'title' });
    expect(error.message).toMatch(/a text of 1 to 200 characters without control characters is expected\.$/);
    const notes = 'first\n\tsecond\r\nthird';
    expect(checkPrintRecord({ ...DEMO_RECORD, notes }).notes).toBe(notes);
    expect(problemAt('notes', 'over\rwritten').field).toBe('notes');
    // Letters that join others, and pairs of them, are text: U+200D, emoji, Hebrew.
    const title = '👩\u200d🔧 אבג';
    expect(checkPrintRecord({ ...DEMO_RECORD, title }).title).toBe(title);
  });

  test('a ladder is not missing where only the spacing is wanted', () => {
    const rest = changed(DEMO_RECORD, 'ladder', undefined);
    const text = JSON.stringify(rest);
    expect(parsePrintRecord(text, { spacingOnly: true })).toEqual({ ...rest, ladder: { kind: 'off' } });
    expect(syncInputErrorOf(() => parsePrintRecord(text)).field).toBe('ladder');
    // One that is told stays.
    expect(parsePrintRecord(JSON.stringify(DEMO_RECORD), { spacingOnly: true })).toEqual(DEMO_RECORD);
  });

  test('a record of another version', () => {
    const error = problemAt('schema', 'stillband/print-record@2');
    expect(error.message).toMatch(/print-record@2"; "stillband\/print-record@1" is expected/);
  });

  test.each([[[1]], [5], [null], ['{}']])('%j is no record', (value) => {
    const error = problem(value);
    expect(error).toMatchObject({ code: 'record-field', field: undefined });
    expect(error.message).toMatch(/an object with schema, axis, speedMmPerS, .* is expected/);
    expectPlain(error);
  });

  test('nothing, from a caller in plain JavaScript', () => {
    expect(syncInputErrorOf(() => checkPrintRecord(undefined)).message).toMatch(
      /^The print record is undefined; an object/,
    );
  });

  test('a number beyond all numbers', () => {
    const text = JSON.stringify(DEMO_RECORD).replace('"speedMmPerS":110', '"speedMmPerS":1e999');
    expect(syncInputErrorOf(() => parsePrintRecord(text)).message).toMatch(/^speedMmPerS is Infinity/);
  });
});

describe('numbers that look like another unit', () => {
  // Conversions of the SI (BIPM, SI Brochure, 9th edition: prefixes; min and h in table 8) and arithmetic.
  test.each([
    ['speedMmPerS', 6000, /looks like mm\/min \(that would be 100 mm\/s\)/],
    ['speedMmPerS', 0.11, /looks like m\/s \(that would be 110 mm\/s\)/],
    ['speedMmPerS', 100_000, /looks like another unit than mm\/s/],
    ['accelerationMmPerS2', 6, /looks like m\/s² \(that would be 6000 mm\/s²\)/],
    ['shaper.dampingRatio', 8, /looks like a percentage \(that would be 0\.08\)/],
    ['shaper.dampingRatio', 1, /looks like a percentage/],
    ['shaper.dampingRatio', 49, /looks like a percentage/],
    ['layerHeightMm', 200, /looks like µm \(that would be 0\.2 mm\)/],
    ['layerHeightMm', 0.0002, /looks like m \(that would be 0\.2 mm\)/],
    ['layerHeightMm', 2, /looks like another unit/],
    ['firstLayerHeightMm', 300, /looks like µm/],
    ['face.widthMm', 84_000, /looks like µm \(that would be 84 mm\)/],
    ['face.widthMm', 0.084, /looks like m \(that would be 84 mm\)/],
    ['face.widthMm', 4, /looks like cm \(that would be 40 mm\)/],
    ['face.heightMm', 2000, /looks like another unit/],
    ['ladder.fromHz', 2460, /looks like swings per minute \(that would be 41 Hz\)/],
    [
      'ladder.toHz',
      0.041,
      /looks like kHz \(that would be 41 Hz\) or a swing's time in s \(that would be 24\.39 Hz\)/,
    ],
  ])('%s %d', (path, value, message) => {
    const error = problemAt(path, value);
    expect(error).toMatchObject({ code: 'record-field', field: path });
    expect(error.message).toMatch(message);
    expectPlain(error);
  });

  test('their near neighbours are not suspected', () => {
    for (const [path, value] of [
      ['speedMmPerS', 1000],
      ['accelerationMmPerS2', 50],
      ['shaper.dampingRatio', 0.49],
      ['shaper.dampingRatio', 0],
      ['face.widthMm', 1000],
      ['face.widthMm', 5],
      ['ladder.toHz', 500],
      ['ladder.fromHz', 1],
    ] as const) {
      expect(() => checkPrintRecord(changed(DEMO_RECORD, path, value)), path).not.toThrow();
    }
    expect(() => checkPrintRecord(changed(SHORT_RECORD, 'layerHeightMm', 1.2))).not.toThrow();
    expect(() => checkPrintRecord(changed(SHORT_RECORD, 'layerHeightMm', 0.01))).not.toThrow();
    for (const value of [0.5, 0.9, 150]) {
      const { message } = problemAt('shaper.dampingRatio', value);
      expect(message).not.toMatch(/looks like/);
      expect(message).toMatch(/from 0 to below 0\.5/);
    }
    expect(problemAt('layerHeightMm', 0).message).not.toMatch(/looks like/);
  });
});

describe('fields that contradict each other', () => {
  const steps = (...ends: readonly (readonly [number, number])[]) =>
    ends.map(([fromMm, toMm]) => ({ fromMm, toMm, hz: 40 }));

  test.each([
    ['cornerSpeedMmPerS', 110, 'cornerSpeedMmPerS', /must be below speedMmPerS, 110/],
    ['ladder.lastLayer', 4, 'ladder.lastLayer', /must be above ladder\.firstLayer, 4/],
    ['ladder.lastLayer', 320, 'ladder.lastLayer', /the last of 320 layers is 319/],
    ['ladder.lastLayer', undefined, 'ladder.lastLayer', /does not say ladder\.lastLayer/],
    ['ladder.fromMm', 3, 'ladder', /as layers and as heights/],
    ['ladder', { kind: 'linear', fromHz: 18, toHz: 66 }, 'ladder.firstLayer', /does not say/],
    [
      'ladder',
      { kind: 'linear', fromHz: 18, toHz: 66, fromMm: 5, toMm: 5 },
      'ladder.toMm',
      /must be above ladder\.fromMm/,
    ],
    [
      'ladder',
      { kind: 'linear', fromHz: 18, toHz: 66, fromMm: 5, toMm: 65 },
      'ladder.toMm',
      /320 layers are 64 mm high/,
    ],
    ['ladder', { kind: 'stepped', bands: steps([5, 5]) }, 'ladder.bands[0].toMm', /must be above its fromMm/],
    [
      'ladder',
      { kind: 'stepped', bands: steps([0, 5], [4.9, 8]) },
      'ladder.bands[1].fromMm',
      /the step before it ends at 5/,
    ],
    ['ladder', { kind: 'stepped', bands: steps([5, 9], [0, 5]) }, 'ladder.bands[1].fromMm', /ends at 9/],
    ['ladder', { kind: 'stepped', bands: steps([0, 70]) }, 'ladder.bands[0].toMm', /64 mm high/],
    [
      'ladder',
      {
        kind: 'table',
        points: [
          { mm: 5, hz: 20 },
          { mm: 5, hz: 30 },
        ],
      },
      'ladder.points[1].mm',
      /above the point before it, 5/,
    ],
    [
      'ladder',
      {
        kind: 'table',
        points: [
          { mm: 5, hz: 20 },
          { mm: 80, hz: 30 },
        ],
      },
      'ladder.points[1].mm',
      /64 mm high/,
    ],
    [
      'accelerationLadder',
      { bands: [{ fromMm: 0, toMm: 9, mmPerS2: 2000 }] },
      'accelerationLadder',
      /beside a linear ladder/,
    ],
    ['face.heightMm', 80, 'face.heightMm', /The face reaches 80 mm .* 64 mm high/],
    ['face', { bottomMm: 64, leadingCorner: 'left' }, 'face.bottomMm', /The face reaches 64 mm/],
    ['penLineMm', 65, 'penLineMm', /the face goes from 0 to 64 mm/],
    [
      'slots',
      [{ centreFromLeadingCornerMm: 83.5, widthMm: 2 }],
      'slots[0].centreFromLeadingCornerMm',
      /84 mm wide/,
    ],
    [
      'reference',
      { kind: 'two-points', aPx: [1, 2], bPx: [1, 2], distanceMm: 9 },
      'reference.bPx',
      /same point/,
    ],
    [
      'reference',
      [{ kind: 'two-points', aPx: [1, 2], bPx: [1, 2], distanceMm: 9 }],
      'reference[0].bPx',
      /same point/,
    ],
  ])('%s %j', (path, value, field, message) => {
    const error = problemAt(path, value);
    expect(error).toMatchObject({ code: 'record-field', field });
    expect(error.message).toMatch(message);
    expectPlain(error);
  });

  test('near neighbours are accepted', () => {
    for (const [path, value] of [
      ['cornerSpeedMmPerS', 109.9],
      ['ladder.lastLayer', 5],
      ['ladder', { kind: 'stepped', bands: steps([0, 5], [5, 64], [64, 64.2]) }],
      ['face.heightMm', 64.9],
      ['penLineMm', 64],
      ['slots', [{ centreFromLeadingCornerMm: 83, widthMm: 2 }]],
      ['shaper', { family: 'EI', dampingRatio: 0.49 }],
      ['shaper.alongWall', { hz: 40, family: 'EI', dampingRatio: 0.49 }],
    ] as const) {
      expect(() => checkPrintRecord(changed(DEMO_RECORD, path, value)), path).not.toThrow();
    }
  });

  test('steps of a proof print must not overlap, and end with the tower', () => {
    const bands = (...ends: readonly (readonly [number, number])[]) => ({
      bands: ends.map(([fromMm, toMm]) => ({ fromMm, toMm, mmPerS2: 2000 })),
    });
    const record = { ...SHORT_RECORD, layers: 100 };
    const told = (accelerationLadder: unknown) => problem({ ...record, accelerationLadder });
    expect(told(bands([0, 9], [8, 10])).field).toBe('accelerationLadder.bands[1].fromMm');
    expect(told(bands([0, 9], [9, 30])).field).toBe('accelerationLadder.bands[1].toMm');
  });

  test('only the first of several problems is told', () => {
    const record = changed(changed(DEMO_RECORD, 'speedMmPerS', 6000), 'layers', 'many');
    expect(problem(record).field).toBe('speedMmPerS');
  });
});

test('the schema alone refuses contradictions too, so that no other reader of it misses them', () => {
  expect(printRecordSchema.safeParse(DEMO_RECORD).success).toBe(true);
  expect(printRecordSchema.safeParse(changed(DEMO_RECORD, 'ladder.lastLayer', 2)).success).toBe(false);
});

describe('several ladders on one tower', () => {
  const ladder = (...ladders: readonly object[]) => ({ kind: 'several', ladders });
  const lower = { kind: 'linear', fromHz: 20, toHz: 70, firstLayer: 4, lastLayer: 159 };
  const upper = { kind: 'linear', fromHz: 30, toHz: 50, firstLayer: 160, lastLayer: 319 };
  const inMm = { kind: 'linear', fromHz: 30, toHz: 50, fromMm: 32, toMm: 63.9 };

  test('touch or leave a gap, told by layers or by heights', () => {
    for (const other of [
      upper,
      // By hand: layer 159 of 0.2 mm ends at 32 mm.
      inMm,
      { ...upper, firstLayer: 170 },
      { kind: 'stepped', bands: [{ fromMm: 40, toMm: 60, hz: 40 }] },
    ]) {
      expect(checkPrintRecord(changed(DEMO_RECORD, 'ladder', ladder(lower, other))).ladder).toEqual(
        ladder(lower, other),
      );
    }
  });

  test.each([
    ['a layer in both', ladder(lower, { ...upper, firstLayer: 159 }), 'ladder.ladders[1]', /begins 31\.8 mm/],
    ['the upper one first', ladder(upper, lower), 'ladder.ladders[1]', /below it ends at 64 mm/],
    ['heights over layers', ladder(lower, { ...inMm, fromMm: 31.9 }), 'ladder.ladders[1]', /ends at 32 mm/],
    ['an end below its beginning', ladder(lower, { ...inMm, toMm: 30 }), 'ladder.ladders[1].toMm', /above/],
    [
      'a missing end',
      ladder({ ...lower, lastLayer: undefined }, upper),
      'ladder.ladders[0].lastLayer',
      /say/,
    ],
    [
      'more layers than there are',
      ladder(lower, { ...upper, lastLayer: 320 }),
      'ladder.ladders[1].lastLayer',
      /320/,
    ],
    ['higher than the tower', ladder(lower, { ...inMm, toMm: 70 }), 'ladder.ladders[1].toMm', /64 mm high/],
    ['only one', ladder(lower), 'ladder.ladders', /list of 2 or more/],
    ['one that does not climb', ladder(lower, { kind: 'off' }), 'ladder.ladders[1].kind', /"linear"/],
  ])('%s is told', (_, value, field, message) => {
    const error = problemAt('ladder', value);
    expect(error).toMatchObject({ code: 'record-field', field });
    expect(error.message).toMatch(message);
    expectPlain(error);
  });
});
