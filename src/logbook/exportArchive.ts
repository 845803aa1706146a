import { randomUUID } from 'node:crypto';
import { createWriteStream, openSync, fsyncSync, closeSync, readdirSync, renameSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { ZipFile } from 'yazl';
import { InputError } from '../core/errors.js';
import { syncFolder } from './durable.js';
import { HashTree } from './hashTree.js';
import type { Head } from './head.js';
import { isOfFileManager, NAMES, README } from './layout.js';
import { damaged, entryLines, logLines } from './logFile.js';
import { codeOf, expectLogbook, expectOutside } from './place.js';

/** Files of an archive carry no time of their own: the same logbook gives the same archive. */
const TIME = new Date('2000-01-01T00:00:00Z');

/**
 * Writes a whole logbook into one ZIP file, which `verifyLogbook` takes like the folder. Entries that are saved meanwhile
 * are left out.
 * @param folder - The logbook's folder.
 * @param file - Path of the archive; it comes into being when it is whole.
 * @returns Head of the entries in it.
 * @throws {InputError} `usage`, `logbook-missing`, `logbook-damaged`, `logbook-unreadable` or `cannot-write`.
 */
export async function exportArchive(folder: string, file: string): Promise<Head> {
  expectLogbook(folder);
  expectOutside(folder, file);
  const zip = new ZipFile();
  const tree = new HashTree();
  const log: Buffer[] = [];
  const lines = logLines(folder);
  for (const line of entryLines(folder)) {
    const bytes = lines.next();
    if (bytes.done !== true) log.push(bytes.value);
    tree.append(Buffer.from(line.leaf, 'hex'));
    for (const name of filesIn(folder, line.folder)) {
      // Photos are packed already.
      const compress = name.endsWith('.json');
      zip.addFile(join(folder, NAMES.entries, line.folder, name), `${NAMES.entries}/${line.folder}/${name}`, {
        mtime: TIME,
        mode: 0o100444,
        compress,
      });
    }
  }
  const options = { mtime: TIME, mode: 0o100444 };
  zip.addBuffer(Buffer.concat(log), NAMES.log, options);
  zip.addBuffer(Buffer.from(README), NAMES.readme, options);
  const failed = new Promise<never>((_, reject) => {
    (zip as unknown as NodeJS.EventEmitter).once('error', reject);
  });
  const part = `${file}.${randomUUID()}.part`;
  try {
    zip.end();
    await Promise.race([pipeline(zip.outputStream, createWriteStream(part, { flags: 'wx' })), failed]);
    settle(part);
    renameSync(part, file);
    syncFolder(dirname(file));
  } catch (error) {
    rmSync(part, { force: true });
    throw notWritten(file, error);
  }
  return { size: tree.size, root: tree.root() };
}

function filesIn(folder: string, entry: string): readonly string[] {
  try {
    return readdirSync(join(folder, NAMES.entries, entry))
      .filter((name) => !isOfFileManager(name))
      .sort();
  } catch {
    throw damaged(folder, `the entry ${entry} is not there`);
  }
}

function settle(path: string): void {
  const file = openSync(path, 'r+');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

function notWritten(file: string, error: unknown): InputError {
  return new InputError(
    'cannot-write',
    `The archive cannot be written to ${file} (${codeOf(error)}).`,
    'Name a file in a folder that exists, that you may write to, and that has room for all photos.',
  );
}
