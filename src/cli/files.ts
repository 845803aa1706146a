import { randomUUID } from 'node:crypto';
import { readFile, readlink, realpath, rename, rm, stat, writeFile } from 'node:fs/promises';
import { basename, dirname, isAbsolute, join, resolve } from 'node:path';

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
  /** Pieces are made while they are written; an error of theirs is thrown, and nothing is left of the file. */
  readonly data: string | Uint8Array | AsyncIterable<Uint8Array>;
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

/** More links in a row than any system follows: POSIX asks for 8, Linux follows 40 (from memory). */
const MOST_LINKS = 40;

/**
 * Writes all of some files or none: to temporary names beside them, which are renamed once all are written.
 * A link stays and the file behind it is written; what is no file (a pipe, a device) is written directly.
 * @param files - What to write where.
 * @returns Undefined, or what went wrong.
 * @throws What the pieces of a file throw that are no system's error.
 */
export async function writeAll(files: readonly NewFile[]): Promise<FileProblem | undefined> {
  const suffix = `.${randomUUID()}.part`;
  const renamed: { readonly path: string; readonly temporary: string; readonly place: string }[] = [];
  const direct: NewFile[] = [];
  let at = '';
  try {
    for (const file of files) {
      at = file.path;
      const kind = await kindOf(at);
      // A folder would be noticed at the renaming only, when other files are there already.
      if (kind === 'folder') return await givenUp('EISDIR');
      if (kind === 'stream') {
        direct.push(file);
        continue;
      }
      const place = await behindLinks(at);
      renamed.push({ path: at, temporary: place + suffix, place });
      await writeFile(place + suffix, file.data);
    }
    // What has gone into a pipe cannot be taken back: only when nothing but the renaming can fail.
    for (const file of direct) {
      at = file.path;
      await writeFile(at, file.data);
    }
    for (const { path, temporary, place } of renamed) {
      at = path;
      await rename(temporary, place);
    }
    return undefined;
  } catch (error) {
    const problem = await givenUp(codeOf(error));
    // A system's error has a number; what makes the pieces has its own.
    if (error instanceof Error && !('errno' in error)) throw error;
    return problem;
  }

  async function givenUp(code: string): Promise<FileProblem> {
    // Where the place itself is at fault, there is nothing to remove either.
    await Promise.all(renamed.map(({ temporary }) => rm(temporary, { force: true }).catch(() => undefined)));
    return { path: at, kind: 'unwritable', detail: detailOf(code, 'written') };
  }
}

/**
 * Whether a file is there that a result would take the place of.
 * @param path - Path of the result.
 * @returns True for a file; false where there is none, or a folder, a pipe or a device.
 */
export async function isThere(path: string): Promise<boolean> {
  return stat(path).then(
    (found) => found.isFile(),
    () => false,
  );
}

/**
 * Where a path leads, whatever it is written like: two paths of one file give the same place.
 * @param path - Path of a file that may not exist yet.
 * @returns Its place with links followed, or its absolute path when there is no such folder either.
 */
export async function placeOf(path: string): Promise<string> {
  try {
    return await realpath(path);
  } catch {
    const place = await behindLinks(path);
    return realpath(dirname(place)).then(
      (folder) => join(folder, basename(place)),
      () => resolve(path),
    );
  }
}

/** The path behind a link, even of one that leads to a file that is not there yet. */
async function behindLinks(path: string): Promise<string> {
  let place = path;
  for (let links = 0; links < MOST_LINKS; links += 1) {
    const target = await readlink(place).catch(() => undefined);
    if (target === undefined) break;
    // Not shortened: in a linked folder `..` is not what it looks like.
    place = isAbsolute(target) ? target : `${dirname(place)}/${target}`;
  }
  return place;
}

async function kindOf(path: string): Promise<'folder' | 'stream' | 'file' | 'nothing'> {
  try {
    const found = await stat(path);
    if (found.isDirectory()) return 'folder';
    return found.isFile() ? 'file' : 'stream';
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return 'nothing';
    throw error;
  }
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
