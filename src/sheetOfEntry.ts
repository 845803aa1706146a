import { InputError } from './core/errors.js';
import { differencesOf } from './logbook/differences.js';
import { formatHead } from './logbook/head.js';
import { listEntries, logbookHead } from './logbook/listEntries.js';
import { readEntry, readPair, type StoredEntry } from './logbook/readEntry.js';
import { makePairSheet, makeSheet, type MeasuredForSheet } from './makeSheet.js';
import { measureStored } from './measureStored.js';
import { anyReadingOf } from './reading/jointSchema.js';
import type { PicturesFrom } from './report/sheet/provenance.js';
import type { Sheet } from './report/sheet/sheet.js';

/** The sheet of an entry. */
export interface EntrySheet {
  readonly number: number;
  readonly sheet: Sheet;
  /** Of each reading on it, where its pictures come from; empty without pictures. */
  readonly pictures: readonly PicturesFrom[];
  /** The logbook's head that stands on it. */
  readonly head: string;
}

/**
 * Makes the sheet of an entry of a logbook. Every number on it is as it was saved; its pictures come from measuring the
 * stored photo again, and where that cannot be done the sheet has none and says why.
 * @param folder - The logbook's folder.
 * @param number - The entry: a reading or a pair. @default the last of these
 * @param withPictures - Whether its photo is measured again, which takes some seconds. @default true
 * @returns The sheet.
 * @throws {InputError} `entry-missing`; `readings-differ` for a note, or a reading of another version's form; and as `readEntry`.
 */
export async function sheetOfEntry(
  folder: string,
  number?: number,
  withPictures = true,
): Promise<EntrySheet> {
  const stored = readEntry(folder, number ?? lastWithSheet(folder));
  const { entry } = stored;
  const head = formatHead(logbookHead(folder));
  const name = String(entry.number);
  if (entry.pair === undefined) {
    const told = await measuredOf(stored, { entry: name, head }, withPictures);
    return { number: entry.number, sheet: await makeSheet(told), pictures: sources([told]), head };
  }
  const { exchanged } = entry.pair;
  const [left, right] = readPair(folder, entry.pair);
  const of = async (one: StoredEntry) =>
    measuredOf(
      one,
      { entry: `${String(one.entry.number)}, joined with the other axis in ${name}`, head },
      withPictures,
      exchanged,
    );
  const [x, y] = [await of(left), await of(right)];
  return {
    number: entry.number,
    sheet: await makePairSheet(x, y),
    pictures: sources([x, y]),
    head,
  };
}

function sources(told: readonly MeasuredForSheet[]): readonly PicturesFrom[] {
  return told.flatMap(({ picturesFrom }) => picturesFrom ?? []);
}

function lastWithSheet(folder: string): number {
  const last = listEntries(folder).findLast(({ kind }) => kind !== 'note');
  if (last !== undefined) return last.number;
  throw new InputError(
    'entry-missing',
    'The logbook has no reading yet.',
    'Measure a photo with --save first.',
  );
}

async function measuredOf(
  stored: StoredEntry,
  logbook: NonNullable<MeasuredForSheet['logbook']>,
  withPictures: boolean,
  exchanged = false,
): Promise<MeasuredForSheet> {
  const { entry } = stored;
  const reading = anyReadingOf(stored.reading);
  if (reading === undefined) {
    const isNote = stored.reading === undefined;
    throw new InputError(
      'readings-differ',
      `Entry ${String(entry.number)} has no sheet: it ${isNote ? `is a ${entry.kind}` : 'has a reading of another version'}.`,
      isNote
        ? 'Give the number of an entry with a reading; "stillband logbook list" shows them.'
        : 'Measure its photo again, and save that.',
    );
  }
  const names = (entry.photos ?? []).map(({ original }, i) => original.name ?? `photo ${String(i + 1)}`);
  const told = { reading, logbook, exchanged, photoNames: names };
  if (!withPictures) return told;
  try {
    const { reading: now, view } = await measureStored(stored);
    const isEqual = differencesOf(stored.reading, now).length === 0;
    return { ...told, view, picturesFrom: { state: isEqual ? 'equal' : 'different' } };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { ...told, picturesFrom: { state: 'none', why: error.message } };
  }
}
