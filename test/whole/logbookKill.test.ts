import { expect, test } from 'vitest';
import { stopTwo, stopWriters } from '../../scripts/logbook/kills.js';
import { randomOf } from '../logbook/corrupt.js';
import { tempFolder } from '../helpers/tempFolder.js';

const at = tempFolder('test');

// The whole figure, of 200 kills, is in docs/logbook.json.
test('a writer stopped at any moment leaves a whole logbook, without at most the entry that it was writing', async () => {
  const { failures, whileWriting, entries } = await stopWriters(at(), 20, randomOf(7));
  expect(failures).toEqual([]);
  // Else it was never stopped in the middle of anything.
  expect(whileWriting).toBeGreaterThan(5);
  expect(entries).toBeGreaterThan(5);
}, 180_000);

test('two processes write into one logbook, and nothing of either is lost', async () => {
  const { sizes, verification } = await stopTwo(at());
  const all = sizes.flat();
  expect(Math.min(...sizes.map((one) => one.length))).toBeGreaterThan(0);
  expect(new Set(all).size).toBe(all.length);
  expect([verification.findings, verification.verdicts.log]).toEqual([[], 'intact']);
  expect(verification.size).toBeGreaterThanOrEqual(Math.max(...all));
}, 60_000);
