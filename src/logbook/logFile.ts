import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { join } from 'node:path';
import { InputError } from '../core/errors.js';
import { parseLine, type EntryLine } from './entryLine.js';
import { NAMES } from './layout.js';
import { codeOf, unreadable } from './place.js';

const CHUNK = 65_536;
const NEWLINE = 10;

/**
 * The lines of a log, one after the other, so that memory does not grow with it.
 * @param folder - The logbook's folder.
 * @returns Each line with its end; the last may have none, where its writer was stopped. Nothing where there is no log.
 * @throws {InputError} `logbook-unreadable`.
 */
export function* logLines(folder: string): Generator<Buffer, undefined> {
  const path = join(folder, NAMES.log);
  let file: number;
  try {
    file = openSync(path, 'r');
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return undefined;
    throw unreadable(path, error);
  }
  try {
    // What is added meanwhile is not part of this look.
    let left = fstatSync(file).size;
    let rest = Buffer.alloc(0);
    while (left > 0) {
      const chunk = Buffer.alloc(Math.min(CHUNK, left));
      const count = readSync(file, chunk);
      if (count === 0) break;
      left -= count;
      const text = Buffer.concat([rest, chunk.subarray(0, count)]);
      let from = 0;
      for (let end = text.indexOf(NEWLINE); end >= 0; end = text.indexOf(NEWLINE, from)) {
        yield text.subarray(from, end + 1);
        from = end + 1;
      }
      rest = text.subarray(from);
    }
    if (rest.length > 0) yield rest;
  } catch (error) {
    throw error instanceof InputError ? error : unreadable(path, error);
  } finally {
    closeSync(file);
  }
  return undefined;
}

/**
 * How many whole lines a log has.
 * @param folder - The logbook's folder.
 * @returns Their count.
 * @throws {InputError} `logbook-unreadable`.
 */
export function countLines(folder: string): number {
  let count = 0;
  for (const line of logLines(folder)) if (line.at(-1) === NEWLINE) count += 1;
  return count;
}

/**
 * How long the log is without a last line that has no end.
 * @param folder - The logbook's folder.
 * @returns Bytes.
 * @throws {InputError} `logbook-unreadable`.
 */
export function wholeBytes(folder: string): number {
  let bytes = 0;
  for (const line of logLines(folder)) if (line.at(-1) === NEWLINE) bytes += line.length;
  return bytes;
}

/**
 * What the log tells of each entry. An entry counts from the moment when its line is whole.
 * @param folder - The logbook's folder.
 * @returns One line for each entry, in order.
 * @throws {InputError} `logbook-damaged` at the first line that is none; `logbook-unreadable`.
 */
export function* entryLines(folder: string): Generator<EntryLine, undefined> {
  let number = 0;
  for (const bytes of logLines(folder)) {
    if (bytes.at(-1) !== NEWLINE) return undefined;
    number += 1;
    const line = parseLine(bytes.toString('utf8'));
    if (line?.number !== number)
      throw damaged(folder, `line ${String(number)} of ${NAMES.log} is not as written`);
    yield line;
  }
  return undefined;
}

/**
 * The error of a logbook that is not as it was written.
 * @param folder - The logbook.
 * @param what - What was found, the end of a sentence.
 * @returns Error `logbook-damaged`.
 */
export function damaged(folder: string, what: string): InputError {
  return new InputError(
    'logbook-damaged',
    `The logbook ${folder} is not as it was written: ${what}.`,
    'See what else is changed with "stillband logbook verify", and bring back what was there from a copy.',
  );
}

/**
 * The error of an entry that there is not.
 * @param number - Its number.
 * @param size - How many entries there are.
 * @returns Error `entry-missing`.
 */
export function missing(number: number, size: number): InputError {
  return new InputError(
    'entry-missing',
    `The logbook has no entry ${String(number)}; it has ${String(size)}.`,
    'See their numbers with "stillband logbook list".',
  );
}
