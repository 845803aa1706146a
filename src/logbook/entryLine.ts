import { canonicalJson, jsonOf } from './canonical.js';
import type { Entry } from './entry.js';

// Apart from the schema of entries, which takes longer to load than a whole list to read.

/** What a list tells of an entry; one line of `log.jsonl`. */
export type EntryLine = Pick<
  Entry,
  | 'number'
  | 'kind'
  | 'savedAt'
  | 'takenOn'
  | 'machine'
  | 'axis'
  | 'changed'
  | 'note'
  | 'about'
  | 'pair'
  | 'result'
> & {
  /** Hash of the entry as a leaf of the tree, hexadecimal. */
  readonly leaf: string;
  /** Name of its folder in `entries`. */
  readonly folder: string;
};

/** Longest name of a machine in a folder's name. */
const MOST_LETTERS = 40;

/**
 * The folder of an entry: `000012-2026-03-14-north-bench-3-Y`. It is for people; only the number counts.
 * @param entry - Of its content, what the name is made of.
 * @returns A name that every file system takes: letters a to z, digits and hyphens.
 */
export function folderOf(entry: Pick<Entry, 'number' | 'savedAt' | 'kind' | 'machine' | 'axis'>): string {
  const kind = entry.kind === 'note' || entry.kind === 'pair' ? entry.kind : '';
  const parts = [entry.savedAt.slice(0, 10), kind, entry.machine, entry.axis];
  const words = parts.map((part) => plainWords(part ?? '')).filter((part) => part !== '');
  return [String(entry.number).padStart(6, '0'), ...words].join('-');
}

function plainWords(text: string): string {
  return text
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .replaceAll(/[^A-Za-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, MOST_LETTERS)
    .replace(/-$/, '');
}

/**
 * The entry's line of `log.jsonl`, without its end.
 * @param entry - The entry.
 * @param leaf - Its leaf hash, hexadecimal.
 * @returns Canonical JSON.
 */
export function lineOf(entry: Entry, leaf: string): string {
  const { number, kind, savedAt, takenOn, machine, axis, changed, note, about, pair, result } = entry;
  const line: EntryLine = {
    leaf,
    folder: folderOf(entry),
    number,
    kind,
    savedAt,
    ...(takenOn === undefined ? {} : { takenOn }),
    ...(machine === undefined ? {} : { machine }),
    ...(axis === undefined ? {} : { axis }),
    ...(changed === undefined ? {} : { changed }),
    ...(note === undefined ? {} : { note }),
    ...(about === undefined ? {} : { about }),
    ...(pair === undefined ? {} : { pair }),
    ...(result === undefined ? {} : { result }),
  };
  return canonicalJson(line);
}

/**
 * Reads a line of `log.jsonl`.
 * @param text - The line.
 * @returns What it tells, or undefined when it is no such line.
 */
export function parseLine(text: string): EntryLine | undefined {
  const raw = jsonOf(text);
  if (typeof raw !== 'object' || raw === null) return undefined;
  const { leaf, folder, number } = raw as Readonly<Record<string, unknown>>;
  const isLine =
    typeof leaf === 'string' &&
    /^[0-9a-f]{64}$/.test(leaf) &&
    typeof folder === 'string' &&
    // It becomes part of a path.
    /^\d{6,9}[A-Za-z0-9-]*$/.test(folder) &&
    typeof number === 'number';
  return isLine ? (raw as EntryLine) : undefined;
}
