import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CODE_LETTERS, cardText, parseCardText } from '../../src/print/cardCode.js';
import { RECORD_FLAGS } from '../../src/print/overrides.js';
import { checkPrintRecord, parsePrintRecord, type PrintRecord } from '../../src/print/record.js';
import { photoPath } from '../helpers/measured.js';
import { syncInputErrorOf } from '../helpers/thrown.js';
import { DEMO_RECORD, SHORT_RECORD } from './exampleRecords.js';

/** The code of a body, made apart from the product's own. */
const codeOf = (body: string, version = 1) =>
  `SB${version} ${createHash('sha256').update(body).digest('hex').slice(0, 4)}\n${body}`;

/** A record as its card must give it back. */
function onCard(record: PrintRecord): Record<string, unknown> {
  const ofOnePhoto = ['facePx', 'photoOf', 'notes'];
  const kept = Object.entries(record).filter(([name]) => !ofOnePhoto.includes(name));
  return { ...Object.fromEntries(kept), reference: { kind: 'marker-card' } };
}

function readBack(record: PrintRecord): PrintRecord {
  const code = parseCardText(cardText(record).text);
  if (code.state !== 'read') throw new Error(`Expected a record but received ${code.state}.`);
  return checkPrintRecord(code.record);
}

describe("the text of a card's code", () => {
  test('is what its description says', () => {
    const { text, fields, leftOut } = cardText(checkPrintRecord(DEMO_RECORD));
    expect(text).toBe(
      codeOf(
        'AY\nv110\na6000\nc6\nh.2\nn320\nsother-face\ndsame\nw84\nt64\nb0\nlleft\nSZV\nz.08\nmnatural\nWas-ladder\nLlinear\nf18\ng66\nj4\nk319\nK2\nMnorth bench 3\nD2026-03-14\nEwhite, satin\nTafter new belts',
      ),
    );
    expect(fields).toContain('layer height 0.2 mm');
    expect(fields).toContain('machine north bench 3');
    // Its id-1 card is not what the marker card's photo shows.
    expect(leftOut).toEqual(['reference']);
  });

  test('each flag has a letter of its own, or belongs to one photo', () => {
    const letters = Object.values(CODE_LETTERS);
    expect(new Set(letters).size).toBe(letters.length);
    for (const letter of letters) expect(letter).toMatch(/^[A-Za-z]$/);
    const flags = RECORD_FLAGS.map(({ flag }) => flag.split(' ')[0]!);
    const without = flags.filter((flag) => CODE_LETTERS[flag] === undefined);
    expect(without).toEqual([
      '--reference',
      '--two-points',
      '--dpi',
      '--behind-face',
      '--check-length',
      '--face',
      '--photo-of',
      '--notes',
    ]);
    expect(flags).toEqual(expect.arrayContaining(Object.keys(CODE_LETTERS)));
  });

  const records = readdirSync(photoPath(''), { recursive: true, encoding: 'utf8' }).filter((file) =>
    file.endsWith('.print.json'),
  );

  test('the records of all test photographs come back', () => {
    expect(records.length).toBeGreaterThan(6);
    for (const file of records) {
      const record = parsePrintRecord(readFileSync(photoPath(file), 'utf8'));
      expect(readBack(record), file).toEqual(onCard(record));
    }
  });

  test.each([
    [
      'stepped',
      {
        kind: 'stepped',
        bands: [
          { toMm: 10, fromMm: 0, hz: 30.5 },
          { hz: 33, fromMm: 10, toMm: 20 },
        ],
      },
    ],
    [
      'table',
      {
        kind: 'table',
        points: [
          { hz: 18, mm: 0.00001 },
          { mm: 64, hz: 66.25 },
        ],
      },
    ],
    ['in mm', { kind: 'linear', fromHz: 60, toHz: 20, fromMm: 0.9, toMm: 63.9 }],
    [
      'above another',
      {
        kind: 'several',
        ladders: [
          { kind: 'linear', fromHz: 20, toHz: 70.5, firstLayer: 4, lastLayer: 99 },
          { kind: 'linear', fromHz: 60, toHz: 30, fromMm: 20.5, toMm: 40 },
          { kind: 'stepped', bands: [{ toMm: 45, fromMm: 40, hz: 30.5 }] },
          {
            kind: 'table',
            points: [
              { hz: 30, mm: 46 },
              { mm: 60, hz: 50.25 },
            ],
          },
        ],
      },
    ],
    ['fixed', { kind: 'fixed', hz: 41.5 }],
    ['off', { kind: 'off' }],
  ])('a ladder %s, slots, a shaped wall and a proof come back', (_, ladder) => {
    const proof = ladder.kind === 'fixed' || ladder.kind === 'off';
    const record = checkPrintRecord({
      ...DEMO_RECORD,
      ladder,
      shaper: { family: '2-hump EI', alongWall: { dampingRatio: 0.05, hz: 40.5, family: '3-hump EI' } },
      slots: [{ widthMm: 2, centreFromLeadingCornerMm: 58 }],
      knownPitchesMm: [2, 0.9],
      ...(proof
        ? {
            accelerationLadder: {
              bands: [
                { fromMm: 0, toMm: 8, mmPerS2: 1500 },
                { fromMm: 8, toMm: 16, mmPerS2: 2500.5 },
              ],
            },
          }
        : {}),
    });
    expect(readBack(record)).toEqual(onCard(record));
  });

  // Source: the round trip itself, for any names and numbers that a record may hold.
  test('any names and numbers come back', () => {
    const name = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 20 });
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(
      fc.property(
        name,
        name,
        number(5, 1000),
        number(0.01, 1.2),
        number(0, 0.99),
        (machine, axis, v, h, zeta) => {
          const raw = {
            ...SHORT_RECORD,
            machine,
            axis,
            speedMmPerS: v,
            layerHeightMm: h,
            shaper: { dampingRatio: zeta },
          };
          let record: PrintRecord;
          try {
            record = checkPrintRecord(raw);
          } catch {
            return; // A name with characters that no record may hold, or a number beyond the limits.
          }
          expect(readBack(record)).toEqual(onCard(record));
        },
      ),
      { seed: 7, numRuns: 300 },
    );
  });

  test('a machine alone', () => {
    const { text } = cardText({ machine: 'Süd 7 ☃' });
    expect(text).toBe(codeOf('MSüd 7 ☃'));
    expect(parseCardText(text)).toEqual({
      state: 'read',
      record: {
        schema: 'stillband/print-record@1',
        machine: 'Süd 7 ☃',
        reference: { kind: 'marker-card' },
      },
    });
  });

  test('a record that is too long is told', () => {
    const bands = Array.from({ length: 100 }, (_, i) => ({ fromMm: i, toMm: i + 1, hz: 20 + i }));
    const record = checkPrintRecord({
      ...DEMO_RECORD,
      layers: undefined,
      face: { ...DEMO_RECORD.face, heightMm: 100 },
      ladder: { kind: 'stepped', bands },
    });
    const { code, message } = syncInputErrorOf(() => cardText(record));
    expect([code, message]).toEqual(['record-too-long', expect.stringMatching(/ 666\.$/)]);
  });
});

