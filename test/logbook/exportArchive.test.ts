import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { unzipSync, zipSync } from 'fflate';
import { beforeAll, expect, test } from 'vitest';
import { exportArchive } from '../../src/logbook/exportArchive.js';
import { listEntries, logbookHead } from '../../src/logbook/listEntries.js';
import { verifyLogbook } from '../../src/logbook/verifyLogbook.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { saveSample } from './sampleLogbook.js';

const at = tempFolder('file');

beforeAll(async () => {
  for (let number = 1; number <= 12; number += 1) await saveSample(at('log'), number);
  expect(await exportArchive(at('log'), at('log.zip'))).toEqual(logbookHead(at('log')));
});

test('the archive verifies by itself as the folder does, and is the same each time', async () => {
  const head = logbookHead(at('log'));
  const whole = await verifyLogbook(at('log.zip'), [head]);
  expect(whole).toEqual(await verifyLogbook(at('log'), [head]));
  expect([whole.size, whole.verdicts.log]).toEqual([12, 'intact']);
  await exportArchive(at('log'), at('again.zip'));
  expect(readFileSync(at('again.zip')).equals(readFileSync(at('log.zip')))).toBe(true);
  expect(readdirSync(at()).sort()).toEqual(['again.zip', 'log', 'log.zip']);
});

// Source: fflate, a ZIP library that has no part in writing or reading the archive.
test('any ZIP program gets out the folder, and a change in the archive is named', async () => {
  const files = unzipSync(readFileSync(at('log.zip')));
  for (const [name, bytes] of Object.entries(files)) {
    expect(readFileSync(at('log', name)).equals(bytes), name).toBe(true);
    mkdirSync(join(at('out', name), '..'), { recursive: true });
    writeFileSync(at('out', name), bytes);
  }
  const head = logbookHead(at('log'));
  expect((await verifyLogbook(at('out'), [head])).verdicts.log).toBe('intact');
  const folder = listEntries(at('log'))[4]!.folder;
  const reading = `entries/${folder}/reading.json`;
  const changed = Buffer.from(files[reading]!);
  changed[1000]! ^= 1;
  writeFileSync(
    at('changed.zip'),
    zipSync({ ...files, [reading]: changed, 'entries/000003-x/new.txt': changed }),
  );
  const { findings } = await verifyLogbook(at('changed.zip'), [head]);
  expect(findings.map(({ what, entry }) => [what, entry])).toEqual([
    ['added', 3],
    ['changed', 5],
  ]);
});

test('what is no archive, is cut, or cannot be written, is told', async () => {
  writeFileSync(at('cut.zip'), readFileSync(at('log.zip')).subarray(0, 20_000));
  writeFileSync(at('text.zip'), 'text');
  for (const name of ['cut.zip', 'text.zip']) {
    await expect(verifyLogbook(at(name))).rejects.toMatchObject({ code: 'logbook-unreadable' });
  }
  await expect(exportArchive(at('log'), at('none', 'log.zip'))).rejects.toMatchObject({
    code: 'cannot-write',
  });
  await expect(exportArchive(at('log'), at('log', 'x.zip'))).rejects.toMatchObject({ code: 'usage' });
  await expect(exportArchive(at('none'), at('x.zip'))).rejects.toMatchObject({ code: 'logbook-missing' });
});

test('an entry that is gone is told, and no archive is left', async () => {
  for (let number = 1; number <= 2; number += 1) await saveSample(at('gone'), number);
  rmSync(at('gone', 'entries', listEntries(at('gone'))[0]!.folder), { recursive: true });
  await expect(exportArchive(at('gone'), at('gone.zip'))).rejects.toMatchObject({ code: 'logbook-damaged' });
  expect(existsSync(at('gone.zip'))).toBe(false);
});
