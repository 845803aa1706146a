import { createHash } from 'node:crypto';
import { closeSync, fstatSync, openSync, readdirSync, readFileSync, readSync } from 'node:fs';
import { join } from 'node:path';
import { isOfFileManager, NAMES } from './layout.js';
import { isLocked } from './lock.js';
import { countLines, logLines } from './logFile.js';
import { codeOf, unreadable } from './place.js';

/** A file's hash and length. */
export interface FileSum {
  readonly sha256: string;
  readonly bytes: number;
}

/** A logbook as `verify` looks at it: a folder, or an archive of one. Names are relative, with `/`. */
export interface LogbookFiles {
  /** Names in the logbook's folder. */
  readonly top: () => readonly string[];
  /** Names of the entries' folders. */
  readonly entries: () => readonly string[];
  /** Names in an entry's folder; undefined when it is no folder. */
  readonly inside: (folder: string) => readonly string[] | undefined;
  /** A small file; undefined when there is none, or it is no file or too long to be one of ours. */
  readonly small: (name: string) => Promise<Buffer | undefined>;
  /** Hash of a file of any length; undefined when there is none, or it cannot be read. */
  readonly sum: (name: string) => Promise<FileSum | undefined>;
  /** Lines of the log with their ends. */
  readonly lines: () => Iterable<Buffer>;
  readonly countLines: () => number;
  /** Somebody is writing, or was stopped while writing. */
  readonly isLocked: () => boolean;
}

/** An entry, or a README, is no longer than this. */
export const MOST_SMALL = 2 ** 20;
const BUFFER = 2 ** 18;

/**
 * The files of a logbook's folder. Reading does not wait for anything else: for many small files that is twice as quick,
 * and nothing else is going on.
 * @param folder - The logbook's folder.
 * @returns Access to its files.
 */
export function filesOfFolder(folder: string): LogbookFiles {
  const buffer = Buffer.alloc(BUFFER);
  const names = (path: string): readonly string[] | undefined => {
    try {
      return readdirSync(path).filter((name) => !isOfFileManager(name));
    } catch (error) {
      if (['ENOENT', 'ENOTDIR'].includes(codeOf(error))) return undefined;
      throw unreadable(path, error);
    }
  };
  return {
    top: () => names(folder) ?? [],
    entries: () => names(join(folder, NAMES.entries)) ?? [],
    inside: (name) => names(join(folder, NAMES.entries, name)),
    small: (name) => Promise.resolve(smallFile(join(folder, name))),
    sum: (name) => Promise.resolve(sumOf(join(folder, name), buffer)),
    lines: () => logLines(folder),
    countLines: () => countLines(folder),
    isLocked: () => isLocked(folder),
  };
}

function smallFile(path: string): Buffer | undefined {
  try {
    const file = openSync(path, 'r');
    try {
      const { size } = fstatSync(file);
      return size > MOST_SMALL ? undefined : readFileSync(file);
    } finally {
      closeSync(file);
    }
  } catch {
    return undefined;
  }
}

/**
 * Hash of a file, read piece by piece.
 * @param path - The file.
 * @param buffer - To read into.
 * @returns Hash and length, or undefined when it cannot be read.
 */
function sumOf(path: string, buffer: Buffer): FileSum | undefined {
  try {
    const file = openSync(path, 'r');
    try {
      const hash = createHash('sha256');
      let bytes = 0;
      for (;;) {
        const count = readSync(file, buffer, 0, buffer.length, null);
        if (count === 0) return { sha256: hash.digest('hex'), bytes };
        hash.update(count === buffer.length ? buffer : buffer.subarray(0, count));
        bytes += count;
      }
    } finally {
      closeSync(file);
    }
  } catch {
    return undefined;
  }
}
