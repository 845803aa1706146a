import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { entryLeaf } from '../../src/logbook/entry.js';
import { exportArchive } from '../../src/logbook/exportArchive.js';
import { listEntries } from '../../src/logbook/listEntries.js';
import { readEntry, readPair } from '../../src/logbook/readEntry.js';
import { saveNote } from '../../src/logbook/saveReading.js';
import { verifyLogbook } from '../../src/logbook/verifyLogbook.js';
import { logbookTrends, pairEntries } from '../../src/logbookTrends.js';
import { replayLogbook } from '../../src/replayLogbook.js';
import { logbookList } from '../../src/report/logbookList.js';
import { pairReport } from '../../src/report/logbookReport.js';
import { sheetHtml } from '../../src/report/sheet/sheetHtml.js';
import { sheetOfEntry } from '../../src/sheetOfEntry.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { saveFrequency, saveRefusal } from './sampleLogbook.js';

const at = tempFolder('test');
const NOW = new Date('2026-03-14T18:02:11Z');

/** Four readings of one machine: Y 41 and X 52 Hz, twice each. */
async function machine(
  last: { readonly x: number; readonly y: number } = { x: 52.1, y: 41.1 },
): Promise<void> {
  await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
  await saveFrequency(at('log'), 2, { axis: 'X', hz: 52 });
  await saveFrequency(at('log'), 3, { axis: 'Y', hz: last.y });
  await saveFrequency(at('log'), 4, { axis: 'X', hz: last.x });
}

describe('a pair', () => {
  test('names both readings by number and hash, X at the left whatever comes first', async () => {
    await machine();
    const written = await pairEntries(at('log'), { numbers: [3, 4], note: 'after tuning' }, NOW);
    const lines = listEntries(at('log'));
    expect(written.entry.pair).toEqual({
      exchanged: false,
      axes: [
        { axis: 'X', number: 4, leaf: lines[3]!.leaf, result: lines[3]!.result },
        { axis: 'Y', number: 3, leaf: lines[2]!.leaf, result: lines[2]!.result },
      ],
    });
    expect(written.entry).toMatchObject({ kind: 'pair', machine: 'north bench 3', note: 'after tuning' });
    expect(lines[4]).toMatchObject({
      folder: '000005-2026-03-14-pair-north-bench-3',
      pair: written.entry.pair,
    });
    expect(logbookList(lines).split('\n')[5]).toMatch(
      /north bench 3 {2}X \+ Y {2}pair: axis X 52\.1\u2009Hz ± 0\.4 \(entry 4\), axis Y 41\.1\u2009Hz ± 0\.4 \(entry 3\) {3}"after tuning"$/,
    );
    expect(pairReport(written, 'log')).toMatch(
      /^Axis X +52\.1.*entry 4: it belongs to axis X alone\nAxis Y +41\.1.*entry 3: it belongs to axis Y alone\nsaved/,
    );
  });

  test('verifies, is exported, and is no value of its own in a trend', async () => {
    await machine();
    const before = logbookTrends(at('log')).trends;
    const { head } = await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    expect(logbookTrends(at('log'))).toEqual({ trends: before, passedOver: [], damaged: [] });
    expect((await verifyLogbook(at('log'), [head])).verdicts).toMatchObject({
      photos: 'intact',
      log: 'intact',
    });
    await exportArchive(at('log'), at('log.zip'));
    expect((await verifyLogbook(at('log.zip'), [head])).findings).toEqual([]);
  });

  test('stands for its two readings in a replay', async () => {
    await machine();
    await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    for (const name of readdirSync(at('log', 'entries'))) removePhoto(join(at('log', 'entries'), name));
    const { entries } = await replayLogbook(at('log'), [5]);
    expect(entries.map(({ number, state, why }) => [number, state, why])).toEqual([
      [4, 'unknown', expect.stringMatching(/^The photo [0-9a-f]{64}\.jpg is gone/)],
      [3, 'unknown', expect.stringMatching(/is gone/)],
    ]);
  });

  test('whose readings were changed since is told so', async () => {
    await machine();
    await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    const { pair } = readEntry(at('log'), 5).entry;
    expect(readPair(at('log'), pair!).map(({ entry }) => entry.number)).toEqual([4, 3]);
    const file = join(readEntry(at('log'), 4).folder, 'entry.json');
    const edited = readFileSync(file, 'utf8').replace('tower 4.jpg', 'tower 5.jpg');
    writeFileSync(file, edited);
    expect(() => readPair(at('log'), pair!)).toThrow(/entry 4 is not as it was saved/);
    // With its line put right as well, only the pair tells.
    const log = at('log', 'log.jsonl');
    const leaf = listEntries(at('log'))[3]!.leaf;
    const lines = readFileSync(log, 'utf8').split('\n');
    lines[3] = lines[3]!.replace(leaf, entryLeaf(Buffer.from(edited)));
    writeFileSync(log, lines.join('\n'));
    expect(() => readPair(at('log'), pair!)).toThrow(/entry 4 is not the one that its pair names/);
  });

  test.each([
    ['two of one axis', [1, 3], 'readings-differ', /both are of axis Y/],
    ['one reading twice', [1, 1], 'readings-differ', /both are of axis Y/],
    ['a note', [1, 6], 'readings-differ', /entry 6 is a note/],
    ['one axis spelt in two ways', [1, 7], 'readings-differ', /Y and y are one axis/],
    ['a refusal', [2, 8], 'readings-differ', /entry 8 has no frequency, it is a refusal/],
    ['another machine', [1, 5], 'readings-differ', /north bench 3 and south bench/],
    ['an entry that there is not', [1, 9], 'entry-missing', /no entry 9/],
  ] as const)('of %s is none, and nothing is saved', async (_, numbers, code, message) => {
    await machine();
    await saveFrequency(at('log'), 5, { axis: 'X', hz: 50, machine: 'south bench' });
    await saveNote(at('log'), { note: 'x' }, NOW);
    await saveFrequency(at('log'), 7, { axis: 'y', hz: 41 });
    await saveRefusal(at('log'), 8);
    await expect(pairEntries(at('log'), { numbers }, NOW)).rejects.toMatchObject({
      code,
      message: expect.stringMatching(message) as string,
    });
    expect(listEntries(at('log'))).toHaveLength(8);
  });
});

