import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { photoPath } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { runCli } from './ioForTests.js';

const RECORD = photoPath('blue-markers.print.json');
const at = tempFolder('test');

describe('card', () => {
  test('the help tells every flag and the exit codes', async () => {
    const { exitCode, out } = await runCli(['card', '--help']);
    expect(exitCode).toBe(0);
    for (const flag of ['--out', '--print', '--machine', '--size', '--check-length']) {
      expect(out, flag).toMatch(new RegExp(`^  ${flag}\\b`, 'm'));
    }
    for (const code of ['0 written', '64 usage', '65 bad input', '73 cannot write'])
      expect(out).toContain(code);
  });

  test('writes PDF or SVG by the name, and says what to do with it', async () => {
    const pdf = await runCli(['card', '--out', at('card.PDF'), '--print', RECORD]);
    expect(pdf).toMatchObject({ exitCode: 0, err: '' });
    expect(pdf.out).toMatch(/^Marker card written to .*card\.PDF\n/);
    expect(pdf.out).toMatch(/at least \d+ px wide/);
    expect(pdf.out).toMatch(/print it at 100 %/);
    expect(readFileSync(at('card.PDF')).subarray(0, 5).toString()).toBe('%PDF-');
    const svg = await runCli([
      'card',
      '--out',
      at('card.svg'),
      '--machine',
      'north bench 3',
      '--size',
      'Letter',
    ]);
    expect(svg.exitCode).toBe(0);
    expect(readFileSync(at('card.svg'), 'utf8')).toMatch(/^<svg [^>]*width="215.9mm"/);
    expect((await runCli(['card', '--out', at('plain.svg')])).out).toMatch(/code +none/);
  });

  test('says what of the record is not on it', async () => {
    const record = JSON.parse(readFileSync(RECORD, 'utf8')) as object;
    writeFileSync(at('print.json'), JSON.stringify({ ...record, notes: 'feet tightened' }));
    const { out } = await runCli(['card', '--out', at('card.svg'), '--print', at('print.json')]);
    expect(out).toMatch(/not on it: notes\n/);
  });

  test.each([
    ['no name', [], 64, 'usage'],
    ['a name that says no format', ['--out', 'card'], 64, 'usage'],
    ['a picture', ['--out', 'card.png'], 64, 'usage'],
    ['another page', ['--out', 'card.pdf', '--size', 'a3'], 64, 'usage'],
    ['a check length in inches', ['--out', 'card.pdf', '--check-length', '3.54'], 64, 'usage'],
    ['a check length that is no number', ['--out', 'card.pdf', '--check-length', 'long'], 64, 'usage'],
    ['no such record', ['--out', 'card.pdf', '--print', 'nowhere.json'], 66, 'file-not-found'],
    ['no such folder', ['--out', 'nowhere/card.pdf'], 73, 'cannot-write'],
    ['an endless name', ['--out', 'card.pdf', '--machine', 'x'.repeat(101)], 64, 'usage'],
  ])('%s', async (_, argv, exitCode, code) => {
    const placed = argv.map((arg) => (/^(card|nowhere)/.test(arg) ? at(arg) : arg));
    const run = await runCli(['card', ...placed]);
    expect(run).toMatchObject({ exitCode, out: '' });
    expect(run.err).toContain(`(${code})`);
    expect(existsSync(at('card.pdf'))).toBe(false);
  });

  test('does not write over the record', async () => {
    const own = at('print.svg');
    writeFileSync(own, readFileSync(RECORD));
    const run = await runCli(['card', '--out', own, '--print', own]);
    expect(run).toMatchObject({ exitCode: 64, out: '' });
    expect(readFileSync(own)).toEqual(readFileSync(RECORD));
  });
});
