import type { EntryLine } from './entryLine.js';
import { HashTree } from './hashTree.js';
import type { Head } from './head.js';
import { entryLines } from './logFile.js';
import { expectLogbook } from './place.js';

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
