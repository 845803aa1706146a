import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { canonicalJson } from '../../src/logbook/canonical.js';
import { takeLock } from '../../src/logbook/lock.js';
import { listEntries, logbookHead } from '../../src/logbook/listEntries.js';
import { readEntry } from '../../src/logbook/readEntry.js';
import { saveNote, saveReading } from '../../src/logbook/saveReading.js';
import { verifyLogbook } from '../../src/logbook/verifyLogbook.js';
import { savedReport } from '../../src/report/logbookReport.js';
import { proposedReading } from '../report/fixtures.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { saveFrequency, saveSample, tinyPhoto } from './sampleLogbook.js';

const at = tempFolder('test');
const sha256 = (data: string | Uint8Array) => createHash('sha256').update(data).digest('hex');
const NOW = new Date('2026-03-14T18:02:11.700Z');

function readingOf(photo: Uint8Array) {
  const reading = proposedReading();
  return { ...reading, photos: [{ ...reading.photos[0]!, sha256: sha256(photo) }] };
}

describe('an entry', () => {
  test('is a folder that people can read, and its files carry what was saved', async () => {
    const photo = tinyPhoto(1);
    const what = {
      reading: readingOf(photo),
      photos: [{ bytes: photo, name: 'tower 1.jpg' }],
      changed: ['belt-tension'],
      note: 'after new belts',
    };
    const { entry, head } = await saveReading(at('log'), what, NOW);
    expect(readdirSync(at('log')).sort()).toEqual(['README.txt', 'entries', 'log.jsonl']);
    const folder = '000001-2026-03-14-north-bench-3-Y';
    expect(readdirSync(at('log', 'entries'))).toEqual([folder]);
    const files = readdirSync(at('log', 'entries', folder)).sort();
    expect(files).toEqual([`${sha256(photo)}.jpg`, 'entry.json', 'reading.json'].sort());
    expect(readFileSync(at('log', 'entries', folder, 'reading.json'), 'utf8')).toBe(
      canonicalJson(what.reading),
    );
    expect(readFileSync(at('log', 'entries', folder, 'entry.json'), 'utf8')).toBe(canonicalJson(entry));
    expect(entry).toMatchObject({
      number: 1,
      machine: 'north bench 3',
      axis: 'Y',
      savedAt: '2026-03-14T18:02:11Z',
      changed: ['belt-tension'],
      note: 'after new belts',
      photos: [{ original: { sha256: sha256(photo), name: 'tower 1.jpg' }, removed: [] }],
      result: { state: 'proposed' },
    });
    // Source: RFC 6962, section 2.1: the root of one leaf is its hash.
    const leaf = sha256(Buffer.concat([Uint8Array.of(0), Buffer.from(canonicalJson(entry))]));
    expect(head).toEqual({ size: 1, root: leaf });
    expect(readEntry(at('log'), 1)).toEqual({
      entry,
      leaf,
      folder: at('log', 'entries', folder),
      reading: what.reading,
    });
    // No clock is in what is compared when it is measured again.
    expect(canonicalJson(what.reading)).not.toContain('18:02:11');
  });

  test('takes its number from the log, whatever the clock does', async () => {
    for (const [i, time] of ['2026-03-14', '2025-01-01', '2026-03-15', '1970-01-01'].entries()) {
      const { entry } = await saveNote(at('log'), { note: `at ${time}` }, new Date(time));
      expect(entry.number).toBe(i + 1);
    }
    expect(listEntries(at('log')).map(({ note }) => note)).toEqual([
      'at 2026-03-14',
      'at 2025-01-01',
      'at 2026-03-15',
      'at 1970-01-01',
    ]);
    expect((await verifyLogbook(at('log'))).findings).toEqual([]);
  });

  test('may be named as anything', async () => {
    const names = [
      '../../../../etc/name',
      'nörd 🖨️ bench',
      ' ',
      '名前',
      'a'.repeat(500),
      'CON',
      '-',
      '"; rm -rf /\n',
    ];
    for (const name of names) {
      const photo = tinyPhoto(names.indexOf(name));
      const reading = readingOf(photo);
      const told = {
        ...reading,
        printRecord: { ...reading.printRecord, machine: name, axis: name.slice(0, 3) },
      };
      await saveReading(at('log'), { reading: told, photos: [{ bytes: photo, name }] }, NOW);
    }
    const folders = readdirSync(at('log', 'entries')).sort();
    expect(folders[0]).toBe('000001-2026-03-14-etc-name');
    expect(folders[1]).toBe('000002-2026-03-14-nord-bench-nor');
    for (const folder of folders) expect(folder).toMatch(/^\d{6}[A-Za-z0-9-]{0,60}$/);
    expect(listEntries(at('log')).map(({ machine }) => machine)).toEqual(names);
    expect((await verifyLogbook(at('log'))).findings).toEqual([]);
    expect(readdirSync(at())).toEqual(['log']);
  });

  test('holds the photos that were measured, or is none', async () => {
    const wrong = { reading: readingOf(tinyPhoto(1)), photos: [{ bytes: tinyPhoto(2) }] };
    await expect(saveReading(at('log'), wrong, NOW)).rejects.toThrow(RangeError);
    expect(existsSync(at('log'))).toBe(false);
  });
});

