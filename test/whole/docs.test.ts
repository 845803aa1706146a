import { readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { measured, photoTruth, PHOTO_NAMES } from '../helpers/measured.js';
import { printedCommands, shellLines } from '../helpers/printedCommands.js';
import { runTool } from '../helpers/runTool.js';

const root = resolve(import.meta.dirname, '../..');
const readme = readFileSync(join(root, 'README.md'), 'utf8');
const { runLine } = printedCommands();
const lines = shellLines(readme);
const commands = lines.filter((line) => line.startsWith('stillband '));

describe('README', () => {
  it('holds the two commands, each one line, and CI runs the second as printed', () => {
    expect(lines).toContain('npm ci && npm run demo');
    expect(lines).toContain('npm ci && npm test');
    const ci = readFileSync(join(root, '.ci/run'), 'utf8').split('\n');
    expect(ci.map((line) => line.trim())).toContain('npm ci && npm test');
  });

  it('prints no other kind of command', () => {
    const other = lines.filter((line) => !line.startsWith('stillband ') && !line.startsWith('npm ci && '));
    expect(other).toEqual([]);
    expect(commands.length).toBeGreaterThanOrEqual(5);
  });

  it.each(commands)('%s', async (line) => {
    expect((await runLine(line)).length).toBeGreaterThan(100);
  });

  const shown = [
    ...readme.matchAll(
      /(stillband (?:measure|compare|plan|decide|after) [^\n]*)\n```\n(?:(?!```)[\s\S])*?<!-- output of the command above[^\n]*\n\n```text\n([\s\S]*?)```/g,
    ),
  ];

  it('every report that it shows says which command prints it', () => {
    expect(shown).toHaveLength(readme.split('```text').length - 1);
    expect(shown.length).toBeGreaterThanOrEqual(2);
  });

  it.each(shown.map(([, command, report]) => [command!, report!]))(
    'shows the report that %s prints',
    async (command, report) => {
      expect(await runLine(command)).toBe(report);
    },
  );

  it('says that accuracy comes from drawn and ray-traced faces', () => {
    expect(readme).toMatch(/drawn and ray-traced faces/);
    expect(readme).toMatch(/Real prints have not been measured yet/);
  });
});

describe('testimages/README.md', () => {
  const told = readFileSync(join(root, 'testimages/README.md'), 'utf8');

  it.each(PHOTO_NAMES)('says of %s what the tool says', async (name) => {
    const { reading } = await measured(name);
    const [, refused, reason] = /`([\w-]+)` is refused as `([\w-]+)`/.exec(told)!;
    const { proposal } = reading;
    if (proposal.state === 'refused') expect([name, proposal.reason]).toEqual([refused, reason]);
    else {
      expect(name).not.toBe(refused);
      const truth = photoTruth(name).null!.best_fs_hz;
      const within = Number(/proposed within ([\d.]+) Hz of the truth/.exec(told)![1]);
      expectClose((proposal as { frequencyHz: { value: number } }).frequencyHz.value, truth, {
        abs: within,
        why: 'as the text says; truth of the ray tracer',
      });
    }
    const warned = /`([\w-]+)` shows\s+fewer than 40 px per ripple/.exec(told)![1];
    expect(reading.warnings.some(({ code }) => code === 'few-px-per-ripple')).toBe(name === warned);
  });
});

const COMMANDS = [
  'measure',
  'check',
  'card',
  'plan',
  'tower',
  'job',
  'weave',
  'compare',
  'decide',
  'after',
  'logbook',
  'serve',
  'demo',
];

describe('help', () => {
  it.each(['', ...COMMANDS])('every example in the help of "%s" works as printed', async (command) => {
    const { stdout } = await runTool([...(command === '' ? [] : [command]), '--help']);
    const examples = stdout.split('\n').filter((line) => line.trim().startsWith('$ '));
    expect(examples.length).toBeGreaterThan(0);
    for (const example of examples) {
      expect((await runLine(example.trim().slice(2))).length).toBeGreaterThan(100);
    }
  });

  it('every command has help and stands in the README', async () => {
    const { stdout } = await runTool(['--help']);
    const listed = [...stdout.matchAll(/^ {2}(\w+)/gm)].map((match) => match[1]!);
    const named = listed.filter((name) => !['help', 'stillband'].includes(name));
    expect(named).toEqual(expect.arrayContaining(COMMANDS));
    for (const name of named) expect(readme).toMatch(new RegExp(`stillband ${name}|run ${name}`));
  });
});
