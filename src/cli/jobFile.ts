import { open, stat } from 'node:fs/promises';
import { InputError, type Chunks, type JobField } from '../index.js';

/** One buffer serves a whole file, so that reading it leaves nothing behind to be cleared away. */
const CHUNK_BYTES = 256 * 1024;

/**
 * Opens a job file to be read piece by piece.
 * @param path - Its path.
 * @returns Gives its bytes from the start, each time anew; a piece holds until the next one is asked for.
 * @throws {InputError} `file-not-found` or `file-unreadable`.
 */
export async function openJob(path: string): Promise<() => Chunks> {
  const advice = "Give the path of the job's file.";
  const found = await stat(path).catch((error: unknown) => {
    const code = error instanceof Error && 'code' in error ? String(error.code) : String(error);
    const missing = code === 'ENOENT' || code === 'ENOTDIR';
    throw new InputError(
      missing ? 'file-not-found' : 'file-unreadable',
      `The job ${path} cannot be used: ${missing ? 'there is no such file' : `it cannot be read (${code})`}.`,
      advice,
    );
  });
  // A pipe could be read only once.
  if (!found.isFile()) {
    throw new InputError(
      'file-unreadable',
      `The job ${path} cannot be used: ${found.isDirectory() ? 'it is a folder' : 'it is no file'}.`,
      advice,
    );
  }
  return async function* () {
    try {
      const file = await open(path);
      try {
        const room = new Uint8Array(CHUNK_BYTES);
        for (;;) {
          const { bytesRead } = await file.read(room, 0, CHUNK_BYTES);
          if (bytesRead === 0) return;
          yield room.subarray(0, bytesRead);
        }
      } finally {
        await file.close();
      }
    } catch (error) {
      if (!(error instanceof Error && 'syscall' in error)) throw error;
      throw new InputError('file-unreadable', `The job ${path} cannot be read on.`, advice);
    }
  };
}

/**
 * What was typed for the fields that both job and weave have as flags.
 * @param options - The parsed options.
 * @param fields - The fields.
 * @returns Arguments by option name.
 */
export function typedOf(
  options: Readonly<Record<string, unknown>>,
  fields: readonly JobField[],
): Record<string, string> {
  const typed: Record<string, string> = {};
  for (const { name } of fields) {
    const value = options[name];
    if (typeof value === 'string') typed[name] = value;
  }
  return typed;
}
