import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RECORD_FLAGS } from '../../src/print/overrides.js';
import { parseReading } from '../../src/reading/schema.js';
import { photoPath } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { runCli } from './ioForTests.js';

const PHOTO = photoPath('blue-markers.jpg');
const RECORD = photoPath('blue-markers.print.json');

const at = tempFolder('test');

describe('help', () => {
  test.each([[['--help']], [['-h']], [['help']]])(
    '%s lists the commands, an example and the cautions',
    async (argv) => {
      const { exitCode, out, err } = await runCli(argv);
      expect([exitCode, err]).toEqual([0, '']);
      expect(out).toMatch(/^Usage: stillband /);
      for (const command of ['measure', 'check', 'card', 'compare', 'decide', 'after', 'demo'])
        expect(out).toMatch(new RegExp(`^  ${command} `, 'm'));
      expect(out).toContain('$ stillband demo');
      expect(out).toMatch(/never raise accelerations unattended/);
    },
  );

  test.each([[['measure', '--help']], [['help', 'measure']]])(
    '%s tells every flag and the exit codes',
    async (argv) => {
      const { exitCode, out, err } = await runCli(argv);
      expect([exitCode, err]).toEqual([0, '']);
      const flags = ['--print', '--spacing-only', '--json', '--csv', '--svg', '--png'];
      for (const { flag } of RECORD_FLAGS) flags.push(flag.split(' ')[0]!);
      for (const flag of flags) expect(out, flag).toMatch(new RegExp(`^  ${flag}\\b`, 'm'));
      expect(out).toContain('$ stillband measure ');
      // Source: DESIGN 8.
      for (const code of [
        '0 proposed',
        '3 refused',
        '64 usage',
        '65 bad input',
        '66 no such file',
        '73 cannot write',
      ]) {
        expect(out).toContain(code);
      }
    },
  );

  test('says where corners begin, whichever way the tower stands in the photo', async () => {
    const { out } = await runCli(['measure', '--help']);
    expect(out).toMatch(/--face begins at the top-left corner of the tower as printed and goes clockwise/);
    expect(out).toMatch(/upside down in the photo, begin at the tower's own top-left corner/);
    expect(out).toMatch(/--leading-corner is left or right as seen .* tower standing upright as printed/);
  });

  test('of demo', async () => {
    const { exitCode, out } = await runCli(['demo', '--help']);
    expect(exitCode).toBe(0);
    expect(out).toMatch(/--out <file>/);
  });

  test('no line is broken by hand in the middle of a sentence', async () => {
    const { out } = await runCli(['--help']);
    expect(out).toMatch(/proposes the\nfrequency for the input shaper/);
  });

  test('the version', async () => {
    const { version } = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')) as {
      readonly version: string;
    };
    for (const flag of ['--version', '-V']) {
      expect(await runCli([flag])).toMatchObject({ exitCode: 0, out: `${version}\n`, err: '' });
    }
  });
});

