import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { applyOverrides, optionName, RECORD_FLAGS } from '../../src/print/overrides.js';
import { readPrintRecord } from '../../src/print/readPrintRecord.js';
import { DEMO_FLAGS, DEMO_RECORD, SHORT_RECORD } from './exampleRecords.js';
import { syncInputErrorOf } from '../helpers/thrown.js';

interface SchemaNode {
  readonly properties?: Readonly<Record<string, SchemaNode>>;
  readonly oneOf?: readonly SchemaNode[];
  readonly anyOf?: readonly SchemaNode[];
}

/**
 * The fields that a person gives: objects are walked into, and so is a choice of kinds; a list, or a word that
 * an object may stand for, is given as one.
 */
function leavesOf(node: SchemaNode, path: string): readonly string[] {
  const kinds = node.oneOf?.every((one) => one.properties?.['kind'] !== undefined) === true ? node.oneOf : [];
  const many = (node.anyOf ?? []).filter((one) => one.oneOf !== undefined);
  const inner = [...kinds, ...many].flatMap((one) => leavesOf(one, path));
  if (inner.length > 0) return inner;
  if (node.properties === undefined) return [path];
  return Object.entries(node.properties).flatMap(([key, child]) =>
    leavesOf(child, path === '' ? key : `${path}.${key}`),
  );
}

const schema = JSON.parse(
  readFileSync(new URL('../../schema/print-record.schema.json', import.meta.url), 'utf8'),
) as SchemaNode;
const LEAVES = new Set(leavesOf(schema, ''));

/** The values that a record has at the schema's leaves. References may be a list. */
function valuesIn(value: unknown, path = ''): readonly (readonly [string, string])[] {
  if (LEAVES.has(path)) return [[path, JSON.stringify(value)]];
  if (Array.isArray(value)) return value.flatMap((one) => valuesIn(one, path));
  return Object.entries(value as object).flatMap(([key, inner]) =>
    valuesIn(inner, path === '' ? key : `${path}.${key}`),
  );
}

describe('the table of flags', () => {
  test('the schema has the leaves that its description names', () => {
    expect(LEAVES).toContain('face.widthMm');
    expect(LEAVES).toContain('shaper.alongWall');
    expect(LEAVES).toContain('reference.aPx');
    expect(LEAVES).toContain('accelerationLadder.bands');
  });

  test('every leaf of the schema can be given by a flag, and no flag gives anything else', () => {
    // A ruler, so that --behind-face has something to be about.
    const base = { reference: { kind: 'ruler' } };
    const before = new Set(valuesIn(base).map(([path, value]) => path + value));
    const given = RECORD_FLAGS.map(({ flag, read, put, example }) => {
      const set = valuesIn(put(base, read(example))).filter(([path, value]) => !before.has(path + value));
      expect(set, flag).not.toEqual([]);
      return set.map(([path]) => path);
    });
    expect(new Set(given.flat())).toEqual(new Set([...LEAVES].filter((path) => path !== 'schema')));
  });

  test('every path of a flag exists in the schema', () => {
    for (const { flag, path } of RECORD_FLAGS) {
      expect(
        [...LEAVES].some((leaf) => leaf === path || leaf.startsWith(`${path}.`)),
        `${flag}: ${path}`,
      ).toBe(true);
    }
  });

  test('flags and option names are one of each, in the form that a command line declares', () => {
    expect(new Set(RECORD_FLAGS.map(({ flag }) => optionName(flag))).size).toBe(RECORD_FLAGS.length);
    for (const { flag, help } of RECORD_FLAGS) {
      expect(flag).toMatch(/^--[a-z]+(-[a-z]+)* <[^<>]+>$/);
      expect(help).toMatch(/^\S.{0,110}$/);
    }
    expect(optionName('--first-layer-height <mm>')).toBe('firstLayerHeight');
  });
});

