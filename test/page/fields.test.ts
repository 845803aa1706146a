import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import {
  EMPTY,
  FIELDS,
  formOf,
  inPageWords,
  needed,
  textIn,
  toldBy,
  toldForLook,
  type FormState,
} from '../../src/page/fields.js';
import { applyOverrides, optionName, RECORD_FLAGS, type RawObject } from '../../src/print/overrides.js';
import { parseRecordJson, printRecordSchema } from '../../src/print/record.js';
import { PHOTO_NAMES, photoPath } from '../helpers/measured.js';

const FILES = [
  ...PHOTO_NAMES.map((name) => `${name}.print.json`),
  'proof/rising-acceleration.print.json',
  'lamps/lamps.print.json',
];

const recordIn = (file: string) => parseRecordJson(readFileSync(photoPath(file), 'utf8')) as RawObject;

/** A record in which every kind of field is told that the photographs' records do not have. */
const FULL: RawObject = {
  schema: 'stillband/print-record@1',
  machine: 'north bench 3',
  printedOn: '2026-03-14',
  axis: 'X',
  speedMmPerS: 120,
  layerHeightMm: 0.2,
  layers: 320,
  seam: 'other-face',
  direction: 'same',
  face: { widthMm: 84, heightMm: 64, bottomMm: 0.4, leadingCorner: 'right' },
  shaper: {
    family: 'EI',
    dampingRatio: 0.1,
    hzMeans: 'damped',
    alongWall: { hz: 40, family: 'ZV', dampingRatio: 0.1 },
  },
  ladder: {
    kind: 'several',
    ladders: [
      { kind: 'linear', fromHz: 20, toHz: 70, fromMm: 0.9, toMm: 31 },
      { kind: 'linear', fromHz: 30, toHz: 50, firstLayer: 165, lastLayer: 319 },
    ],
  },
  reference: [
    { kind: 'marker-card', behindFaceMm: 0, checkLengthMm: 89.7 },
    { kind: 'two-points', aPx: [120, 80], bPx: [2950, 95], distanceMm: 84 },
  ],
  knownPitchesMm: [2, 0.9],
  slots: [{ centreFromLeadingCornerMm: 58, widthMm: 2 }],
  penLineMm: 31,
  penLinePlusMinusMm: 0.3,
  notes: 'feet tightened',
};

describe('the form has every field of the print record', () => {
  test('one for each flag, with the same path; only the corners have their place in the photo', () => {
    const flags = RECORD_FLAGS.map(({ flag, path }) => [optionName(flag), path]).filter(
      ([name]) => name !== 'face',
    );
    const fields = [...FIELDS.values()].map(({ name, path }) => [name, path]);
    expect(fields.toSorted()).toEqual(flags.toSorted());
  });

  test('examples and choices are understood by the parser that reads them', () => {
    for (const { name, example, choices = [] } of FIELDS.values()) {
      const flag = RECORD_FLAGS.find((one) => optionName(one.flag) === name);
      for (const text of [example, ...choices.map(([value]) => value)]) {
        if (text !== undefined) expect(() => flag?.read(text), `${name}: ${text}`).not.toThrow();
      }
    }
  });
});

describe('a record that is loaded and not touched is told as it stands', () => {
  const records: readonly (readonly [string, RawObject])[] = [
    ...FILES.map((file) => [file, recordIn(file)] as const),
    ['a full one', FULL],
  ];
  test.each(records)('%s', (_, record) => {
    expect(toldBy(formOf(record), record)).toEqual({ record, fields: {} });
  });

  test.each(records)('%s, typed anew into an empty form, gives the same record', (_, record) => {
    const { fields } = toldBy(formOf(record), undefined);
    const again = printRecordSchema.parse(applyOverrides(undefined, fields));
    expect(listed(again)).toEqual(listed(printRecordSchema.parse(record)));
  });
});

/** One reference may stand without a list. */
function listed({ reference, ...rest }: Record<string, unknown>): unknown {
  return {
    ...rest,
    reference: reference === undefined || Array.isArray(reference) ? reference : [reference],
  };
}