describe('usage', () => {
  test.each([
    ['nothing', [], /No command is given/, /--help/],
    ['an unknown command', ['mesure', 'x.jpg'], /Unknown command 'mesure'/, /measure/],
    ['an unknown flag', ['measure', 'x.jpg', '--frob'], /Unknown option '--frob'/, /--help/],
    [
      'a misspelt flag',
      ['measure', 'x.jpg', '--spead', '3'],
      /Unknown option '--spead'/,
      /Did you mean --speed\?/,
    ],
    [
      'a flag without its argument',
      ['measure', 'x.jpg', '--csv'],
      /'--csv <file>' argument missing/,
      /--help/,
    ],
    ['no photo', ['measure'], /missing required argument 'photos'/i, /--help/],
    [
      'one photo, as if it were several',
      ['measure', 'x.jpg', '--camera-still'],
      /--camera-still is for several photos/,
      /all photos/,
    ],
    ['help for what there is not', ['help', 'frob'], /No such command/, /--help/],
    ['no record', ['measure', PHOTO], /Nothing is told of the print/, /--print/],
    [
      'two results to one place',
      ['measure', 'x.jpg', '--csv', '-', '--svg', '-'],
      /standard output/,
      /file name/,
    ],
    [
      'JSON and another to one place',
      ['measure', 'x.jpg', '--csv', '-', '--json'],
      /standard output/,
      /file name/,
    ],
    [
      'two results to one file',
      ['measure', 'x.jpg', '--csv', 'a', '--svg', 'a'],
      /written to a\./,
      /file name/,
    ],
    [
      'a PNG named as another picture',
      ['measure', 'x.jpg', '--png', 'tower.JPG'],
      /--png tower\.JPG would write PNG into a file that is named as JPEG\./,
      /\.png at its end, or with nothing/,
    ],
    ['an SVG likewise', ['measure', 'x.jpg', '--svg', 'tower.png'], /write SVG .* as PNG\./, /\.svg/],
    ['a table likewise', ['measure', 'x.jpg', '--csv', 'a.tiff'], /write CSV .* as TIFF\./, /\.csv/],
    ["demo's picture likewise", ['demo', '--out', 'demo.svg'], /--out demo\.svg .* PNG .* as SVG\./, /\.png/],
    [
      'what would move the cursor is shown, not sent',
      ['measure', 'x.jpg', '--frob\u001b[2J\nnext'],
      /'--frob\\u001b\[2J\\u000anext'/,
      /--help/,
    ],
  ])('%s', async (_, argv, message, advice) => {
    const { exitCode, out, err } = await runCli(argv);
    expect(exitCode).toBe(64);
    if (argv.includes('--json')) {
      const { error } = JSON.parse(out) as { readonly error: Readonly<Record<string, string>> };
      expect(error).toMatchObject({ code: 'usage', message: expect.stringMatching(message) as unknown });
      expect(error['advice']).toMatch(advice);
    } else {
      expect(out).toBe('');
      expect(err).toMatch(message);
      expect(err).toMatch(advice);
      expect(err).toMatch(/\(usage\)\n$/);
    }
  });

  test('as JSON when that was asked for', async () => {
    const { exitCode, out, err } = await runCli(['measure', 'x.jpg', '--frob', '--json']);
    expect([exitCode, err]).toEqual([64, '']);
    expect(JSON.parse(out)).toEqual({
      error: {
        code: 'usage',
        message: "Unknown option '--frob'.",
        advice: expect.stringContaining('--help') as unknown,
      },
    });
  });
});