describe('a record from flags', () => {
  test('alone is the same as from a file', () => {
    expect(readPrintRecord(undefined, DEMO_FLAGS)).toEqual(DEMO_RECORD);
  });

  test('each replaces one field of the file', () => {
    const text = JSON.stringify(DEMO_RECORD);
    const record = readPrintRecord(text, { speed: '90', faceWidth: '80.5', damping: '1e-1', notes: 'again' });
    expect(record).toEqual({
      ...DEMO_RECORD,
      speedMmPerS: 90,
      face: { ...DEMO_RECORD.face, widthMm: 80.5 },
      shaper: { ...DEMO_RECORD.shaper, dampingRatio: 0.1 },
      notes: 'again',
    });
  });

  test('a file alone is read as it stands', () => {
    expect(readPrintRecord(JSON.stringify(DEMO_RECORD), {})).toEqual(DEMO_RECORD);
  });

  test('the given record is not modified, and names that are no flag are passed over', () => {
    const before = structuredClone(DEMO_RECORD);
    const after = applyOverrides(DEMO_RECORD, {
      ...DEMO_FLAGS,
      speed: '90',
      ladder: 'off',
      json: 'x',
      toString: 'y',
    });
    expect(DEMO_RECORD).toEqual(before);
    expect(Object.keys(after as object)).toEqual(Object.keys(before));
  });

  test('nothing at all', () => {
    const error = syncInputErrorOf(() => readPrintRecord(undefined, { json: 'x' }));
    expect(error).toMatchObject({ code: 'usage' });
    expect(error.advice).toMatch(/--print FILE/);
  });

  test('parents are made where they are missing', () => {
    expect(applyOverrides(SHORT_RECORD, { damping: '0.1' })).toEqual({
      ...SHORT_RECORD,
      shaper: { dampingRatio: 0.1 },
    });
  });

  test('what is no object stays, so that the check can name it', () => {
    expect(syncInputErrorOf(() => readPrintRecord('[]', { speed: '90' })).code).toBe('record-field');
    const text = JSON.stringify({ ...SHORT_RECORD, face: 5 });
    expect(syncInputErrorOf(() => readPrintRecord(text, { faceWidth: '90' })).field).toBe('face');
    const off = JSON.stringify({ ...SHORT_RECORD, ladder: 'off' });
    expect(syncInputErrorOf(() => readPrintRecord(off, { ladder: 'fixed' })).field).toBe('ladder');
  });

  test('a duplicate or unknown key of the file is still told', () => {
    expect(syncInputErrorOf(() => readPrintRecord('{"axis":"X","axis":"Y"}', { axis: 'Z' })).code).toBe(
      'record-duplicate-field',
    );
    const text = JSON.stringify({ ...DEMO_RECORD, ladder: { ...DEMO_RECORD.ladder, frmHz: 3 } });
    expect(syncInputErrorOf(() => readPrintRecord(text, { ladder: 'off' })).field).toBe('ladder.frmHz');
  });
});

describe('words of flags', () => {
  test('are read in capital and small letters alike, free text as it stands', () => {
    const record = readPrintRecord(JSON.stringify(DEMO_RECORD), {
      axis: 'yLeft',
      seam: 'THIS-FACE',
      direction: 'Alternates',
      leadingCorner: 'Right',
      shaper: '2-hump ei',
      hzMeans: 'Damped',
      alongWall: '40,zvd,0.1',
      ladder: 'FIXED',
      hz: '40',
      reference: 'Face,Marker-Card',
    });
    expect(record).toMatchObject({
      axis: 'yLeft',
      seam: 'this-face',
      direction: 'alternates',
      face: { leadingCorner: 'right' },
      shaper: { family: '2-hump EI', hzMeans: 'damped', alongWall: { family: 'ZVD' } },
      ladder: { kind: 'fixed', hz: 40 },
      reference: [{ kind: 'face' }, { kind: 'marker-card' }],
    });
    const alongWall = readPrintRecord(JSON.stringify(DEMO_RECORD), { alongWall: 'As-Ladder' }).shaper
      ?.alongWall;
    expect(alongWall).toBe('as-ladder');
  });
});

