import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { InputError } from '../core/errors.js';
import { sha256Hex } from '../core/sha256.js';
import { canonicalJson, jsonOf } from './canonical.js';
import { entryLeaf, parseEntry, type Entry } from './entry.js';
import { lineOf, type EntryLine } from './entryLine.js';
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

/** An entry that is not used, since it is not as it was saved or cannot be read. */
export interface DamagedEntry {
  readonly number: number;
  /** What is wrong with it, one sentence. */
  readonly damage: string;
}

/**
 * One entry with its reading, for use: its line, `entry.json` and `reading.json` vouch for each other by their hashes.
 * Against a log that was rewritten together with its sums only `verify` and a head kept elsewhere help.
 * @param folder - The logbook's folder.
 * @param number - The entry's number.
 * @returns The entry, as it was saved.
 * @throws {InputError} `entry-missing`, `logbook-missing`, `logbook-damaged` or `logbook-unreadable`.
 */
export function readEntry(folder: string, number: number): StoredEntry {
  return intact(folder, lineAt(folder, number));
}

/**
 * One entry as it lies there, to look at what has become of it: for use there is `readEntry`.
 * @param folder - The logbook's folder.
 * @param number - The entry's number.
 * @returns The entry; its hashes are not looked at.
 * @throws {InputError} As `readEntry`, where it cannot be understood.
 */
export function entryAsItLies(folder: string, number: number): StoredEntry {
  return stored(folder, lineAt(folder, number)).found;
}

/**
 * One entry with its reading, for what goes on without it.
 * @param folder - The logbook's folder.
 * @param line - The entry's line.
 * @returns The entry as it was saved, or why it is not used.
 * @throws Only what is no `InputError`.
 */
export function entryOrDamage(folder: string, line: EntryLine): StoredEntry | DamagedEntry {
  try {
    return intact(folder, line);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { number: line.number, damage: error.message };
  }
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
 * @returns Each entry as it was saved, or why it is not used.
 * @throws {InputError} `logbook-missing`, `logbook-unreadable`, or `logbook-damaged` where the log itself is.
 */
export function* storedEntries(
  folder: string,
  wanted: (line: EntryLine) => boolean = () => true,
): Generator<StoredEntry | DamagedEntry> {
  expectLogbook(folder);
  for (const line of entryLines(folder)) {
    if (wanted(line)) yield entryOrDamage(folder, line);
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

function lineAt(folder: string, number: number): EntryLine {
  expectLogbook(folder);
  let size = 0;
  for (const line of entryLines(folder)) {
    size += 1;
    if (line.number === number) return line;
  }
  throw missing(number, size);
}

function intact(logbook: string, line: EntryLine): StoredEntry {
  const { found, readingSha256 } = stored(logbook, line);
  const name = `entry ${String(line.number)}`;
  if (found.leaf !== line.leaf) throw damaged(logbook, `${name} is not as it was saved`);
  if (lineOf(found.entry, found.leaf) !== canonicalJson(line))
    throw damaged(logbook, `the line of ${name} in ${NAMES.log} is not what the entry says`);
  if (readingSha256 !== found.entry.reading?.sha256)
    throw damaged(logbook, `${name}'s reading is not as it was saved`);
  return found;
}

function stored(
  logbook: string,
  { folder: name, number }: EntryLine,
): { readonly found: StoredEntry; readonly readingSha256?: string } {
  const folder = join(logbook, NAMES.entries, name);
  const bytes = bytesOf(join(folder, NAMES.entry));
  const entry = parseEntry(bytes);
  if (entry === undefined) throw damaged(logbook, `entry ${String(number)} cannot be understood`);
  const leaf = entryLeaf(bytes);
  if (entry.reading === undefined) return { found: { entry, folder, leaf } };
  const text = bytesOf(join(folder, NAMES.reading));
  const reading = jsonOf(Buffer.from(text).toString('utf8'));
  if (reading === undefined) throw damaged(logbook, `the reading of entry ${String(number)} is no JSON`);
  return { found: { entry, folder, leaf, reading }, readingSha256: sha256Hex(text) };
}

function bytesOf(path: string): Uint8Array {
  try {
    return readFileSync(path);
  } catch (error) {
    throw unreadable(path, error);
  }
}
