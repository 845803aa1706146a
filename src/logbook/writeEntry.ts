import { randomUUID } from 'node:crypto';
import { existsSync, readdirSync, readFileSync, rmSync, statSync, truncateSync } from 'node:fs';
import { join } from 'node:path';
import { InputError } from '../core/errors.js';
import { canonicalJson } from './canonical.js';
import { appendTo, makeFolder, moveTo, syncFolder, writeNew } from './durable.js';
import { entryLeaf, parseEntry, type Entry } from './entry.js';
import { folderOf, lineOf } from './entryLine.js';
import { HashTree } from './hashTree.js';
import type { Head } from './head.js';
import { NAMES, numberOf, PART, README } from './layout.js';
import { takeLock, type Lock } from './lock.js';
import { countLines, damaged, entryLines, wholeBytes } from './logFile.js';
import { checkLogbookPlace, unwritable } from './place.js';

/** An entry before it has its place in the log. */
export type NewEntry = Omit<Entry, 'schema' | 'number' | 'before'>;

/** A file that belongs to an entry. */
export interface EntryFile {
  readonly name: string;
  readonly data: string | Uint8Array;
}

/** An entry that was written. */
export interface Written {
  readonly entry: Entry;
  /** Head of the log with it. */
  readonly head: Head;
  /** What the logbook held already that the user should know of, in sentences. */
  readonly notes?: readonly string[];
}

/** Where a log ends, to go on from there. */
interface LogEnd {
  readonly tree: HashTree;
  readonly last?: { readonly leaf: string; readonly folder: string; readonly number: number };
}

/**
 * Adds an entry at the end of a logbook, which is made where there is none. Whatever happens in between, the entry is
 * either there as a whole or not at all: it is written under another name, and the line that makes it count comes last.
 * @param folder - The logbook's folder.
 * @param make - Makes the entry from what the log holds so far.
 * @param files - The files that it names.
 * @returns The entry and the log's new head.
 * @throws {InputError} `logbook-missing`, `logbook-locked`, `logbook-damaged`, `logbook-unreadable` or `cannot-write`.
 */
export async function writeEntry(
  folder: string,
  make: (size: number) => NewEntry,
  files: readonly EntryFile[],
): Promise<Written> {
  checkLogbookPlace(folder);
  let lock: Lock | undefined;
  try {
    makeFolder(folder);
    lock = await takeLock(folder);
    begin(folder);
    clear(folder);
    if (lock.afterCrash) complete(folder);
    return append(folder, make, files, lock);
  } catch (error) {
    if (error instanceof InputError || error instanceof TypeError) throw error;
    throw unwritable(folder, error);
  } finally {
    lock?.release();
  }
}

/** Makes what a logbook consists of, as far as it is not there yet. */
function begin(folder: string): void {
  const entries = join(folder, NAMES.entries);
  if (!existsSync(entries)) {
    if (existsSync(join(folder, NAMES.log))) throw damaged(folder, `the folder ${NAMES.entries} is missing`);
    makeFolder(entries);
  }
  if (!existsSync(join(folder, NAMES.readme))) {
    const part = join(folder, PART + randomUUID());
    writeNew(part, README);
    moveTo(part, join(folder, NAMES.readme), folder);
  }
  if (existsSync(join(folder, NAMES.log))) return;
  if (readdirSync(entries).some((name) => numberOf(name) !== undefined)) {
    throw damaged(folder, `${NAMES.log} is missing`);
  }
  writeNew(join(folder, NAMES.log), '');
  syncFolder(folder);
}

/** Removes what a writer that was stopped has left behind; nobody else is writing now. */
function clear(folder: string): void {
  for (const name of readdirSync(folder)) {
    if (name.startsWith(PART)) rmSync(join(folder, name), { recursive: true, force: true });
  }
}

/** A writer was stopped after its entry had got its name, or while it wrote the line: the line is made whole. */
function complete(folder: string): void {
  const log = join(folder, NAMES.log);
  truncateSync(log, wholeBytes(folder));
  const size = countLines(folder);
  const entries = join(folder, NAMES.entries);
  const next = readdirSync(entries).filter((name) => numberOf(name) === size + 1);
  const [name, ...others] = next;
  if (name === undefined || others.length > 0) return;
  const data = readFileSync(join(entries, name, NAMES.entry));
  const entry = parseEntry(data);
  if (entry === undefined || folderOf(entry) !== name) return;
  appendTo(log, `${lineOf(entry, entryLeaf(data))}\n`);
}

function append(
  folder: string,
  make: (size: number) => NewEntry,
  files: readonly EntryFile[],
  lock: Lock,
): Written {
  const { tree, last } = endOf(folder);
  const entry: Entry = {
    schema: 'stillband/entry@1',
    ...make(tree.size),
    number: tree.size + 1,
    before: { root: tree.root(), ...(last === undefined ? {} : { last: last.leaf }) },
  };
  const name = folderOf(entry);
  const data = Buffer.from(canonicalJson(entry));
  const part = join(folder, PART + randomUUID());
  const entries = join(folder, NAMES.entries);
  const place = join(entries, name);
  const log = join(folder, NAMES.log);
  const logBytes = statSync(log).size;
  try {
    makeFolder(part);
    for (const file of [...files, { name: NAMES.entry, data }]) writeNew(join(part, file.name), file.data);
    syncFolder(part);
    if (!lock.isHeld())
      throw new InputError(
        'logbook-locked',
        `The lock of the logbook ${folder} was taken away.`,
        'Save again.',
      );
    moveTo(part, place, entries);
    const leaf = entryLeaf(data);
    appendTo(log, `${lineOf(entry, leaf)}\n`);
    tree.append(Buffer.from(leaf, 'hex'));
    return { entry, head: { size: tree.size, root: tree.root() } };
  } catch (error) {
    // No room for the line: as if the entry had never been. A full disk lets names be changed and files be cut.
    if (existsSync(place)) {
      truncateSync(log, logBytes);
      moveTo(place, part, folder);
    }
    rmSync(part, { recursive: true, force: true });
    throw error;
  }
}

/** Goes through the log to its end, and holds the last entry against it: nothing is added to a log that does not fit. */
function endOf(folder: string): LogEnd {
  const tree = new HashTree();
  let last: LogEnd['last'];
  let leafBefore: string | undefined;
  for (const line of entryLines(folder)) {
    if (last !== undefined) tree.append(Buffer.from(last.leaf, 'hex'));
    leafBefore = last?.leaf;
    last = line;
  }
  if (statSync(join(folder, NAMES.log)).size !== wholeBytes(folder))
    throw damaged(folder, `the last line of ${NAMES.log} is cut`);
  if (last === undefined) return { tree };
  const rootBefore = tree.root();
  tree.append(Buffer.from(last.leaf, 'hex'));
  const path = join(folder, NAMES.entries, last.folder, NAMES.entry);
  const data = existsSync(path) ? readFileSync(path) : undefined;
  const entry = data && parseEntry(data);
  const fits =
    data !== undefined &&
    entryLeaf(data) === last.leaf &&
    entry?.before.root === rootBefore &&
    entry.before.last === leafBefore;
  if (!fits) throw damaged(folder, `entry ${String(last.number)} does not fit the log`);
  const beyond = readdirSync(join(folder, NAMES.entries)).find((name) => (numberOf(name) ?? 0) > tree.size);
  if (beyond !== undefined) throw damaged(folder, `the entry ${beyond} is not in ${NAMES.log}`);
  return { tree, last };
}
