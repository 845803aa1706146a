import { beforeAll, describe, expect, test } from 'vitest';
import { parseHead, formatHead, type Head } from '../../src/logbook/head.js';
import { logbookHead } from '../../src/logbook/listEntries.js';
import { verifyLogbook } from '../../src/logbook/verifyLogbook.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { corrupt, fingerprint, isNamed } from './corrupt.js';
import { saveSample } from './sampleLogbook.js';

const ENTRIES = 60;
const CORRUPTIONS = 150;

const at = tempFolder('file');
const heads: Head[] = [];

beforeAll(async () => {
  for (let number = 1; number <= ENTRIES; number += 1) {
    const { head } = await saveSample(at('log'), number);
    heads.push(head);
  }
}, 60_000);

describe('a logbook as it was written', () => {
  test('is intact against every head that was ever printed of it', async () => {
    const { verdicts, findings, notes, heads: held, head, size } = await verifyLogbook(at('log'), heads);
    expect({ verdicts, findings, notes, size }).toEqual({
      verdicts: { photos: 'intact', log: 'intact', recomputed: 'unknown' },
      findings: [],
      notes: [],
      size: ENTRIES,
    });
    expect(held.every(({ state }) => state === 'fits')).toBe(true);
    expect(parseHead(head)).toEqual(heads.at(-1));
    expect(logbookHead(at('log'))).toEqual(heads.at(-1));
  });

  test('is not known to be complete without a head, and up to an older one', async () => {
    const alone = await verifyLogbook(at('log'));
    expect(alone.verdicts.log).toBe('unknown');
    expect(alone.findings).toEqual([]);
    const older = await verifyLogbook(at('log'), [heads[9]!]);
    expect([older.verdicts.log, older.uncovered]).toEqual(['intact', ENTRIES - 10]);
  });

  test('does not fit a head of another log, nor a longer one', async () => {
    const other = { size: 10, root: heads[20]!.root };
    const { verdicts, findings, heads: held } = await verifyLogbook(at('log'), [heads[3]!, other]);
    expect(verdicts.log).toBe('changed');
    expect(held.map(({ state }) => state)).toEqual(['fits', 'differs']);
    expect(findings).toMatchObject([{ what: 'rewritten', entry: 10 }]);
    expect(findings[0]!.text).toMatch(/between 5 and 10/);
    const longer = await verifyLogbook(at('log'), [{ size: ENTRIES + 2, root: heads[0]!.root }]);
    expect(longer.findings).toMatchObject([{ what: 'truncated', entry: ENTRIES + 1 }]);
    expect(longer.heads).toEqual([
      { head: formatHead({ size: ENTRIES + 2, root: heads[0]!.root }), state: 'log-shorter' },
    ]);
  });
});

// The whole figures, 300 of 200 entries, come from scripts/benchLogbook.ts; other seeds than its.
describe('whatever is done to it', () => {
  test(`is found and named, ${CORRUPTIONS} times`, async () => {
    const before = fingerprint(at('log'));
    const kinds = new Map<string, number>();
    const head = heads.at(-1)!;
    for (let seed = 1; seed <= CORRUPTIONS; seed += 1) {
      const done = corrupt(at('log'), seed);
      const found = await verifyLogbook(at('log'), [head]);
      done.undo();
      kinds.set(done.kind, (kinds.get(done.kind) ?? 0) + 1);
      const told = `seed ${seed}: ${done.kind} of ${done.files.join()} ${done.entries.join()}: ${JSON.stringify(found.findings.slice(0, 5))}`;
      expect(isNamed(done, found), told).toBe(true);
      // Naming everything would be naming nothing.
      const named = new Set(found.findings.map(({ entry, file }) => entry ?? file));
      expect(named.size, told).toBeLessThanOrEqual(3);
    }
    expect(fingerprint(at('log'))).toBe(before);
    expect(kinds.size).toBe(15);
  });
});
