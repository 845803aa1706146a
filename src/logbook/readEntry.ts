import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseEntry, type Entry, type EntryLine } from './entry.js';
import { HashTree } from './hashTree.js';
import type { Head } from './head.js';
import { NAMES } from './layout.js';
import { damaged, entryLines } from './logFile.js';
import { expectLogbook, unreadable } from './place.js';
import { missing } from './saveReading.js';

/** An entry with the reading that belongs to it. */
export interface StoredEntry {
  readonly entry: Entry;
  /** Where its files lie. */
  readonly folder: string;
  /** Content of reading.json as it was saved; absent in a note. */
  readonly reading?: unknown;
}

/**
 * What a logbook holds.
 * @param folder - Its folder.
 * @returns One line for each entry, in the order in which they were saved.
 * @throws {InputError} `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function listEntries(folder: string): readonly EntryLine[] {
  expectLogbook(folder);
  return [...entryLines(folder)];
}

/**
 * The head of a logbook: what is kept elsewhere to check it against later.
 * @param folder - Its folder.
 * @returns Head over all entries.
 * @throws {InputError} `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function logbookHead(folder: string): Head {
  expectLogbook(folder);
  const tree = new HashTree();
  for (const { leaf } of entryLines(folder)) tree.append(Buffer.from(leaf, 'hex'));
  return { size: tree.size, root: tree.root() };
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
 * All entries with their readings, one after the other, so that only one is in memory.
 * @param folder - The logbook's folder.
 * @returns Each entry, as it is.
 * @throws {InputError} `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function* storedEntries(folder: string): Generator<StoredEntry> {
  expectLogbook(folder);
  for (const line of entryLines(folder)) {
    yield stored(folder, join(folder, NAMES.entries, line.folder), line.number);
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
  const entry = parseEntry(bytesOf(join(folder, NAMES.entry)));
  if (entry === undefined) throw damaged(logbook, `entry ${String(number)} cannot be understood`);
  if (entry.reading === undefined) return { entry, folder };
  try {
    return {
      entry,
      folder,
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