describe('the ladder', () => {
  const ladderOf = (given: Record<string, string>, record: object = DEMO_RECORD) =>
    readPrintRecord(JSON.stringify(record), given).ladder;

  test('of another kind keeps only what fits', () => {
    expect(ladderOf({ ladder: 'off' })).toEqual({ kind: 'off' });
    expect(ladderOf({ ladder: 'fixed', hz: '41' })).toEqual({ kind: 'fixed', hz: 41 });
    expect(ladderOf({ ladder: 'linear', fromHz: '20' })).toEqual({ ...DEMO_RECORD.ladder, fromHz: 20 });
    expect(ladderOf({ ladder: 'stepped', bands: '0-5:30, 5-10.5:32' })).toEqual({
      kind: 'stepped',
      bands: [
        { fromMm: 0, toMm: 5, hz: 30 },
        { fromMm: 5, toMm: 10.5, hz: 32 },
      ],
    });
    expect(ladderOf({ ladder: 'table', points: '0:18,64:66' })).toEqual({
      kind: 'table',
      points: [
        { mm: 0, hz: 18 },
        { mm: 64, hz: 66 },
      ],
    });
  });

  test('of no known kind is told by the check, as is one that lacks its fields', () => {
    expect(syncInputErrorOf(() => ladderOf({ ladder: 'spiral' })).field).toBe('ladder.kind');
    expect(syncInputErrorOf(() => ladderOf({ ladder: 'table' })).field).toBe('ladder.points');
    expect(syncInputErrorOf(() => ladderOf({ hz: '40' })).field).toBe('ladder.hz');
  });

  test('its ends given in mm replace ends in layers, and the other way', () => {
    const inMm = { kind: 'linear', fromHz: 18, toHz: 66, fromMm: 0.9, toMm: 63.9 };
    expect(ladderOf({ fromMm: '0.9', toMm: '63.9' })).toEqual(inMm);
    const back = ladderOf({ firstLayer: '4', lastLayer: '319' }, { ...DEMO_RECORD, ladder: inMm });
    expect(back).toEqual(DEMO_RECORD.ladder);
    const both = { firstLayer: '4', lastLayer: '319', fromMm: '0.9', toMm: '63.9' };
    expect(syncInputErrorOf(() => ladderOf(both)).message).toMatch(/as layers and as heights/);
  });

  test('several, one above the other, of any kinds', () => {
    expect(ladderOf({ ladders: '0.9-31.5:20-70, #160-318:30-50' })).toEqual({
      kind: 'several',
      ladders: [
        { kind: 'linear', fromMm: 0.9, toMm: 31.5, fromHz: 20, toHz: 70 },
        { kind: 'linear', firstLayer: 160, lastLayer: 318, fromHz: 30, toHz: 50 },
      ],
    });
    expect(ladderOf({ ladder: 'several', ladders: '0-5:30/5-10:32,12:18/30:66' })).toEqual({
      kind: 'several',
      ladders: [
        {
          kind: 'stepped',
          bands: [
            { fromMm: 0, toMm: 5, hz: 30 },
            { fromMm: 5, toMm: 10, hz: 32 },
          ],
        },
        {
          kind: 'table',
          points: [
            { mm: 12, hz: 18 },
            { mm: 30, hz: 66 },
          ],
        },
      ],
    });
    expect(syncInputErrorOf(() => ladderOf({ ladder: 'several' })).field).toBe('ladder.ladders');
    expect(syncInputErrorOf(() => ladderOf({ ladders: '0-5:30/12:18' })).code).toBe('usage');
    // What stands beside several ladders would be passed over.
    for (const beside of [{ ladder: 'linear' }, { hz: '40' }, { fromHz: '20' }, { ladder: 'off' }]) {
      const error = syncInputErrorOf(() => ladderOf({ ladders: '0-5:30-50,6-9:20-30', ...beside }));
      expect(error.code).toBe('usage');
      expect(error.message).toMatch(/is given beside --ladders/);
    }
    // One alone is the tower's only ladder.
    expect(ladderOf({ ladders: '0-5:30-50' })).toEqual({
      kind: 'linear',
      fromMm: 0,
      toMm: 5,
      fromHz: 30,
      toHz: 50,
    });
  });

  test('of a proof print', () => {
    const record = readPrintRecord(JSON.stringify(DEMO_RECORD), {
      ladder: 'fixed',
      hz: '40',
      accelerationBands: '0-10:2000,10-20:4000',
    });
    expect(record.accelerationLadder?.bands[1]).toEqual({ fromMm: 10, toMm: 20, mmPerS2: 4000 });
  });
});

describe('references', () => {
  const referenceOf = (given: Record<string, string>, reference?: unknown) =>
    readPrintRecord(JSON.stringify({ ...DEMO_RECORD, reference }), given).reference;
  const points = { kind: 'two-points', aPx: [120, 80.5], bPx: [2950, 95], distanceMm: 84 };
  const card = { kind: 'id1-card', behindFaceMm: 3 };

  test('two points and a resolution stand beside the others', () => {
    expect(referenceOf({ twoPoints: '120,80.5 2950,95 84' })).toEqual(points);
    expect(referenceOf({ twoPoints: '120,80.5 2950,95 84' }, card)).toEqual([card, points]);
    expect(referenceOf({ dpi: '600' }, [card, points])).toEqual([
      card,
      points,
      { kind: 'dpi', dotsPerInch: 600 },
    ]);
  });

  test('and replace their own kind', () => {
    const other = { ...points, distanceMm: 50 };
    expect(referenceOf({ twoPoints: '120,80.5 2950,95 84' }, [other, card])).toEqual([card, points]);
    expect(referenceOf({ dpi: '600' }, { kind: 'dpi', dotsPerInch: 300 })).toEqual({
      kind: 'dpi',
      dotsPerInch: 600,
    });
  });

  test('a kind replaces the others and keeps what is told of it', () => {
    expect(referenceOf({ reference: 'face' }, card)).toEqual({ kind: 'face' });
    expect(referenceOf({ reference: 'face, id1-card' }, [points, card])).toEqual([{ kind: 'face' }, card]);
    expect(syncInputErrorOf(() => referenceOf({ reference: 'card' })).field).toBe('reference.kind');
  });

  test('a distance behind the face goes to what can lie there', () => {
    expect(referenceOf({ behindFace: '30' }, [{ kind: 'face' }, card])).toEqual([
      { kind: 'face' },
      { kind: 'id1-card', behindFaceMm: 30 },
    ]);
    expect(referenceOf({ reference: 'ruler', behindFace: '-2.5' })).toEqual({
      kind: 'ruler',
      behindFaceMm: -2.5,
    });
    const error = syncInputErrorOf(() => referenceOf({ behindFace: '30' }, { kind: 'face' }));
    expect(error).toMatchObject({ code: 'usage' });
    expect(error.message).toMatch(/--behind-face/);
  });
});

