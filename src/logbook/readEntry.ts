import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { entryLeaf, parseEntry, type Entry } from './entry.js';
import type { EntryLine } from './entryLine.js';
import { NAMES } from './layout.js';
import { damaged, entryLines, missing } from './logFile.js';
import { expectLogbook, unreadable } from './place.js';

/** An entry with the reading that belongs to it. */
export interface StoredEntry {
  readonly entry: Entry;
  /** Where its files lie. */
  readonly folder: string;
  /** Hash of entry.json as it lies there, as a leaf of the log's tree. */
  readonly leaf: string;
  /** Content of reading.json as it was saved; absent in a note or a pair. */
  readonly reading?: unknown;
}

/**
 * One entry with its reading.
 * @param folder - The logbook's folder.
 * @param number - The entry's number.
 * @returns The entry, as it is; whether it is as it was saved is for `verify`.
 * @throws {InputError} `entry-missing`, `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function readEntry(folder: string, number: number): StoredEntry {
  expectLogbook(folder);
  let size = 0;
  for (const line of entryLines(folder)) {
    size += 1;
    if (line.number === number) return stored(folder, join(folder, NAMES.entries, line.folder), number);
  }
  throw missing(number, size);
}

/**
 * The two readings that a pair joins.
 * @param folder - The logbook's folder.
 * @param pair - What the pair's entry says.
 * @returns Their entries, by the names of their axes from left to right.
 * @throws {InputError} `logbook-damaged` where one is not the entry that the pair names; and as `readEntry`.
 */
export function readPair(
  folder: string,
  { axes: [left, right] }: NonNullable<Entry['pair']>,
): readonly [StoredEntry, StoredEntry] {
  const named = ({ number, leaf }: typeof left): StoredEntry => {
    const found = readEntry(folder, number);
    if (found.leaf === leaf) return found;
    throw damaged(folder, `entry ${String(number)} is not the one that its pair names`);
  };
  return [named(left), named(right)];
}

/**
 * All entries with their readings, one after the other, so that only one is in memory.
 * @param folder - The logbook's folder.
 * @param wanted - Which entries, by their lines; the files of others are not looked at. @default all
 * @returns Each entry, as it is.
 * @throws {InputError} `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function* storedEntries(
  folder: string,
  wanted: (line: EntryLine) => boolean = () => true,
): Generator<StoredEntry> {
  expectLogbook(folder);
  for (const line of entryLines(folder)) {
    if (wanted(line)) yield stored(folder, join(folder, NAMES.entries, line.folder), line.number);
  }
}

/**
 * A stored photo's file.
 * @param folder - The entry's folder.
 * @param file - Its name there.
 * @returns Its bytes, unchecked.
 * @throws {InputError} `logbook-unreadable`.
 */
export function storedPhoto(folder: string, file: string): Uint8Array {
  return bytesOf(join(folder, file));
}

function stored(logbook: string, folder: string, number: number): StoredEntry {
  const bytes = bytesOf(join(folder, NAMES.entry));
  const entry = parseEntry(bytes);
  if (entry === undefined) throw damaged(logbook, `entry ${String(number)} cannot be understood`);
  const leaf = entryLeaf(bytes);
  if (entry.reading === undefined) return { entry, folder, leaf };
  try {
    return {
      entry,
      folder,
      leaf,
      reading: JSON.parse(Buffer.from(bytesOf(join(folder, NAMES.reading))).toString('utf8')),
    };
  } catch (error) {
    if (error instanceof SyntaxError)
      throw damaged(logbook, `the reading of entry ${String(number)} is no JSON`);
    throw error;
  }
}

function bytesOf(path: string): Uint8Array {
  try {
    return readFileSync(path);
  } catch (error) {
    throw unreadable(path, error);
  }
}