describe('what is no code of ours', () => {
  const good = cardText(checkPrintRecord(DEMO_RECORD)).text;

  test.each([
    ['a web address', 'https://example.org/SB1', 'foreign'],
    ['nothing', '', 'foreign'],
    ['a header alone', 'SB1 0000', 'foreign'],
    ['a later version', codeOf('whatever it holds', 2), 'newer'],
    ['a later version with another check', 'SB17 0000\nAY', 'newer'],
    ['a digit changed', good.replace('v110', 'v111'), 'damaged'],
    ['cut short', good.slice(0, -1), 'damaged'],
    ['a letter that means nothing', codeOf('AY\n!5'), 'damaged'],
    ['a number that is none', codeOf('AY\nvfast'), 'damaged'],
    ['an empty line', codeOf('AY\n\nv110'), 'damaged'],
  ])('%s', (_, text, state) => {
    expect(parseCardText(text)).toEqual({ state });
  });

  // Of 65536 check sums one fits by chance: none does for these changes, fewer than 200.
  test('any one character changed is noticed', () => {
    for (let i = 'SB1 c0de\n'.length; i < good.length; i += 1) {
      const changed = `${good.slice(0, i)}${good[i] === '5' ? '6' : '5'}${good.slice(i + 1)}`;
      expect(parseCardText(changed).state).toBe('damaged');
    }
  });
});
