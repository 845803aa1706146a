import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { photoPath } from '../helpers/measured.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { editReading, saveFrequency, saveSample } from '../logbook/sampleLogbook.js';
import { runCli } from './ioForTests.js';

const at = tempFolder('test');

const PHOTO = photoPath('white-card.jpg');
const RECORD = photoPath('white-card.print.json');

test.each([
  [['logbook', 'list'], 66, 'logbook-missing'],
  [['logbook', 'show', '7'], 66, 'logbook-missing'],
  [['logbook', 'show', 'x'], 64, 'usage'],
  [['logbook', 'verify', '--head', '3-abc'], 64, 'head-mistyped'],
  [['logbook', 'verify', '--logbook', RECORD], 65, 'logbook-unreadable'],
  [['logbook'], 64, 'usage'],
  [['logbook', 'lists'], 64, 'usage'],
  [['logbook', 'pair', '1'], 64, 'usage'],
  [['logbook', 'sheet', '--paper', 'a3'], 64, 'usage'],
  [['logbook', 'sheet', '--sheet', 'sheet.png'], 64, 'usage'],
  [['logbook', 'sheet'], 66, 'logbook-missing'],
  [['logbook', 'sheet', '--sheet', 'logbook/sheet.pdf'], 64, 'usage'],
  [['logbook', 'trend', '--svg', 'trend.png'], 64, 'usage'],
  [['logbook', 'trend', '--png', 'logbook/trend.png'], 64, 'usage'],
  [['measure', PHOTO, '--print', RECORD, '--note', 'x'], 64, 'usage'],
  [['measure', PHOTO, '--print', RECORD, '--save', '--logbook', RECORD], 66, 'logbook-missing'],
])('%j ends in %i, told as %s', async (args, exitCode, code) => {
  const run = await runCli(args);
  expect([run.exitCode, run.err.trimEnd().split('\n').at(-1)]).toEqual([exitCode, `(${code})`]);
  expect(run.out).toBe('');
  expect(existsSync('logbook')).toBe(false);
});

const logbook = (...args: readonly string[]) => runCli(['logbook', ...args, '--logbook', at('log')]);

describe('a photo that is gone', () => {
  test.each([['replay'], ['verify', '--replay']])('is no equal one for %s', async (...command) => {
    await saveSample(at('log'), 1);
    const folder = join(at('log', 'entries'), readdirSync(at('log', 'entries'))[0]!);
    const photo = readdirSync(folder).find((name) => name.endsWith('.jpg'))!;
    rmSync(join(folder, photo));
    const run = await logbook(...command);
    expect(run.exitCode).toBe(1);
    expect(run.out).toMatch(/0 equal, 0 different, 1 unknown/);
    expect(run.out).toMatch(/unknown +entry 1, .*is gone or cannot be read/);
    if (command.length > 1) expect(run.out).toMatch(/^note +Entry 1 cannot be measured again: The photo/m);
  });

  test('does not keep a logbook of notes from being equal', async () => {
    await logbook('note', 'x');
    expect((await logbook('replay')).exitCode).toBe(0);
  });
});

describe('what replaces a file', () => {
  test.each([
    ['export', (file: string) => logbook('export', file), 'a.zip'],
    ['sheet', (file: string) => logbook('sheet', '--sheet', file), 'a.html'],
    ['card', (file: string) => runCli(['card', '--out', file]), 'a.svg'],
  ])('%s says so', async (_, run, name) => {
    await saveSample(at('log'), 1);
    const first = await run(at(name));
    expect([first.exitCode, first.out]).toEqual([0, expect.not.stringMatching(/in place of/)]);
    expect((await run(at(name))).out).toMatch(/, in place of the file of that name/);
  });
});