describe('what is changed in the form', () => {
  const changed = (texts: Readonly<Record<string, string>>, more: Partial<FormState> = {}) => {
    const state = formOf(FULL);
    return toldBy({ ...state, ...more, texts: { ...state.texts, ...texts } }, FULL);
  };

  test('a value that is typed goes as typed', () => {
    expect(changed({ speed: ' 130 ' })).toEqual({ record: FULL, fields: { speed: '130' } });
  });

  test('a field that is emptied leaves the record, at any depth', () => {
    const { record } = changed({ machine: '', damping: '', twoPoints: '', checkLength: '' });
    expect(record).not.toHaveProperty('machine');
    expect(record).not.toHaveProperty('shaper.dampingRatio');
    expect(record).toHaveProperty('shaper.family', 'EI');
    expect(record?.['reference']).toEqual([{ kind: 'marker-card', behindFaceMm: 0 }]);
  });

  test('fields of another ladder are not told', () => {
    const { fields } = changed({
      ladder: 'linear',
      fromHz: '20',
      toHz: '60',
      fromMm: '1',
      toMm: '60',
      hz: '40',
    });
    expect(fields).toEqual({ ladder: 'linear', fromHz: '20', toHz: '60' });
  });

  test('accelerations by height are told of a proof print only', () => {
    const proof = recordIn('proof/rising-acceleration.print.json');
    expect(formOf(proof).asked).toBe('proof');
    const state = { ...formOf(proof), asked: 'spacing' as const };
    expect(toldBy(state, proof).record).not.toHaveProperty('accelerationLadder');
  });

  test('a ladder that is not complete is no part of a mere look at the photo', () => {
    const state: FormState = { ...EMPTY, texts: { ladder: 'linear', fromHz: '20', faceWidth: '84' } };
    expect(toldForLook(state, undefined).fields).toEqual({ faceWidth: '84' });
    const complete = { fromHz: '20', toHz: '60', firstLayer: '4', lastLayer: '319' };
    const all = toldForLook({ ...EMPTY, texts: { ladder: 'linear', ...complete } }, undefined);
    expect(all.fields).toEqual({ ladder: 'linear', ...complete });
  });
});

test('what must be filled in is asked for in the order of the form', () => {
  expect(needed(EMPTY)).toEqual([
    'axis',
    'leadingCorner',
    'speed',
    'layerHeight',
    'faceWidth',
    'faceHeight',
    'ladder',
    'fromHz',
    'toHz',
    'firstLayer',
    'lastLayer',
  ]);
  const quick = { ...EMPTY, asked: 'spacing' as const, texts: { layers: '320', ladder: '' } };
  expect(needed(quick)).toEqual(['axis', 'leadingCorner', 'speed', 'layerHeight', 'faceWidth']);
});

test('a field says what the record says, an empty one nothing', () => {
  const field = (name: string) => FIELDS.get(name) ?? { name, path: name, label: '', kind: 'text' as const };
  expect(textIn(FULL, field('alongWall'))).toBe('40,ZV,0.1');
  expect(textIn(FULL, field('ladders'))).toBe('0.9-31:20-70,#165-319:30-50');
  expect(textIn(FULL, field('reference'))).toBe('marker-card,two-points');
  expect(textIn(FULL, field('material'))).toBe('');
  expect(textIn(undefined, field('axis'))).toBe('');
});

test('advice for the command line names fields of the page instead of flags', () => {
  expect(
    inPageWords('Tell the acceleration that applied to this wall (--acceleration), which was assumed.'),
  ).toBe(
    'Tell the acceleration that applied to this wall (“Acceleration along the face”), which was assumed.',
  );
  expect(inPageWords('or give its corners (--face).')).toBe('or give its corners (drag them in the photo).');
  const words = RECORD_FLAGS.map(({ flag }) => inPageWords(`(${flag.split(' ')[0] ?? ''})`));
  expect(words.filter((text) => text.includes('--'))).toEqual([]);
});

test('names of the record become labels too, and words stay words', () => {
  expect(inPageWords('layerHeightMm is 20; a number from 0.02 to 2 is expected.')).toBe(
    '“Layer height” is 20; a number from 0.02 to 2 is expected.',
  );
  expect(inPageWords('layers (--layers) is 2.5; write the layers of the tower.')).toBe(
    '“Layers of the tower” is 2.5; write the layers of the tower.',
  );
  expect(inPageWords('Correct ladder.bands[2].hz (see the notes).')).toBe('Correct “Steps” (see the notes).');
});