describe('a note', () => {
  test('is an entry of its own, about an earlier one', async () => {
    await saveSample(at('log'), 1);
    const before = readFileSync(at('log', 'log.jsonl'), 'utf8');
    const { entry } = await saveNote(at('log'), { note: 'the belts were loose', about: 1 }, NOW);
    expect(entry).toMatchObject({ kind: 'note', number: 2, about: 1, machine: 'north bench 3', axis: 'Y' });
    expect(readFileSync(at('log', 'log.jsonl'), 'utf8').startsWith(before)).toBe(true);
    await expect(saveNote(at('log'), { note: 'x', about: 4 }, NOW)).rejects.toMatchObject({
      code: 'entry-missing',
    });
    expect(logbookHead(at('log')).size).toBe(2);
  });
});

describe('a place', () => {
  test('that holds something else, or nothing, is told from a logbook', async () => {
    writeFileSync(at('letter.txt'), 'x');
    await expect(saveNote(at(), { note: 'x' }, NOW)).rejects.toMatchObject({ code: 'logbook-missing' });
    await expect(saveNote(at('letter.txt'), { note: 'x' }, NOW)).rejects.toMatchObject({
      code: 'logbook-missing',
    });
    expect(readdirSync(at())).toEqual(['letter.txt']);
    for (const place of [at(), at('none'), at('letter.txt')]) {
      expect(() => listEntries(place)).toThrow(expect.objectContaining({ code: 'logbook-missing' }) as Error);
    }
  });

  test('with what a file manager leaves is a logbook all the same', async () => {
    mkdirSync(at('log'));
    writeFileSync(at('log', '.DS_Store'), 'x');
    await saveNote(at('log'), { note: 'x' }, NOW);
    expect((await verifyLogbook(at('log'))).findings).toEqual([]);
  });
});

describe('a damaged logbook', () => {
  test.each([
    [
      'a line that is cut',
      (folder: string) => {
        writeFileSync(join(folder, 'log.jsonl'), readFileSync(join(folder, 'log.jsonl')).subarray(0, -5));
      },
    ],
    [
      'a line that is edited',
      (folder: string) => {
        writeFileSync(
          join(folder, 'log.jsonl'),
          readFileSync(join(folder, 'log.jsonl'), 'utf8').replace('"number":2', '"number":3'),
        );
      },
    ],
    [
      'no log',
      (folder: string) => {
        rmSync(join(folder, 'log.jsonl'));
      },
    ],
    [
      'no entries',
      (folder: string) => {
        rmSync(join(folder, 'entries'), { recursive: true });
      },
    ],
    [
      'an edited last entry',
      (folder: string) => {
        const last = join(
          folder,
          'entries',
          readdirSync(join(folder, 'entries')).sort().at(-1)!,
          'entry.json',
        );
        writeFileSync(last, readFileSync(last, 'utf8').replace('north', 'south'));
      },
    ],
    [
      'an entry beyond its end',
      (folder: string) => {
        mkdirSync(join(folder, 'entries', '000009-x'));
      },
    ],
  ])('with %s gets no new entry', async (_, damage) => {
    for (let i = 1; i <= 3; i += 1) await saveSample(at('log'), i);
    damage(at('log'));
    const before = readdirSync(at('log'), { recursive: true }).sort();
    await expect(saveNote(at('log'), { note: 'x' }, NOW)).rejects.toMatchObject({ code: 'logbook-damaged' });
    expect(readdirSync(at('log'), { recursive: true }).sort()).toEqual(before);
  });
});

