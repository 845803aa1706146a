import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { runCli } from '../cli/ioForTests.js';
import { photoPath } from '../helpers/measured.js';
import { pngHeader } from '../helpers/pngHeader.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const PHOTO = photoPath('white-card.jpg');
const RECORD = photoPath('white-card.print.json');
const recordText = readFileSync(RECORD, 'utf8');
const record = JSON.parse(recordText) as Readonly<Record<string, unknown>>;

/** Input files; results would be written to `out`, which must stay empty. */
const at = tempFolder('file');
const out = (name: string) => at('out', name);

beforeAll(() => {
  mkdirSync(at('out'));
  mkdirSync(at('folder'));
  const photo = readFileSync(PHOTO);
  const files: Readonly<Record<string, string | Uint8Array>> = {
    'empty.jpg': '',
    'half.jpg': photo.subarray(0, Math.floor(photo.length / 2)),
    // The face ends at row 2100 of 4032: this one breaks off below it once upright, and beside it as stored.
    'nearly.jpg': photo.subarray(0, Math.floor(0.99 * photo.length)),
    'text.jpg': 'A note that was saved under the name of a photo.\n',
    'drawing.jpg': '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>',
    'huge.png': pngHeader(30_000, 30_000),
    'text.print.json': 'speed 110\n',
    'empty.print.json': '',
    'unknown.print.json': JSON.stringify({ ...record, sped: 110 }),
    'fast.print.json': JSON.stringify({ ...record, speedMmPerS: 6000 }),
    'negative.print.json': JSON.stringify({ ...record, layerHeightMm: -0.2 }),
    'nan.print.json': recordText.replace('"speedMmPerS": 110', '"speedMmPerS": NaN'),
    'null.print.json': JSON.stringify({ ...record, speedMmPerS: NaN }),
    'twice.print.json': recordText.replace('"ladder"', '"ladder": {"kind": "off"}, "ladder"'),
    'list.print.json': JSON.stringify({ ...record, ladder: [{ kind: 'off' }, { kind: 'fixed', hz: 40 }] }),
    'loud.print.json': JSON.stringify({ ...record, seam: 'Other-Face' }),
  };
  for (const [name, content] of Object.entries(files)) writeFileSync(at(name), content);
});

const withRecord = (file: string) => () => [PHOTO, '--print', at(file)];
const withFlags =
  (...flags: readonly string[]) =>
  () => [PHOTO, '--print', RECORD, ...flags];
const withPhoto = (file: string) => () => [at(file), '--print', RECORD];

interface Case {
  readonly what: string;
  readonly args: () => readonly string[];
  readonly exitCode: number;
  readonly code: string;
  readonly says: RegExp;
}

const bad = (what: string, args: Case['args'], exitCode: number, code: string, says: RegExp): Case => ({
  what,
  args,
  exitCode,
  code,
  says,
});

