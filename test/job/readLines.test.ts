import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { LONGEST_LINE, readLines, type Chunks, type Motion } from '../../src/job/readLines.js';
import { expectClose } from '../helpers/closeTo.js';
import { inputErrorOf } from '../helpers/thrown.js';
import { writeJob } from '../synth/job.js';

const bytesOf = (text: string) => new TextEncoder().encode(text);
const reference = (name: string) => readFileSync(new URL(`../reference/${name}`, import.meta.url));

async function movesOf(chunks: Chunks) {
  const moves: Motion[] = [];
  const sets: number[] = [];
  const others: string[] = [];
  const read = await readLines(chunks, {
    onMove: (motion) => void moves.push({ ...motion }),
    onExtruderSet: (position) => void sets.push(position),
    onOther: (bytes, line) => void others.push(`${String(line)}: ${new TextDecoder().decode(bytes)}`),
  });
  return { moves, sets, others, read };
}

const ends = (moves: readonly Motion[]) => moves.map(({ toXMm, toYMm, toZMm }) => [toXMm, toYMm, toZMm]);

describe('readLines', () => {
  test('reads words with and without spaces, in any case, with comments, numbers and check sums', async () => {
    const { moves, others } = await movesOf([
      bytesOf(
        [
          '%',
          'N1 G1 X1.5 Y-2 (a ; comment) Z.25 F1200*87',
          'g1x3y+4 ; X99',
          '/G0 Z1.',
          'X5',
          '; G1 X100',
          'CALM Y 20',
          'M9998 X7 Y8',
          'T1',
          '',
        ].join('\n'),
      ),
    ]);
    expect(ends(moves)).toEqual([
      [1.5, -2, 0.25],
      [3, 4, 0.25],
      [3, 4, 1],
      [5, 4, 1],
    ]);
    expect(moves.map(({ line, feed }) => [line, feed])).toEqual([
      [2, true],
      [3, true],
      [4, false],
      [5, false],
    ]);
    expect(moves[0]).toMatchObject({ offset: 2, speedMmPerS: 20 });
    expect(others).toEqual(['1: %', '6: ; G1 X100', '7: CALM Y 20', '8: M9998 X7 Y8', '9: T1']);
  });

  // Source: ISO 6983-1 (from memory): G90/G91 absolute and incremental, G20/G21 inch and metric (common practice; the
  // standard leaves them to G70/G71), G92 presets the position, G28 returns to the reference point.
  test('keeps to the modes', async () => {
    const { moves, sets, read } = await movesOf([
      bytesOf(
        'G20\nG1 X1 F60\nG91\nG1 X1\nG21\nG1 X-0.8 E1\nG90\nG92 X10 E0\nG1 X11\nG28 X\nG1 X2\nG28\nG1 Y3\n',
      ),
    ]);
    expectClose(ends(moves).flat(), [25.4, 0, 0, 50.8, 0, 0, 50, 0, 0, 51, 0, 0, 2, 0, 0, 0, 3, 0], {
      abs: 1e-9,
      why: 'sums of doubles',
    });
    // 60 inches per minute.
    expectClose(moves[0]!.speedMmPerS, 25.4, { abs: 1e-12, why: 'one product' });
    expect(sets).toEqual([0]);
    expect(read).toMatchObject({ lines: 13, inches: true, numbered: false, tellsHeight: false });
  });

  test('an arc is told by its end', async () => {
    const { moves } = await movesOf([bytesOf('G2 X10 Y0 I5 J0\nG3 X0 Y0 R5\n')]);
    expect(moves.map(({ arc, toXMm }) => [arc, toXMm])).toEqual([
      [true, 10],
      [true, 0],
    ]);
  });

  // Source: ECMAScript's own Number(), rounded correctly by its specification.
  test('a number is the double that is nearest to it', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.tuple(fc.constantFrom('', '-', '+'), fc.stringMatching(/^(\d{1,5}(\.\d{0,14})?|\.\d{1,15})$/)),
        async ([sign, digits]) => {
          const { moves } = await movesOf([bytesOf(`G1 X${sign}${digits}`)]);
          // A place has no negative zero.
          expect(moves[0]!.toXMm).toBe(Number(sign + digits) + 0);
        },
      ),
      { numRuns: 300, seed: 5 },
    );
  });

  test('how the file is cut into pieces does not matter', async () => {
    const { text } = writeJob({ layers: 4, numbered: true, eol: '\r\n', bom: true, innerWalls: 1 });
    const bytes = bytesOf(text);
    const whole = await movesOf([bytes]);
    expect(whole.moves.length).toBeGreaterThan(40);
    await fc.assert(
      fc.asyncProperty(fc.array(fc.nat(bytes.length), { maxLength: 30 }), async (cuts) => {
        const at = [0, ...cuts.sort((a, b) => a - b), bytes.length];
        const pieces = at.slice(1).map((to, i) => bytes.slice(at[i], to));
        expect(await movesOf(pieces)).toEqual(whole);
      }),
      { numRuns: 40, seed: 6 },
    );
  });

  test('a piece may be filled anew once it is read', async () => {
    const bytes = bytesOf(writeJob({ layers: 2 }).text);
    async function* reusing() {
      const room = new Uint8Array(100);
      for (let from = 0; from < bytes.length; from += room.length) {
        const piece = bytes.subarray(from, from + room.length);
        room.set(piece);
        yield await Promise.resolve(room.subarray(0, piece.length));
      }
    }
    expect(await movesOf(reusing())).toEqual(await movesOf([bytes]));
  });

  test.each([
    ['nothing', '', 'file-empty'],
    ['a zero byte', 'G1 X1\n\0G1 X2\n', 'job-not-text'],
    ['a carriage return alone', 'G1 X1\rG1 X2\rG1 X3\r', 'job-not-text'],
    ['an exponent', 'G1 X1e999\n', 'job-line'],
    ['a huge number', `G1 X${'9'.repeat(400)}\n`, 'job-line'],
    ['a far move', 'G1 X2000000\n', 'job-line'],
    ['a word without a number', 'G1 X\n', 'job-line'],
    ['a letter behind the number', 'G1 X1Q\n', 'job-line'],
    ['something else in a move', 'G1 X1 Y#3\n', 'job-line'],
    ['two signs', 'G1 X--5\n', 'job-line'],
    ['a negative speed', 'G1 X1 F-60\n', 'job-line'],
    ['a line of 10 MB', `G1 X1\n;${'x'.repeat(10 * 2 ** 20)}\nG1 X2\n`, 'job-line'],
    ['10 MB without an end', 'X'.repeat(10 * 2 ** 20), 'job-line'],
    ['time instead of speed', 'G93\nG1 X1 F2\n', 'job-unsupported'],
  ])('%s is a named error', async (_, text, code) => {
    const error = await inputErrorOf(() => movesOf([bytesOf(text)]));
    expect(error.code).toBe(code);
    expect(error.message).toMatch(/^(Line \d+ of t|T)he job file [^\n]+\.$/);
  });

  test.each(['utf-16le', 'utf-16be'])('%s is a named error', async (encoding) => {
    const bytes = Buffer.from('\uFEFFG1 X1\n', 'utf16le');
    const error = await inputErrorOf(() => movesOf([encoding === 'utf-16le' ? bytes : bytes.swap16()]));
    expect(error).toMatchObject({
      code: 'job-not-text',
      message: expect.stringContaining('UTF-16') as string,
    });
  });

  test('a long line that is none too long is read', async () => {
    const text = `;${'x'.repeat(LONGEST_LINE - 1)}\nG1 X1\n`;
    expect((await movesOf([bytesOf(text)])).moves).toHaveLength(1);
  });

  describe('files of other programs', () => {
    test('a drawing on a canvas', async () => {
      const text = reference('canvas_drawing.job').toString();
      // As written it tells times in place of speeds; without that line its moves are read.
      expect((await inputErrorOf(() => movesOf([bytesOf(text)]))).code).toBe('job-unsupported');
      const { moves } = await movesOf([bytesOf(text.replace('G93\n', ''))]);
      // Source: the drawing itself, PROVENANCE.md.
      const corners = [
        [70, 20],
        [70, 60],
        [10, 60],
        [10, 20],
      ];
      const along = ends(moves).map(([x, y]) => [x, y]);
      expect(along).toEqual([[10, 20], ...corners, ...corners, ...corners, [10, 20], [115, 40], [100, 25]]);
      // It cuts its way down by one for each turn: at the turn's sides by their share of its 200 mm.
      const depths = [0, 0.3, 0.5, 0.8, 1, 1.3, 1.5, 1.8, 2, 2, 2, 2, 2, 0, 0, 0];
      expectClose(
        ends(moves).map(([, , z]) => -z!),
        depths,
        { abs: 1e-12, why: 'as written' },
      );
      expect(moves.at(-1)!.arc).toBe(true);
    });

    test('a drawing with parameters in place of numbers is refused by name', async () => {
      const error = await inputErrorOf(() => movesOf([reference('postscript_drawing.job')]));
      expect(error).toMatchObject({ code: 'job-line' });
      expect(error.message).toMatch(/no number behind Z/);
    });
  });
});
