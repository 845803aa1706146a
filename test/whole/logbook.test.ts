import { spawn } from 'node:child_process';
import {
  chmodSync,
  chownSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  writeFileSync,
} from 'node:fs';
import { describe, expect, test } from 'vitest';
import { dirname, join, resolve } from 'node:path';
import { photoPath } from '../helpers/measured.js';
import { BIN, runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const at = tempFolder('test');
const PHOTO = photoPath('white-card.jpg');
const RECORD = photoPath('white-card.print.json');

const logbook = (...args: readonly string[]) => runTool(['logbook', ...args, '--logbook', at('log 🖨️')]);

describe('measure --save', () => {
  test('keeps the reading, and every command of the logbook tells of it', async () => {
    const save = [
      '--save',
      '--logbook',
      at('log 🖨️'),
      '--changed',
      'belt-tension, nozzle',
      '--note',
      'first',
      '--machine',
      'north bench 3',
    ];
    const run = await runTool(['measure', PHOTO, '--print', RECORD, ...save]);
    expect([run.exitCode, run.stdout.split('\n')[0]]).toEqual([
      0,
      expect.stringMatching(/^Axis Y {3}41\.0 Hz/),
    ]);
    const [, head] = /^head +(1-[0-9a-f]{64}-\w{4})$/m.exec(run.stderr)!;
    expect(run.stderr).toMatch(/removed from the photo: nothing/);

    const list = await logbook('list');
    expect(list.stdout).toMatch(
      / 1 {2}\d{4}-\d\d-\d\d {2}2026-03-13 {2}north bench 3 {2}Y +41\.0\u2009Hz ± 0\.4 {3}changed: belt-tension, nozzle {3}"first"\n/,
    );
    const show = await logbook('show', '1');
    expect(show.stdout).toContain(run.stdout);
    const stored = JSON.parse((await logbook('show', '1', '--json')).stdout) as {
      reading: unknown;
      entry: { photos: readonly { file: string }[] };
      folder: string;
    };
    expect(readFileSync(`${stored.folder}/${stored.entry.photos[0]!.file}`).equals(readFileSync(PHOTO))).toBe(
      true,
    );
    expect((await logbook('head')).stdout).toBe(`${head!}\n`);

    const note = await logbook('note', 'tightened again', '--about', '1');
    expect(note.stdout).toMatch(/entry 2 of the logbook/);
    const good = await logbook('verify', '--head', head!);
    expect(good.exitCode).toBe(0);
    expect(good.stdout).toMatch(
      /^verdict +no difference found in 2 entries\nphotos +intact.*\nlog +intact against the head given\nrecomputed unknown/,
    );
    expect((await logbook('verify')).exitCode).toBe(0);

    const archive = await logbook('export', at('log.zip'));
    expect(archive.stdout).toMatch(/^exported +2 entries/);
    const alone = await runTool(['logbook', 'verify', '--logbook', at('log.zip'), '--head', head!]);
    expect([alone.exitCode, alone.stdout]).toEqual([0, good.stdout]);

    writeFileSync(
      `${stored.folder}/reading.json`,
      readFileSync(`${stored.folder}/reading.json`, 'utf8').replace('"axis":"Y"', '"axis":"X"'),
    );
    const bad = await logbook('verify', '--head', head!);
    expect(bad.exitCode).toBe(1);
    expect(bad.stdout).toMatch(/^changed +entry 1, entries\/000001-[^/]*\/reading\.json: Its bytes are not/m);
    // That the same comes out of what was not changed is tested by the README's command.
    const again = await logbook('verify', '--replay');
    expect(again.exitCode).toBe(1);
    expect(again.stdout).toMatch(/^recomputed different/m);
    expect(again.stdout).toMatch(/axis: "Y" then, "X" now/);
    const json = JSON.parse((await logbook('verify', '--json')).stdout) as { verdicts: unknown };
    expect(json.verdicts).toEqual({ photos: 'intact', log: 'changed', recomputed: 'unknown' });
  });
});

/** Runs the command as somebody who may not write everywhere, which root may. */
function runAsOther(args: readonly string[]): Promise<{ exitCode: number; stderr: string }> {
  const isRoot = process.getuid?.() === 0;
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [BIN, ...args], {
      stdio: ['ignore', 'ignore', 'pipe'],
      ...(isRoot ? { uid: 65_534, gid: 65_534 } : {}),
    });
    let stderr = '';
    child.stderr.setEncoding('utf8').on('data', (text: string) => (stderr += text));
    child.on('error', reject);
    child.on('close', (code) => {
      resolve({ exitCode: code ?? -1, stderr });
    });
  });
}