describe('a pair', () => {
  test('is saved with its sheet, and told with its head', async () => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    await saveFrequency(at('log'), 2, { axis: 'X', hz: 52 });
    const run = await logbook('pair', '1', '2', '--sheet', at('pair.html'), '--note', 'evening');
    expect([run.exitCode, run.err]).toEqual([0, '']);
    const [, head = ''] = /^head +(3-\S+)$/m.exec(run.out)!;
    const html = readFileSync(at('pair.html'), 'utf8');
    expect(html).toContain(head);
    expect(html).toMatch(/Axis X[\s\S]*Axis Y/);
    const json = JSON.parse((await logbook('show', '3', '--json')).out) as { entry: { kind: string } };
    expect(json.entry.kind).toBe('pair');
    const shown = (await logbook('show', '3')).out;
    expect(shown.match(/^entry /gm)).toHaveLength(3);
  });

  test('that is saved but whose sheet has no place is told to be saved', async () => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    await saveFrequency(at('log'), 2, { axis: 'X', hz: 52 });
    const run = await logbook('pair', '1', '2', '--sheet', at('none', 'pair.html'));
    expect(run.exitCode).toBe(73);
    expect(run.err).toMatch(/^saved +entry 3[\s\S]*\(cannot-write\)/);
  });
});

test('a trend is drawn as SVG and PNG', async () => {
  await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
  const run = await logbook('trend', '--svg', at('trend.svg'), '--png', at('trend.png'));
  expect([run.exitCode, run.out]).toEqual([0, expect.stringMatching(/^Axis Y of north bench 3/)]);
  expect(readFileSync(at('trend.svg'), 'utf8')).toMatch(/^<svg /);
  // PNG specification (third edition), 5.2: signature.
  expect(readFileSync(at('trend.png')).subarray(0, 8).toString('hex')).toBe('89504e470d0a1a0a');
});

describe('a reading that was edited by hand', () => {
  const moveFrequency = (hz: number) => {
    editReading(at('log'), 2, ({ proposal }) => {
      if (proposal.state === 'proposed') proposal.frequencyHz = { ...proposal.frequencyHz, value: hz };
    });
  };

  test.each([
    // Within its interval of 51.6 to 52.4 Hz, and far outside it.
    [52.3],
    [70],
  ])('to %f Hz is used by no command', async (hz) => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    await saveFrequency(at('log'), 2, { axis: 'X', hz: 52 });
    moveFrequency(hz);
    const told = /entry 2's reading is not as it was saved\.\n.*stillband logbook verify/;
    const log = ['--logbook', at('log')];
    for (const args of [
      ['logbook', 'show', '2', ...log],
      ['logbook', 'sheet', '2', '--sheet', at('sheet.pdf'), ...log],
      ['logbook', 'pair', '1', '2', ...log],
      ['decide', '2', ...log],
      ['compare', '1', '2', ...log],
    ]) {
      const run = await runCli(args);
      expect([args, run.exitCode, run.out, run.err]).toEqual([args, 65, '', expect.stringMatching(told)]);
    }
    expect(existsSync(at('sheet.pdf'))).toBe(false);
    // The others are told all the same.
    const trend = await logbook('trend');
    expect([trend.exitCode, trend.out]).toEqual([1, expect.stringMatching(/^Axis Y of north bench 3/)]);
    expect(trend.out).toMatch(/^Not used: .*entry 2's reading is not as it was saved/m);
    expect(trend.out).not.toMatch(/Axis X/);
    expect((await logbook('show', '1')).exitCode).toBe(0);
  });

  test('is a plain mistake as a file of its own as well', async () => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    const { folder } = JSON.parse((await logbook('show', '1', '--json')).out) as { folder: string };
    const text = readFileSync(join(folder, 'reading.json'), 'utf8');
    writeFileSync(at('edited.json'), text.replaceAll('"value":41}', '"value":70}'));
    const run = await runCli(['compare', at('edited.json'), at('edited.json')]);
    expect([run.exitCode, run.err]).toEqual([
      65,
      expect.stringMatching(/the value lies outside its interval/),
    ]);
  });
});

test('a line of the log that was edited by hand is told', async () => {
  await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
  const file = at('log', 'log.jsonl');
  writeFileSync(file, readFileSync(file, 'utf8').replaceAll('"value":41}', '"value":41.3}'));
  const run = await logbook('show', '1');
  expect([run.exitCode, run.err]).toEqual([
    65,
    expect.stringMatching(/the line of entry 1 in log\.jsonl is not what the entry says/),
  ]);
});

test('compare names the file that is no reading', async () => {
  writeFileSync(at('a.json'), '{');
  const run = await runCli(['compare', at('a.json'), at('a.json')]);
  expect([run.exitCode, run.err]).toEqual([
    65,
    expect.stringContaining(`${at('a.json')}: The reading is not valid JSON`),
  ]);
});
