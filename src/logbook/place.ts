import { readdirSync, statSync } from 'node:fs';
import { resolve, sep } from 'node:path';
import { InputError } from '../core/errors.js';
import { isOfFileManager, NAMES, PART } from './layout.js';

/** Names that a logbook's own folder may hold. */
const OWN: readonly string[] = [NAMES.readme, NAMES.log, NAMES.entries, NAMES.lock];

/**
 * What lies at the place of a logbook.
 * @param folder - Its path.
 * @returns `nothing`, an `empty` folder, a `logbook`, or `other` things.
 * @throws {InputError} `logbook-unreadable` when it cannot be looked into.
 */
function kindOfPlace(folder: string): 'nothing' | 'empty' | 'logbook' | 'other' {
  let names: string[];
  try {
    if (!statSync(folder).isDirectory()) return 'other';
    names = readdirSync(folder).filter((name) => !isOfFileManager(name));
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return 'nothing';
    if (codeOf(error) === 'ENOTDIR') return 'other';
    throw unreadable(folder, error);
  }
  if (names.length === 0) return 'empty';
  if (names.includes(NAMES.log) || names.includes(NAMES.entries)) return 'logbook';
  // Somebody was stopped while making it.
  return names.every((name) => OWN.includes(name) || name.startsWith(PART)) ? 'logbook' : 'other';
}

/**
 * Makes sure that there is a logbook to read.
 * @param folder - Its path.
 * @throws {InputError} `logbook-missing` or `logbook-unreadable`.
 */
export function expectLogbook(folder: string): void {
  const kind = kindOfPlace(folder);
  if (kind === 'logbook') return;
  const found =
    kind === 'nothing'
      ? 'there is no such folder'
      : kind === 'empty'
        ? 'it is empty'
        : 'it is something else';
  throw new InputError(
    'logbook-missing',
    `There is no logbook at ${folder}: ${found}.`,
    'Name its folder with --logbook, or begin one by measuring a photo with --save.',
  );
}

/**
 * Makes sure that a logbook is there or can begin there.
 * @param folder - Its path.
 * @throws {InputError} `logbook-unreadable`, or `logbook-missing` where other things lie.
 */
export function checkLogbookPlace(folder: string): void {
  if (kindOfPlace(folder) !== 'other') return;
  throw new InputError(
    'logbook-missing',
    `A logbook cannot begin at ${folder}: there is something else.`,
    'Give --logbook a new or empty folder, or that of a logbook.',
  );
}

/**
 * Makes sure that a result does not come to lie in the logbook, to which it does not belong.
 * @param folder - The logbook.
 * @param file - Path of the result.
 * @throws {InputError} `usage`.
 */
export function expectOutside(folder: string, file: string): void {
  if (!resolve(file).startsWith(resolve(folder) + sep)) return;
  throw new InputError(
    'usage',
    `${file} would lie in the logbook itself, to which it does not belong.`,
    'Name a file outside it.',
  );
}

/**
 * The error of a logbook that the system does not let be read.
 * @param path - What was to be read.
 * @param error - What the system threw.
 * @returns Error `logbook-unreadable`.
 */
export function unreadable(path: string, error: unknown): InputError {
  return new InputError(
    'logbook-unreadable',
    `${path} cannot be read (${codeOf(error)}).`,
    'Check that you may read it, and that its disk works.',
  );
}

/**
 * The error of a logbook that cannot be written to.
 * @param folder - The logbook.
 * @param error - What the system threw.
 * @returns Error `cannot-write`.
 */
export function unwritable(folder: string, error: unknown): InputError {
  const code = codeOf(error);
  const why =
    code === 'ENOSPC' || code === 'EDQUOT'
      ? 'the disk is full'
      : code === 'EROFS' || code === 'EACCES' || code === 'EPERM'
        ? 'it may not be written to'
        : code;
  return new InputError(
    'cannot-write',
    `Nothing was saved in the logbook ${folder}: ${why}.`,
    'What was saved before is unharmed. Make room there or name another folder with --logbook, and save again.',
  );
}

/**
 * The code of a system's error.
 * @param error - What was thrown.
 * @returns Its code, like ENOSPC; for anything else its text.
 */
export function codeOf(error: unknown): string {
  return error instanceof Error && 'code' in error ? String(error.code) : String(error);
}
