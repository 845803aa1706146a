import { existsSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { checkPrintRecord } from '../../src/print/record.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { writeJob } from '../synth/job.js';
import { runCli } from './ioForTests.js';

const example = (name: string) => fileURLToPath(new URL(`../../examples/${name}`, import.meta.url));
const JOB = example('short-tower.job');
const RECORD = example('short-tower.print.json');
const WEAVE = ['weave', JOB, '--print', RECORD, '--template', 'CALM {axis} {hz}'];
const PATTERN = 'CALM (?<axis>\\w+) (?<hz>[0-9.]+)';
const at = tempFolder('test');

describe('the example', () => {
  test('is what its script writes', () => {
    expect(readFileSync(JOB, 'utf8')).toBe(writeJob({ layers: 60 }).text);
  });
});

describe('job', () => {
  test('tells speed, face, layers, and what is still to be told', async () => {
    const run = await runCli(['job', JOB, '--axis', 'Y', '--acceleration', '6000', '--corner-speed', '6']);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    expect(run.out).toMatch(/^Axis Y {3}110 mm\/s reached {3}60 layers of 0\.2 mm, 12 mm high\n/);
    expect(run.out).toMatch(/the leading corner is left/);
    expect(run.out).toMatch(/still to be told: ladder\n/);
    expect(run.out).toMatch(/keep clear of moving and hot parts/);
    expect(run.out).not.toMatch(/[\u2009\u00A0]/);
  });

  test('names a speed that is never reached, and what is', async () => {
    const { out } = await runCli(['job', JOB, '--print', RECORD, '--acceleration', '100']);
    expect(out).toMatch(/^Axis Y {3}91\.\d mm\/s reached of 110 mm\/s commanded/);
    expect(out).toMatch(
      /note +110 mm\/s is never reached: 83\.6 mm of wall at 100 mm\/s² allow 91\.\d mm\/s\./,
    );
  });

  test('writes the filled record, from the ladder that was woven in', async () => {
    const woven = at('woven.job');
    expect((await runCli([...WEAVE, '--limit-hz', '10-150', '--out', woven])).exitCode).toBe(0);
    const told = ['--axis', 'Y', '--frequency-line', PATTERN, '--line-width', '0.4'];
    const run = await runCli(['job', woven, ...told, '--out', at('filled.json')]);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    const record = checkPrintRecord(JSON.parse(readFileSync(at('filled.json'), 'utf8')));
    const { ladder, layers, speedMmPerS } = JSON.parse(readFileSync(RECORD, 'utf8')) as Record<
      string,
      unknown
    >;
    expect(record).toMatchObject({ ladder, layers, speedMmPerS, face: { widthMm: 84 } });
    const { out } = await runCli(['job', woven, '--print', RECORD, '--json', '--frequency-line', PATTERN]);
    expect(JSON.parse(out)).toMatchObject({ findings: [], ladder: 'same', record: { missing: [] } });
    const asText = ['job', woven, '--print', RECORD, '--frequency-line', PATTERN];
    expect((await runCli(asText)).out).toMatch(/^ +the same as the record's ladder$/m);
    const other = JSON.parse(readFileSync(RECORD, 'utf8')) as { ladder: { toHz: number } };
    other.ladder.toHz += 30;
    writeFileSync(at('other.json'), JSON.stringify(other));
    const differs = await runCli(['job', woven, '--print', at('other.json'), '--frequency-line', PATTERN]);
    expect(differs.out).toMatch(/^ +not the record's ladder: the note says from which layer on$/m);
    expect(differs.out).toMatch(/the record's ladder tells \d+\.\d\d Hz: 0\.\d\d Hz apart\./);
  });

  test.each([
    ['no such job', ['job', 'nowhere.job'], 66, 'file-not-found'],
    ['a folder', ['job', '.'], 65, 'file-unreadable'],
    ['no job', ['job', RECORD], 65, 'job-no-layers'],
    ['a photo', ['job', example('../testimages/white-card.jpg')], 65, 'job-not-text'],
    ['a pattern that is none', ['job', JOB, '--frequency-line', '(('], 64, 'pattern-invalid'],
    ['an angle that is none', ['job', JOB, '--axis', 'Y', '--facing', 'north'], 64, 'usage'],
    ['a width that is none', ['job', JOB, '--line-width', '0'], 64, 'usage'],
    ['an axis of its own', ['job', JOB, '--axis', 'left motor'], 64, 'usage'],
    ['a result over the job', ['job', JOB, '--out', JOB], 64, 'usage'],
    ['two results in one place', ['job', JOB, '--json', '--out', '-'], 64, 'usage'],
  ])('%s', async (_, argv, exitCode, code) => {
    const run = await runCli(argv);
    expect(run.err + run.out).toContain(code);
    expect(run.exitCode).toBe(exitCode);
  });
});

describe('weave', () => {
  test('writes the copy whole, says what stands where and that the lines are the users own', async () => {
    const before = readFileSync(JOB);
    const run = await runCli([...WEAVE, '--limit-hz', '10-150', '--out', at('woven.job')]);
    expect(run).toMatchObject({ exitCode: 0, err: '' });
    expect(run.out).toMatch(/^56 lines of yours put into .*woven\.job\n/);
    expect(run.out).toMatch(/layer 4: CALM Y 30\.000\n.*layer 59: CALM Y 50\.000\n/);
    expect(run.out).toMatch(/note +The print record tells no value for layers 0 to 3/);
    expect(run.out).toMatch(/writes no command of its own/);
    expect(run.out).toMatch(/put the machine back/);
    expect(readFileSync(JOB).equals(before)).toBe(true);
    const copy = readFileSync(at('woven.job'), 'utf8');
    expect(copy.replaceAll(/CALM Y \d\d\.\d{3}\n/g, '')).toBe(before.toString());
    expect(readdirSync(at())).toEqual(['woven.job']);
  });

  test('to standard output goes the copy alone', async () => {
    const run = await runCli([...WEAVE, '--limit-hz', '10-150', '--out', '-']);
    expect(run.exitCode).toBe(0);
    expect(run.out).toMatch(/^; a tower of our own/);
    expect(run.out.match(/^CALM /gm)).toHaveLength(56);
  });

  test('copy and JSON do not go to one place', async () => {
    const run = await runCli([...WEAVE, '--limit-hz', '10-150', '--json', '--out', '-']);
    expect(run.exitCode).toBe(64);
    expect(run.out).toMatch(/"code":"usage","message":"Two results are to be written to standard output/);
  });

  test('as JSON it tells the place of each line', async () => {
    const run = await runCli([...WEAVE, '--limit-hz', '10-150', '--json', '--out', at('woven.job')]);
    const { insertions } = JSON.parse(run.out) as { insertions: readonly { offset: number; text: string }[] };
    const job = readFileSync(JOB, 'utf8');
    expect(insertions).toHaveLength(56);
    for (const { offset } of insertions) expect(job.slice(offset)).toMatch(/^G0 Z\d/);
  });

  test.each([
    ['no limits', [], 64, 'limit-missing'],
    ['values outside them', ['--limit-hz', '10-40'], 65, 'limit-exceeded'],
    ['limits that are none', ['--limit-hz', '150'], 64, 'usage'],
    ['limits the wrong way round', ['--limit-hz', '150-10'], 64, 'usage'],
    ['another rhythm', ['--limit-hz', '10-150', '--every', 'hour'], 64, 'usage'],
    ['an unknown placeholder', ['--limit-hz', '10-150', '--template', 'CALM {Hz}'], 64, 'template-invalid'],
    ['a line that moves', ['--limit-hz', '10-150', '--template', 'G1 F{hz}'], 64, 'template-invalid'],
    ['a place that is none', ['--limit-hz', '10-150', '--out', 'nowhere/at/all.job'], 73, 'cannot-write'],
    ['the job itself', ['--limit-hz', '10-150', '--out', JOB], 64, 'usage'],
    ['no such record', ['--limit-hz', '10-150', '--print', 'nowhere.json'], 66, 'file-not-found'],
  ])('%s', async (_, more, exitCode, code) => {
    const before = readFileSync(JOB);
    const run = await runCli([...WEAVE, '--out', at('woven.job'), ...more]);
    expect(run).toMatchObject({ exitCode, out: '' });
    expect(run.err).toContain(`(${code})`);
    expect(existsSync(at('woven.job'))).toBe(false);
    expect(readFileSync(JOB).equals(before)).toBe(true);
  });

  test('a woven file is not woven again, and an old result stays where a new one fails', async () => {
    const woven = at('woven.job');
    await runCli([...WEAVE, '--limit-hz', '10-150', '--out', woven]);
    writeFileSync(at('old.job'), 'old');
    const again = ['weave', woven, ...WEAVE.slice(2), '--limit-hz', '10-150', '--out', at('old.job')];
    expect(await runCli(again)).toMatchObject({ exitCode: 65, out: '' });
    expect(readFileSync(at('old.job'), 'utf8')).toBe('old');
    expect(readdirSync(at()).sort()).toEqual(['old.job', 'woven.job']);
  });
});
