import { readFileSync, writeFileSync } from 'node:fs';
import { beforeEach, describe, expect, test } from 'vitest';
import { readingOf } from '../decide/fixtures.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { bareRefusal } from '../report/fixtures.js';
import { runCli } from './ioForTests.js';

const at = tempFolder('test');

beforeEach(() => {
  writeFileSync(at('y.json'), JSON.stringify(readingOf()));
  writeFileSync(at('x.json'), JSON.stringify(readingOf({ axis: 'X', hz: 52.3 })));
  writeFileSync(at('wide.json'), JSON.stringify(readingOf({ sd: 1.5 })));
  writeFileSync(at('refused.json'), JSON.stringify(bareRefusal()));
});

describe('decide', () => {
  test('takes the readings of both axes, limits, and writes cards', async () => {
    const files = ['--svg', at('d.svg'), '--png', at('d.png')];
    const run = await runCli(['decide', at('y.json'), at('x.json'), '--max-acceleration', '5000', ...files]);
    expect([run.exitCode, run.err]).toEqual([0, '']);
    expect(run.out).toMatch(/^Axis Y {3}enter ZV, 41\.0 Hz[\s\S]*^Axis X {3}enter ZV, 52\.3 Hz/m);
    expect(readFileSync(at('d.svg'), 'utf8')).toMatch(/^<svg /);
    // Source: RFC 2083: the signature of PNG.
    expect([...readFileSync(at('d.png')).subarray(0, 4)]).toEqual([0x89, 0x50, 0x4e, 0x47]);
  });

  test('--json is the decision, with every limit as told', async () => {
    const limits = [
      '--max-acceleration',
      '5000',
      '--max-rounding',
      '0.1',
      '--speed',
      '90',
      '--corner-speed',
      '0',
    ];
    const more = [
      '--slot',
      '1.5',
      '--families',
      'zv, 2 hump ei',
      '--load',
      '0.4',
      '--bed-mass',
      '1.1',
      '--bed-axis',
      'Y',
    ];
    const run = await runCli(['decide', at('y.json'), '--json', ...limits, ...more]);
    const decision = JSON.parse(run.out) as { limits: unknown; axes: { options: { family: string }[] }[] };
    expect(decision.limits).toEqual({
      families: ['ZV', '2-hump EI'],
      maxAccelerationMmPerS2: 5000,
      maxRoundingMm: 0.1,
      speedMmPerS: 90,
      cornerSpeedMmPerS: 0,
      slotMm: 1.5,
      load: { axis: 'Y', addedKg: 0.4, bedKg: 1.1 },
    });
    expect(decision.axes[0]!.options.map(({ family }) => family)).toEqual(['ZV', '2-hump EI']);
  });

  test('--all tells the other shapers', async () => {
    const [few, all] = await Promise.all([
      runCli(['decide', at('y.json')]),
      runCli(['decide', at('y.json'), '--all']),
    ]);
    expect(few.out).not.toContain('3-hump EI');
    expect(all.out).toContain('3-hump EI');
  });

  test.each([
    [['refused.json'], 3],
    [['wide.json', '--families', 'ZV'], 3],
    [['refused.json', 'x.json'], 0],
  ])('%j ends in %i', async (args, exitCode) => {
    const run = await runCli(['decide', ...args.map((arg) => (arg.endsWith('.json') ? at(arg) : arg))]);
    expect([run.exitCode, run.err]).toEqual([exitCode, '']);
  });

  test.each([
    [['--max-acceleration', '9'], /"9", which looks like m\/s² \(that would be 9000 mm\/s²\)/],
    [['--load', '500', '--bed-mass', '1.2', '--bed-axis', 'Y'], /are these kilograms\?/],
    [['--load', '0.5', '--bed-mass', '1200', '--bed-axis', 'Y'], /are these kilograms\?/],
  ])('%j is taken for another unit', async (args, says) => {
    const run = await runCli(['decide', at('y.json'), ...args]);
    expect([run.exitCode, run.out]).toEqual([64, '']);
    expect(run.err).toMatch(says);
  });

  test('a small rounding is told as it was', async () => {
    const limits = ['--max-acceleration', '5000', '--max-rounding', '0.0001'];
    expect((await runCli(['decide', at('y.json'), ...limits])).out).toMatch(/by over 0\.0001.mm/);
  });

  test.each([
    [['y.json', '--max-acceleration', '9.8'], 64, 'usage'],
    [['y.json', '--max-acceleration', 'fast'], 64, 'usage'],
    [['y.json', '--max-rounding', '0'], 64, 'usage'],
    [['y.json', '--speed', ''], 64, 'usage'],
    [['y.json', '--corner-speed', '-1'], 64, 'usage'],
    [['y.json', '--slot', 'Infinity'], 64, 'usage'],
    [['y.json', '--load', '1'], 64, 'usage'],
    [['y.json', '--load', '1', '--bed-mass', '1', '--bed-axis', 'Z'], 64, 'usage'],
    [['y.json', '--families', 'ZVX'], 64, 'usage'],
    [['y.json', '--families', ','], 64, 'usage'],
    [['y.json', '--png', 'y.json'], 64, 'usage'],
    [['y.json', 'y.json'], 65, 'readings-differ'],
    [['none.json'], 66, 'file-not-found'],
    [['3', '--logbook', 'none'], 66, 'logbook-missing'],
    [[], 64, 'usage'],
  ])('%j ends in %i, told as %s', async (args, exitCode, code) => {
    const run = await runCli(['decide', ...args.map((arg) => (/\.json$|^none$/.test(arg) ? at(arg) : arg))]);
    expect([run.exitCode, run.err.trimEnd().split('\n').at(-1)]).toEqual([exitCode, `(${code})`]);
    expect(run.out).toBe('');
  });
});

describe('after', () => {
  test('tells what to enter and how to prove it, as text and as JSON', async () => {
    const args = ['after', at('y.json'), at('x.json'), '--max-acceleration', '5000'];
    const run = await runCli(args);
    expect([run.exitCode, run.err]).toEqual([0, '']);
    expect(run.out).toMatch(/^enter {4}axis Y: ZV, 41\.0 Hz/);
    expect(run.out).toMatch(/--acceleration-bands "/);
    const json = JSON.parse((await runCli([...args, '--json'])).out) as { proof: { state: string } };
    expect(json.proof.state).toBe('planned');
  });

  test('of a refused reading is a refusal', async () => {
    const run = await runCli(['after', at('refused.json')]);
    expect([run.exitCode, run.err]).toEqual([3, '']);
    expect(run.out).toMatch(/^not yet /);
  });
});