/** Runs the command with no file allowed to be longer than some KB, as a disk that is full all but that. */
function runWithLittleRoom(
  kilobytes: number,
  args: readonly string[],
): Promise<{ exitCode: number; stderr: string }> {
  return new Promise((resolve, reject) => {
    // POSIX: ulimit -f counts blocks of 512 bytes in sh, and the system call then fails with EFBIG.
    const child = spawn('sh', [
      '-c',
      `ulimit -f ${2 * kilobytes} && exec "$@"`,
      'sh',
      process.execPath,
      BIN,
      ...args,
    ]);
    let stderr = '';
    child.stderr.setEncoding('utf8').on('data', (text: string) => (stderr += text));
    child.on('error', reject);
    child.on('close', (code) => {
      resolve({ exitCode: code ?? -1, stderr });
    });
  });
}

describe('where nothing can be written', () => {
  test('a folder that may not be written to is told, and loses nothing', async () => {
    await logbook('note', 'one');
    const folder = at('log 🖨️');
    // The test's own folder is made for its owner alone.
    chmodSync(at(), 0o755);
    if (process.getuid?.() === 0) chownSync(at(), 0, 0);
    else for (const name of [folder, `${folder}/entries`]) chmodSync(name, 0o555);
    const run = await runAsOther(['logbook', 'note', 'two', '--logbook', folder]);
    chmodSync(folder, 0o755);
    chmodSync(`${folder}/entries`, 0o755);
    expect([run.exitCode, run.stderr]).toEqual([
      73,
      expect.stringMatching(/Nothing was saved.*may not be written to[\s\S]*\(cannot-write\)/),
    ]);
    expect((await logbook('verify')).stdout).toMatch(/no difference found in 1 entry/);
  });

  test('no room for the line of an entry takes the entry back', async () => {
    const long = 'x'.repeat(600);
    for (let i = 0; i < 2; i += 1) await logbook('note', long);
    const before = readdirSync(at('log 🖨️'), { recursive: true }).sort();
    // The log is longer than a KB by now; what is written beside it is not.
    const run = await runWithLittleRoom(1, ['logbook', 'note', 'no room', '--logbook', at('log 🖨️')]);
    expect([run.exitCode, run.stderr]).toEqual([
      73,
      expect.stringMatching(/Nothing was saved[\s\S]*\(cannot-write\)/),
    ]);
    expect(readdirSync(at('log 🖨️'), { recursive: true }).sort()).toEqual(before);
    expect((await logbook('verify')).stdout).toMatch(/no difference found in 2 entries/);
    expect((await logbook('note', 'room again')).stdout).toMatch(/entry 3 /);
  });

  test('a logbook cannot begin where other things lie', async () => {
    mkdirSync(at('log 🖨️'));
    writeFileSync(at('log 🖨️', 'letter.txt'), 'x');
    const run = await logbook('note', 'x');
    expect([run.exitCode, existsSync(at('log 🖨️', 'entries'))]).toEqual([66, false]);
  });
});

/** Packages that a built file needs before it runs, with those that its own imports need. */
function packagesOf(file: string, seen = new Set<string>()): ReadonlySet<string> {
  const found = new Set<string>();
  if (seen.has(file)) return found;
  seen.add(file);
  for (const [, name = ''] of readFileSync(file, 'utf8').matchAll(
    /^(?:import|export) [^;]*?from '([^']+)';/gm,
  )) {
    if (name.startsWith('.')) for (const one of packagesOf(join(dirname(file), name), seen)) found.add(one);
    else if (!name.startsWith('node:')) found.add(name);
  }
  return found;
}

test('what a list needs loads no schema and nothing that measures', () => {
  const built = resolve(import.meta.dirname, '../../dist');
  expect([...packagesOf(join(built, 'logbookIndex.js'))]).toEqual(['canonicalize']);
  expect([...packagesOf(join(built, 'cli/logbook.js'))].sort()).toEqual(['canonicalize', 'picocolors']);
  // Otherwise the search itself would be what finds nothing.
  expect(packagesOf(join(built, 'index.js'))).toContain('zod');
});