describe('other lists', () => {
  test('are read as written', () => {
    const record = readPrintRecord(JSON.stringify(DEMO_RECORD), {
      alongWall: '40, ZVD, 0.1',
      knownPitches: '2, .9',
      slots: '20:2,58:2.5',
      face: '410,300 3650,320.5  3640,2790 400,2780',
      penHeight: '31',
      penPlusMinus: '.3',
    });
    expect(record).toMatchObject({
      shaper: { alongWall: { hz: 40, family: 'ZVD', dampingRatio: 0.1 } },
      knownPitchesMm: [2, 0.9],
      slots: [
        { centreFromLeadingCornerMm: 20, widthMm: 2 },
        { centreFromLeadingCornerMm: 58, widthMm: 2.5 },
      ],
      facePx: [
        [410, 300],
        [3650, 320.5],
        [3640, 2790],
        [400, 2780],
      ],
      penLineMm: 31,
      penLinePlusMinusMm: 0.3,
    });
  });
});

describe('arguments that cannot be read', () => {
  test('a comma for decimals is told as such, and what may be thousands is not made a thousand times less', () => {
    const advice = (given: Record<string, string>) =>
      syncInputErrorOf(() => applyOverrides(undefined, given)).advice;
    expect(advice({ layerHeight: '0,2' })).toMatch(/ Write a point, not a comma: 0\.2\.$/);
    expect(advice({ acceleration: '6,000' })).toContain(
      '(6.000), or nothing where thousands are meant (6000)',
    );
    expect(advice({ layerHeight: '0.2 mm' })).not.toContain('comma');
  });

  test.each([
    ['speed', '110mm/s', '--speed 110'],
    ['speed', '', '--speed 110'],
    ['speed', 'NaN', '--speed 110'],
    ['speed', '1e999', '--speed 110'],
    ['speed', '0x10', '--speed 110'],
    ['layerHeight', '0,2', '--layer-height 0.2'],
    ['layers', 'many', '--layers 320'],
    ['bands', '0-5', '--bands "0-5:30,5-10:32"'],
    ['bands', '0-5:30,', '--bands "0-5:30,5-10:32"'],
    ['points', '0-18', '--points "0:18,64:66"'],
    ['slots', '58', '--slots "58:2"'],
    ['accelerationBands', '2000', '--acceleration-bands "0-10:2000,10-20:4000"'],
    ['alongWall', '40,ZV', '--along-wall "40,ZV,0.1"'],
    ['alongWall', '40,ZV,0.1,2', '--along-wall "40,ZV,0.1"'],
    ['alongWall', 'fast,ZV,0.1', '--along-wall "40,ZV,0.1"'],
    ['knownPitches', '2,', '--known-pitches "2,0.9"'],
    ['twoPoints', '1,2 3,4', '--two-points "120,80 2950,95 84"'],
    ['twoPoints', '1,2 3,4 5 6', '--two-points "120,80 2950,95 84"'],
    ['twoPoints', '1,2,3 3,4 5', '--two-points "120,80 2950,95 84"'],
    ['face', '1,2 3,4 5,6', '--face "410,300 3650,320 3640,2790 400,2780"'],
    ['face', '1,2 3,4 5,6 7', '--face "410,300 3650,320 3640,2790 400,2780"'],
  ])('%s "%s"', (name, text, example) => {
    const error = syncInputErrorOf(() => readPrintRecord(JSON.stringify(DEMO_RECORD), { [name]: text }));
    expect(error.code).toBe('usage');
    expect(error.message).toContain(`is given as "${text}"`);
    expect(error.message).toContain(example.split(' ')[0]);
    expect(error.advice).toContain(example);
  });

  test.each(['1,2 3,4 5,6', '1,2 3,4'])('corners "%s" are told how to leave one out', (text) => {
    const error = syncInputErrorOf(() => readPrintRecord(JSON.stringify(DEMO_RECORD), { face: text }));
    expect(error.advice).toMatch(/put - for each that is not told, as in "410,300 - 3640,2790 -"/);
  });

  test('an impossible value is told as in a file', () => {
    const error = syncInputErrorOf(() => readPrintRecord(JSON.stringify(DEMO_RECORD), { speed: '6000' }));
    expect(error).toMatchObject({ code: 'record-field', field: 'speedMmPerS' });
    expect(error.message).toMatch(/looks like mm\/min/);
  });
});
