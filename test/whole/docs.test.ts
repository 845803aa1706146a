import { readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { measured, photoTruth, PHOTO_NAMES } from '../helpers/measured.js';
import { startServer } from '../helpers/runningServer.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const root = resolve(import.meta.dirname, '../..');
const readme = readFileSync(join(root, 'README.md'), 'utf8');
const at = tempFolder('file');

beforeAll(() => {
  // Commands write files beside them: they are run where only photos and examples can be seen.
  for (const folder of ['testimages', 'examples']) symlinkSync(join(root, folder), at(folder));
});

/** Splits a command line into words; double quotes keep spaces. */
function words(line: string): string[] {
  return [...line.matchAll(/"([^"]*)"|(\S+)/g)].map((match) => match[1] ?? match[2] ?? '');
}

const ran = new Map<string, Promise<string>>();

/** What a printed `stillband …` line prints. Text that shows a line again needs no second run of it. */
async function runLine(line: string): Promise<string> {
  const printed = ran.get(line) ?? runTheLine(line);
  ran.set(line, printed);
  return printed;
}

/** Runs a printed `stillband …` line as it stands; what it prints. */
async function runTheLine(line: string): Promise<string> {
  const [command = '', file] = line.split(' > ');
  const [program, ...args] = words(command);
  expect(program).toBe('stillband');
  if (args[0] === 'serve') return servedBy(args.slice(1));
  const { stdout, stderr, exitCode } = await runTool(args, { cwd: at() });
  expect(exitCode, `${line}\n${stderr}${stdout}`).toBe(0);
  // As a shell does: the result goes into a file, where the next command finds it.
  if (file !== undefined) writeFileSync(at(file), stdout);
  return stdout;
}

/** A server goes on until it is stopped; its usual port may be taken. */
async function servedBy(args: readonly string[]): Promise<string> {
  const server = await startServer([...args, '--port', '0'], at());
  expect((await fetch(server.address)).status).toBe(200);
  expect(await server.stop()).toBe(0);
  return server.address + server.stderr();
}

/** Lines of the README's shell blocks. */
const shellLines = [...readme.matchAll(/```sh\n([\s\S]*?)```/g)].flatMap((block) =>
  block[1]!.split('\n').filter((line) => line !== ''),
);
const commands = shellLines.filter((line) => line.startsWith('stillband '));

describe('README', () => {
  it('holds the two commands, each one line, and CI runs the second as printed', () => {
    expect(shellLines).toContain('npm ci && npm run demo');
    expect(shellLines).toContain('npm ci && npm test');
    const ci = readFileSync(join(root, '.ci/run'), 'utf8').split('\n');
    expect(ci.map((line) => line.trim())).toContain('npm ci && npm test');
  });

  it('prints no other kind of command', () => {
    const other = shellLines.filter(
      (line) => !line.startsWith('stillband ') && !line.startsWith('npm ci && '),
    );
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

describe('help', () => {
  it.each([
    '',
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
  ])('every example in the help of "%s" works as printed', async (command) => {
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
    expect(named).toEqual(
      expect.arrayContaining([
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
      ]),
    );
    for (const name of named) expect(readme).toMatch(new RegExp(`stillband ${name}|run ${name}`));
  });
});