describe('the lock', () => {
  test('lets writers in one after the other, and none is lost', async () => {
    await Promise.all(Array.from({ length: 8 }, (_, i) => saveNote(at('log'), { note: String(i) }, NOW)));
    expect(new Set(listEntries(at('log')).map(({ note }) => note)).size).toBe(8);
    expect((await verifyLogbook(at('log'))).findings).toEqual([]);
    expect(existsSync(at('log', '.lock'))).toBe(false);
  });

  test('of a process that has ended is taken over, also when its number belongs to another one now', async () => {
    mkdirSync(at('log'));
    const holder = { pid: process.pid, began: 'long ago', host: hostname(), token: 'x' };
    for (const content of [
      JSON.stringify(holder),
      JSON.stringify({ ...holder, pid: 2 ** 22 + 1 }),
      'no lock',
    ]) {
      writeFileSync(at('log', '.lock'), content);
      const lock = await takeLock(at('log'), 100);
      expect([lock.afterCrash, lock.isHeld()]).toEqual([true, true]);
      lock.release();
      expect(readdirSync(at('log'))).toEqual([]);
    }
  });

  test('of a process that runs, or of another computer, is waited for and then told', async () => {
    mkdirSync(at('log'));
    const lock = await takeLock(at('log'), 100);
    await expect(takeLock(at('log'), 100)).rejects.toMatchObject({
      code: 'logbook-locked',
      message: expect.stringMatching(String(process.pid)) as string,
      advice: 'Try again when it is done.',
    });
    lock.release();
    // Where no /proc tells when a process began, its number alone does not show that it is the writer.
    for (const holder of [
      { pid: 1, began: 'x', host: 'elsewhere' },
      { pid: process.pid, began: 'unknown', host: hostname() },
    ]) {
      writeFileSync(at('log', '.lock'), JSON.stringify({ ...holder, token: 'x' }));
      await expect(takeLock(at('log'), 50)).rejects.toMatchObject({
        code: 'logbook-locked',
        advice: expect.stringMatching(/remove .*\.lock/) as string,
      });
    }
  });
});

test('what a stopped writer leaves is not seen, and the next writer clears it', async () => {
  for (let i = 1; i <= 3; i += 1) await saveSample(at('log'), i);
  const head = logbookHead(at('log'));
  const log = readFileSync(at('log', 'log.jsonl'));
  const cutFrom = log.lastIndexOf('\n', log.length - 2) + 1;
  const lock = JSON.stringify({ pid: 2 ** 22 + 1, began: 'x', host: hostname(), token: 'x' });
  // Stopped while the line was written, before it, and while the entry's files were.
  for (const cut of [cutFrom + 30, cutFrom, log.length]) {
    writeFileSync(at('log', 'log.jsonl'), log.subarray(0, cut));
    writeFileSync(at('log', '.lock'), lock);
    mkdirSync(at('log', '.part-1'), { recursive: true });
    writeFileSync(at('log', '.part-1', 'entry.json'), '{');
    const seen = listEntries(at('log')).length;
    expect(seen).toBe(cut === log.length ? 3 : 2);
    const { findings, notes, size } = await verifyLogbook(at('log'));
    expect({ findings, size }).toEqual({ findings: [], size: seen });
    expect(notes.length).toBeGreaterThan(0);
    // A head that was printed of the third entry is kept even so.
    expect((await verifyLogbook(at('log'), [head])).verdicts.log).toBe('intact');
    const { entry } = await saveNote(at('log'), { note: 'next' }, NOW);
    expect(entry.number).toBe(4);
    expect(readdirSync(at('log')).sort()).toEqual(['README.txt', 'entries', 'log.jsonl']);
    expect((await verifyLogbook(at('log'), [head])).findings).toEqual([]);
    rmSync(at('log', 'entries', readdirSync(at('log', 'entries')).sort().at(-1)!), { recursive: true });
  }
});

describe('what the logbook holds already', () => {
  test('is told of an axis that is spelt otherwise, on the same machine only', async () => {
    const notes = async (number: number, axis: string, machine?: string) =>
      (
        await saveFrequency(at('log'), number, {
          axis,
          hz: 41,
          ...(machine === undefined ? {} : { machine }),
        })
      ).notes;
    expect(await notes(1, 'Y')).toBeUndefined();
    expect(await notes(2, 'Y')).toBeUndefined();
    expect(await notes(3, 'X')).toBeUndefined();
    expect(await notes(4, 'y', 'south bench')).toBeUndefined();
    expect(await notes(5, 'y')).toEqual([
      'Entry 2 has the axis Y, this one y: a trend takes them for two. Spell them alike.',
    ]);
  });

  test('is told of a photo that is saved once more', async () => {
    await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    const written = await saveFrequency(at('log'), 1, { axis: 'Y', hz: 41 });
    expect(written.notes).toEqual(['The photo is in entry 1 as well: it is one measurement, not two.']);
    expect(savedReport(written, 'log')).toMatch(/^note +The photo is in entry 1 as well/m);
  });
});
