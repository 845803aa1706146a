import { existsSync } from 'node:fs';
import { expect, test } from 'vitest';
import { photoPath } from '../helpers/measured.js';
import { runCli } from './ioForTests.js';

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
  [['measure', PHOTO, '--print', RECORD, '--note', 'x'], 64, 'usage'],
  [['measure', PHOTO, '--print', RECORD, '--save', '--logbook', RECORD], 66, 'logbook-missing'],
])('%j ends in %i, told as %s', async (args, exitCode, code) => {
  const run = await runCli(args);
  expect([run.exitCode, run.err.trimEnd().split('\n').at(-1)]).toEqual([exitCode, `(${code})`]);
  expect(run.out).toBe('');
  expect(existsSync('logbook')).toBe(false);
});