// Exit codes: DESIGN 8, after the BSD convention sysexits.h (64 usage, 65 data, 66 no input; from memory).
const CASES: readonly Case[] = [
  bad('no file', withPhoto('none.jpg'), 66, 'file-not-found', /none\.jpg/),
  bad('a folder', withPhoto('folder'), 65, 'file-unreadable', /folder/),
  bad('an empty file', withPhoto('empty.jpg'), 65, 'file-empty', /no bytes/),
  bad('half a JPEG', withPhoto('half.jpg'), 65, 'photo-damaged', /breaks off/),
  bad('a JPEG that breaks off near its end', withPhoto('nearly.jpg'), 65, 'photo-damaged', /breaks off/),
  bad('text named .jpg', withPhoto('text.jpg'), 65, 'photo-format', /not a picture/),
  bad('an SVG', withPhoto('drawing.jpg'), 65, 'photo-format', /SVG/),
  bad('a PNG header of 900 megapixels', withPhoto('huge.png'), 65, 'photo-too-large', /120 megapixels/),
  bad(
    'corners crossed',
    withFlags('--face', '627,690 2368,2100 2419,703 606,2037'),
    65,
    'corners-crossed',
    /clockwise/,
  ),
  bad(
    'corners outside',
    withFlags('--face', '627,690 3419,703 2368,2100 606,2037'),
    65,
    'corners-outside',
    /3419,703/,
  ),
  bad('print record missing', withRecord('none.print.json'), 66, 'file-not-found', /none\.print\.json/),
  bad('print record a folder', withRecord('folder'), 65, 'file-unreadable', /folder/),
  bad('print record not JSON', withRecord('text.print.json'), 65, 'record-not-json', /line 1, column 1/),
  bad('print record empty', withRecord('empty.print.json'), 65, 'record-not-json', /empty/),
  bad('print record a photo', () => [PHOTO, '--print', PHOTO], 65, 'record-not-json', /not valid JSON/),
  bad('unknown key', withRecord('unknown.print.json'), 65, 'record-unknown-field', /sped/),
  bad('speed 6000 in the file', withRecord('fast.print.json'), 65, 'record-field', /6000.*mm\/min/),
  bad('speed 6000 as a flag', withFlags('--speed', '6000'), 65, 'record-field', /6000.*mm\/min/),
  bad('negative in the file', withRecord('negative.print.json'), 65, 'record-field', /layerHeightMm.*-0\.2/),
  bad('negative as a flag', withFlags('--layer-height', '-0.2'), 65, 'record-field', /layerHeightMm.*-0\.2/),
  bad('NaN in the file', withRecord('nan.print.json'), 65, 'record-not-json', /line \d+, column \d+/),
  bad('NaN written as null', withRecord('null.print.json'), 65, 'record-field', /speedMmPerS/),
  bad('NaN as a flag', withFlags('--speed', 'NaN'), 64, 'usage', /--speed.*NaN/),
  bad(
    'a word in other letters in the file',
    withRecord('loud.print.json'),
    65,
    'record-field',
    /seam.*"Other/,
  ),
  bad(
    'an escape in a text',
    withFlags('--title', 'a\u001b[2J'),
    65,
    'record-field',
    /title \(--title\).*control/,
  ),
  bad(
    'flags missing',
    () => [PHOTO, '--axis', 'Y'],
    65,
    'record-field',
    /--speed, .* and --face-height are missing/,
  ),
  bad('two ladders', withRecord('twice.print.json'), 65, 'record-duplicate-field', /ladder twice/),
  bad('a list of ladders', withRecord('list.print.json'), 65, 'record-duplicate-field', /list/),
  bad("a photo's filler for a resolution", withFlags('--reference', 'dpi'), 65, 'record-field', /a scan's/),
  bad('an unknown flag', withFlags('--frob'), 64, 'usage', /--frob/),
  bad('nothing told of the print', () => [PHOTO], 64, 'usage', /Nothing is told/),
];

const outputs = () => ['--csv', out('heights.csv'), '--svg', out('picture.svg'), '--png', out('picture.png')];

describe.concurrent('bad input', () => {
  test.each(CASES)('$what: $code', async ({ args, exitCode, code, says }) => {
    const run = await runTool(['measure', ...args(), ...outputs()]);
    expect({ exitCode: run.exitCode, stdout: run.stdout }).toEqual({ exitCode, stdout: '' });
    const lines = run.stderr.split('\n');
    expect(lines).toHaveLength(4);
    const [message, advice, last, end] = lines as [string, string, string, string];
    expect([last, end]).toEqual([`(${code})`, '']);
    expect(message).toMatch(says);
    // One sentence, and one of advice: neither has another beginning inside.
    expect(message).toMatch(/^stillband: [A-Za-z-].*\.$/);
    expect(message).not.toMatch(/[.!?]\)? [A-Z]/);
    expect(advice).toMatch(/^[A-Z].*[.?]$/);
    expect(run.stderr).not.toMatch(/^\s+at |node:|\.js:\d|Error:/m);
    expect(readdirSync(at('out'))).toEqual([]);
  });

  // The same command without a process, to save time.
  test.each(CASES)('$what, as JSON', async ({ args, exitCode, code, says }) => {
    const run = await runCli(['measure', ...args(), ...outputs(), '--json']);
    expect({ exitCode: run.exitCode, err: run.err }).toEqual({ exitCode, err: '' });
    const { error, ...rest } = JSON.parse(run.out) as { readonly error: Readonly<Record<string, string>> };
    expect(rest).toEqual({});
    expect(error['code']).toBe(code);
    expect(error['message']).toMatch(says);
    expect(error['advice']).toMatch(/^[A-Z].*[.?]$/);
    expect(readdirSync(at('out'))).toEqual([]);
  });

  test('as JSON, through the process', async () => {
    const run = await runTool(['measure', ...withPhoto('half.jpg')(), ...outputs(), '--json']);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode: 65, stderr: '' });
    expect(JSON.parse(run.stdout)).toMatchObject({ error: { code: 'photo-damaged' } });
  });
});

describe('what is no mistake of the input', () => {
  test('a face of 30 px is a result: too coarse', async () => {
    const args = ['measure', PHOTO, '--print', RECORD, '--face', '600,700 630,700 630,723 600,723'];
    const run = await runTool(args);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode: 3, stderr: '' });
    expect(run.stdout).toMatch(/^Axis Y {3}no band can be proposed: the photo is too coarse/);
    expect(run.stdout).toMatch(/reason too-coarse \(px per ripple: [\d.]+, limit 15\)/);
    expect(run.stdout).toMatch(/^next .*from about \d+ cm instead of/m);
  });
});

describe('output that cannot be written', () => {
  test.each([
    ['into a folder that there is not', () => ['--svg', out('none/picture.svg')], /no such folder/],
    ['over a folder', () => ['--png', at('folder')], /it is a folder/],
    ['below a file', () => ['--csv', join(RECORD, 'heights.csv')], /no such folder/],
  ])('%s: nothing of the other outputs is left either', async (_, broken, says) => {
    const target = broken();
    // The flag that is given last wins, so only the others are asked for beside it.
    const others = outputs().filter((__, i, all) => all[i - (i % 2)] !== target[0]);
    const run = await runTool(['measure', PHOTO, '--print', RECORD, ...others, ...target]);
    expect({ exitCode: run.exitCode, stdout: run.stdout }).toEqual({ exitCode: 73, stdout: '' });
    expect(run.stderr).toMatch(says);
    expect(run.stderr).toMatch(/\(cannot-write\)\n$/);
    expect(run.stderr).not.toMatch(/^\s+at /m);
    expect(readdirSync(at('out'))).toEqual([]);
    expect(readdirSync(at('folder'))).toEqual([]);
  });

  test('demo tells the same', async () => {
    const run = await runTool(['demo', '--out', out('none/picture.png')]);
    expect(run.exitCode).toBe(73);
    expect(run.stderr).toMatch(/\(cannot-write\)\n$/);
    expect(run.stderr).not.toContain("result's picture is in");
  });
});