describe('measure', () => {
  test('the text report on standard output, the verdict in bold on a terminal', async () => {
    const plain = await runCli(['measure', PHOTO, '--print', RECORD]);
    expect([plain.exitCode, plain.err]).toEqual([3, '']);
    expect(plain.out).toMatch(/^Axis Y {3}no band can be proposed: the shaper did not change/);
    const bold = await runCli(['measure', PHOTO, '--print', RECORD, '--spacing-only'], true);
    expect(bold.exitCode).toBe(0);
    // Source: ECMA-48, SGR 1 and 22 (from memory).
    const [verdict, ...rest] = bold.out.split('\n');
    expect(verdict!.startsWith('\u001b[1mAxis Y ')).toBe(true);
    expect(verdict!.endsWith('\u001b[22m')).toBe(true);
    expect(rest.join('\n')).not.toContain('\u001b');
  });

  test('--json is the reading and nothing else', async () => {
    const { exitCode, out, err } = await runCli(['measure', PHOTO, '--print', RECORD, '--json'], true);
    expect([exitCode, err]).toEqual([3, '']);
    expect(parseReading(out).proposal).toMatchObject({ state: 'refused', reason: 'ladder-has-no-range' });
  });

  test('- is standard output, in place of the report', async () => {
    const csv = await runCli(['measure', PHOTO, '--print', RECORD, '--csv', '-']);
    expect(csv.out).toMatch(/^height_mm,layer,/);
    expect(csv.out).not.toContain('Axis');
    const png = await runCli(['measure', PHOTO, '--print', RECORD, '--png', '-', '--csv', at('a.csv')]);
    expect(png.pieces).toHaveLength(1);
    // Source: RFC 2083, signature of a PNG.
    expect([...(png.pieces[0] as Uint8Array).slice(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
    expect(readdirSync(at())).toEqual(['a.csv']);
  });

  test('a quick re-check from flags: no ladder, words in any letters, what is assumed', async () => {
    const flags = ['--axis', 'Y', '--speed', '100', '--layer-height', '0.2', '--leading-corner', 'LEFT'];
    const size = ['--face-width', '80', '--face-height', '50'];
    const { exitCode, out, err } = await runCli(['measure', PHOTO, '--spacing-only', ...flags, ...size]);
    expect([exitCode, err]).toEqual([0, '']);
    // Source: truth file of the ray tracer, 37.95 Hz.
    expect(out).toMatch(/^Axis Y {3}swings at 3[78]\.\d Hz ± /);
    expect(out).toMatch(/accelerationMmPerS2: 4000 mm\/s², not told; .*common practice, no source/);
  });

  test('all flags that are missing are told at once', async () => {
    const { exitCode, err } = await runCli(['measure', PHOTO, '--axis', 'Y', '--spacing-only']);
    expect(exitCode).toBe(65);
    const names = '--speed, --layer-height, --leading-corner, --face-width and --face-height';
    expect(err).toContain(`stillband: The flags ${names} are missing.\n`);
    expect(err).toMatch(/\n\(record-field\)\n$/);
  });

  test('control characters of a record reach neither the terminal nor a picture', async () => {
    const record = JSON.parse(readFileSync(RECORD, 'utf8')) as object;
    const file = at('evil.print.json');
    const evil = { ...record, axis: '\u001b[2JY\u202e', ['x\u009b\u2028']: 1 };
    for (const content of [evil, { ...record, axis: evil.axis }]) {
      writeFileSync(file, JSON.stringify(content));
      const { exitCode, out, err } = await runCli(['measure', PHOTO, '--print', file, '--svg', at('a')]);
      expect([exitCode, out]).toEqual([65, '']);
      // Source: Unicode, the line feed is the only one of these that a report needs.
      expect(err.replaceAll('\n', '')).not.toMatch(/[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}]/u);
    }
    expect(readdirSync(at())).toEqual(['evil.print.json']);
  });

  test('a name without an extension, or with an unknown one, is fine', async () => {
    const files = ['--png', at('picture'), '--svg', at('tower.2')];
    expect((await runCli(['measure', PHOTO, '--print', RECORD, ...files])).exitCode).toBe(3);
    expect(readdirSync(at()).sort()).toEqual(['picture', 'tower.2']);
  });

  test('a flag wins over the file', async () => {
    const { out } = await runCli([
      'measure',
      PHOTO,
      '--print',
      RECORD,
      '--axis',
      'U',
      '--speed',
      '50',
      '--json',
    ]);
    const reading = parseReading(out);
    expect(reading.printRecord).toMatchObject({ axis: 'U', speedMmPerS: 50 });
    expect(reading.printRecord.layers).toBe(250);
  });

  test('a record with a byte order mark is read', async () => {
    const file = at('bom.print.json');
    writeFileSync(file, `\uFEFF${readFileSync(RECORD, 'utf8')}`);
    expect((await runCli(['measure', PHOTO, '--print', file])).exitCode).toBe(3);
  });

  test('an error of the inside is not hidden as one of the user', async () => {
    // `io.out` is all that the command trusts blindly.
    const { run } = await import('../../src/cli/run.js');
    const broken = run(['measure', PHOTO, '--print', RECORD], {
      out: () => {
        throw new TypeError('planted');
      },
      err: () => undefined,
      colour: false,
    });
    await expect(broken).rejects.toThrow('planted');
  });
});
