import { randomUUID } from 'node:crypto';
import { readFile, realpath, rename, rm, stat, writeFile } from 'node:fs/promises';
import { resolve } from 'node:path';

/** A file that cannot be read or written, before it becomes an error with a code. */
export interface FileProblem {
  readonly path: string;
  readonly kind: 'missing' | 'unreadable' | 'unwritable';
  /** The end of a sentence. */
  readonly detail: string;
}

/** What to write where. */
export interface NewFile {
  readonly path: string;
  readonly data: string | Uint8Array;
}

/**
 * Reads a whole file.
 * @param path - Path of the file.
 * @returns Its bytes, or what is wrong with it.
 */
export async function readWhole(path: string): Promise<Uint8Array | FileProblem> {
  try {
    return await readFile(path);
  } catch (error) {
    const code = codeOf(error);
    const missing = code === 'ENOENT' || code === 'ENOTDIR';
    return { path, kind: missing ? 'missing' : 'unreadable', detail: detailOf(code, 'read') };
  }
}

/**
 * Writes all of some files or none: to temporary names beside them, which are renamed once all are written.
 * @param files - What to write where.
 * @returns Undefined, or what went wrong.
 */
export async function writeAll(files: readonly NewFile[]): Promise<FileProblem | undefined> {
  const suffix = `.${randomUUID()}.part`;
  const temporary = ({ path }: NewFile) => path + suffix;
  let at = files[0]?.path ?? '';
  try {
    for (const file of files) {
      at = file.path;
      // A folder would be noticed at the renaming only, when other files are there already.
      if (await isFolder(at)) return await givenUp('EISDIR');
      await writeFile(temporary(file), file.data);
    }
    for (const file of files) {
      at = file.path;
      await rename(temporary(file), at);
    }
    return undefined;
  } catch (error) {
    return await givenUp(codeOf(error));
  }

  async function givenUp(code: string): Promise<FileProblem> {
    // Where the place itself is at fault, there is nothing to remove either.
    await Promise.all(files.map((file) => rm(temporary(file), { force: true }).catch(() => undefined)));
    return { path: at, kind: 'unwritable', detail: detailOf(code, 'written') };
  }
}

/**
 * Where a path leads, whatever it is written like: two paths of one file give the same place.
 * @param path - Path of a file that may not exist yet.
 * @returns Its place with links followed, or its absolute path when there is nothing there.
 */
export async function placeOf(path: string): Promise<string> {
  return realpath(path).catch(() => resolve(path));
}

async function isFolder(path: string): Promise<boolean> {
  return stat(path).then(
    (found) => found.isDirectory(),
    () => false,
  );
}

function detailOf(code: string, done: 'read' | 'written'): string {
  switch (code) {
    case 'ENOENT':
    case 'ENOTDIR':
      return done === 'read' ? 'there is no such file' : 'there is no such folder';
    case 'EISDIR':
      return 'it is a folder';
    default:
      return `it cannot be ${done} (${code})`;
  }
}

function codeOf(error: unknown): string {
  return error instanceof Error && 'code' in error ? String(error.code) : String(error);
}
