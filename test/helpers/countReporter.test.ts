import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';

const REPO = fileURLToPath(new URL('../..', import.meta.url));
const folders: string[] = [];

interface Run {
  readonly exitCode: number | null;
  /** Lines of the output that look like a closing line. */
  readonly counts: readonly string[];
  readonly stderr: string;
}

/** Runs vitest as a process on one small test file, with the reporter that this project uses. */
function runVitest(testFile: string): Run {
  const folder = mkdtempSync(join(tmpdir(), 'stillband-reporter-'));
  folders.push(folder);
  writeFileSync(join(folder, 'small.test.js'), testFile);
  const reporter = join(REPO, 'test/helpers/countReporter.ts');
  const config = { test: { globals: true, reporters: ['default', reporter] } };
  writeFileSync(join(folder, 'vitest.config.js'), `export default ${JSON.stringify(config)};`);
  const run = spawnSync(
    process.execPath,
    [join(REPO, 'node_modules/vitest/vitest.mjs'), 'run', '--root', folder],
    {
      encoding: 'utf8',
      // A run inside a run: nothing of the outer one may leak in.
      env: { PATH: process.env['PATH'], NO_COLOR: '1' },
    },
  );
  const counts = run.stdout
    .split(/\r?\n/)
    .filter((line) => /^\d+ passed, \d+ failed, \d+ skipped$/.test(line));
  return { exitCode: run.status, counts, stderr: run.stderr };
}

afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

describe('count reporter', { timeout: 20_000 }, () => {
  test('a run in which everything passes passes, and is counted', () => {
    const run = runVitest("test('a', () => {}); describe('inner', () => { test('b', () => {}); });");
    expect(run).toMatchObject({ exitCode: 0, counts: ['2 passed, 0 failed, 0 skipped'] });
  });

  test('a failed test fails the run', () => {
    const run = runVitest("test('a', () => {}); test('b', () => { expect(1).toBe(2); });");
    expect(run).toMatchObject({ exitCode: 1, counts: ['1 passed, 1 failed, 0 skipped'] });
  });

  test.each([
    ['a skipped test', "test('a', () => {}); test.skip('b', () => {});"],
    ['a test still to do', "test('a', () => {}); test.todo('b');"],
    ['a test skipped while it runs', "test('a', () => {}); test('b', (context) => { context.skip(); });"],
    ['a skipped group', "test('a', () => {}); describe.skip('inner', () => { test('b', () => {}); });"],
  ])('%s fails the run', (_, testFile) => {
    const run = runVitest(testFile);
    expect(run).toMatchObject({ exitCode: 1, counts: ['1 passed, 0 failed, 1 skipped'] });
    expect(run.stderr).toMatch(/skipped test fails the run/);
  });

  test('a file that cannot be loaded counts as failed', () => {
    const run = runVitest("throw new Error('no'); test('a', () => {});");
    expect(run).toMatchObject({ exitCode: 1, counts: ['0 passed, 1 failed, 0 skipped'] });
  });
});
