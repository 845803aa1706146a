import { closeSync, fsyncSync, mkdirSync, openSync, renameSync, writeSync } from 'node:fs';
import { dirname, resolve } from 'node:path';

/**
 * Writes a new file and waits until the disk has it.
 * @param path - A path where there is nothing yet.
 * @param data - Its content.
 * @throws {Error} The system's, as for a full disk.
 */
export function writeNew(path: string, data: string | Uint8Array): void {
  writeAt(path, data, 'wx');
}

/**
 * Adds to the end of a file and waits until the disk has it.
 * @param path - The file.
 * @param data - What to add.
 * @throws {Error} The system's, as for a full disk.
 */
export function appendTo(path: string, data: string): void {
  writeAt(path, data, 'a');
}

function writeAt(path: string, data: string | Uint8Array, flag: 'wx' | 'a'): void {
  const bytes = typeof data === 'string' ? Buffer.from(data) : data;
  const file = openSync(path, flag);
  try {
    // One call may write less than all of it.
    for (let at = 0; at < bytes.length;) at += writeSync(file, bytes, at);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

/**
 * Gives a file or folder its final name and waits until the disk has it.
 * @param from - Its path.
 * @param to - Its new path.
 * @param folder - The folder of the new path.
 * @throws {Error} The system's.
 */
export function moveTo(from: string, to: string, folder: string): void {
  renameSync(from, to);
  syncFolder(folder);
}

/**
 * Makes a folder where there is none.
 * @param path - Its path; the folders above it are made as well.
 * @throws {Error} The system's.
 */
export function makeFolder(path: string): void {
  const first = mkdirSync(path, { recursive: true });
  if (first === undefined) return;
  // Each new name must reach the disk, from the innermost folder up.
  const top = dirname(resolve(first));
  for (let above = dirname(resolve(path)); above.length >= top.length; above = dirname(above)) {
    syncFolder(above);
    if (above === dirname(above)) break;
  }
}

/**
 * Waits until the disk has the names in a folder.
 * @param path - The folder.
 * @throws {Error} The system's.
 */
export function syncFolder(path: string): void {
  // Windows opens no folder, and keeps names by its own journal.
  if (process.platform === 'win32') return;
  const folder = openSync(path, 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}