describe('the swap guard', () => {
  test.each([
    [{ x: 41.1, y: 52.1 }, true],
    [{ x: 52.1, y: 41.1 }, false],
    [{ x: 58, y: 47 }, false],
  ])('of a pair %j says %s', async (last, exchanged) => {
    await machine(last);
    const written = await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    expect(written.entry.pair!.exchanged).toBe(exchanged);
    const told = [pairReport(written, 'log'), logbookList(listEntries(at('log')))];
    for (const text of told) expect(/other way round|perhaps exchanged/.test(text)).toBe(exchanged);
    const { sheet } = await sheetOfEntry(at('log'));
    for (const { belongs } of sheet.sides) expect(belongs.includes('other way round')).toBe(exchanged);
  });

  test('says nothing of a machine without a history', async () => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 52 });
    await saveFrequency(at('log'), 2, { axis: 'X', hz: 41 });
    const { entry } = await pairEntries(at('log'), { numbers: [1, 2] }, NOW);
    expect(entry.pair!.exchanged).toBe(false);
  });
});

describe('the sheet of an entry', () => {
  test('has the numbers that were saved and the head, and says why it has no pictures', async () => {
    await machine();
    const { head } = await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    removePhoto(readEntry(at('log'), 3).folder);
    const made = await sheetOfEntry(at('log'), 3);
    expect(made).toMatchObject({
      number: 3,
      pictures: [
        { state: 'none', why: expect.stringMatching(/^The photo [0-9a-f]{64}\.jpg is gone/) as string },
      ],
      head: expect.stringContaining(head.root) as string,
    });
    const html = sheetHtml(made.sheet);
    expect(html).toMatch(/<h1>.*41\.1\s*Hz\s*±\s*0\.4<\/h1>/);
    expect(html).toContain(head.root);
    expect(html).toMatch(/none, since the stored photo cannot be measured again: The photo/);
    expect(html).not.toMatch(/data:image/);
    expect(html).not.toContain(at());
  });

  test('of a photo that gives other numbers now keeps those that were saved, and says so', async () => {
    await machine();
    // The photo is 1 × 1 px, so that no face is found in it now.
    const { sheet, pictures } = await sheetOfEntry(at('log'), 3);
    expect(pictures).toEqual([{ state: 'different' }]);
    const html = sheetHtml(sheet);
    expect(html).toMatch(/<h1>.*41\.1\s*Hz\s*±\s*0\.4<\/h1>/);
    expect(html).toMatch(/other numbers came out/);
  });

  test('is that of the last reading or pair unless another is named; a note has none', async () => {
    await machine();
    await saveNote(at('log'), { note: 'x' }, NOW);
    expect((await sheetOfEntry(at('log'))).number).toBe(4);
    await expect(sheetOfEntry(at('log'), 5)).rejects.toMatchObject({ code: 'readings-differ' });
    await pairEntries(at('log'), { numbers: [3, 4] }, NOW);
    const { number, sheet } = await sheetOfEntry(at('log'));
    expect([number, sheet.sides.map(({ axis }) => axis)]).toEqual([6, ['Axis X', 'Axis Y']]);
    // Each value is said with its axis in words, by a mark, and by its place.
    const [x, y] = sheet.sides;
    expect([x.belongs, y!.belongs]).toEqual([
      expect.stringMatching(/belongs to axis X/),
      expect.stringMatching(/belongs to axis Y/),
    ]);
    expect(x.mark.alt).toMatch(/arrow at right angles to it is axis X.*value of axis X: 52\.1\u2009Hz/);
  });
});

function removePhoto(folder: string): void {
  for (const name of readdirSync(folder)) if (name.endsWith('.jpg')) rmSync(join(folder, name));
}
