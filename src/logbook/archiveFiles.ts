import { createHash } from 'node:crypto';
import { open, type Entry as ZipEntry, type ZipFile } from 'yauzl';
import { InputError } from '../core/errors.js';
import { MOST_SMALL, type FileSum, type LogbookFiles } from './files.js';
import { NAMES } from './layout.js';

/** A log of a million entries; one that claims more is no log. */
const MOST_LOG = 2 ** 29;

/**
 * The files of a logbook in a ZIP archive.
 * @param path - The archive.
 * @returns Access to its files, and what closes it.
 * @throws {InputError} `logbook-unreadable` when it is no ZIP file or holds a name twice.
 */
export async function filesOfArchive(path: string): Promise<LogbookFiles & { readonly close: () => void }> {
  const zip = await openZip(path);
  const entries = await entriesOf(zip, path);
  const log = await contentOf(zip, entries.get(NAMES.log), MOST_LOG);
  const parts = [...entries.keys()].map((name) => name.split('/'));
  const inside = new Map<string, string[]>();
  for (const [top, folder, ...rest] of parts) {
    if (top !== NAMES.entries || folder === undefined) continue;
    const names = inside.get(folder) ?? [];
    inside.set(folder, rest.length === 0 ? names : [...names, rest.join('/')]);
  }
  const lines = linesOf(log ?? Buffer.alloc(0));
  return {
    top: () => [...new Set(parts.map(([top = '']) => top))],
    entries: () => [...inside.keys()],
    inside: (folder) => inside.get(folder),
    small: (name) => contentOf(zip, entries.get(name), MOST_SMALL),
    sum: (name) => sumOf(zip, entries.get(name)),
    lines: () => lines,
    countLines: () => lines.filter((line) => line.at(-1) === 10).length,
    isLocked: () => false,
    close: () => {
      zip.close();
    },
  };
}

function openZip(path: string): Promise<ZipFile> {
  return new Promise((resolve, reject) => {
    open(path, { lazyEntries: true, autoClose: false }, (error, zip) => {
      if (error === null) resolve(zip);
      else reject(unreadable(path, error));
    });
  });
}

function entriesOf(zip: ZipFile, path: string): Promise<ReadonlyMap<string, ZipEntry>> {
  return new Promise((resolve, reject) => {
    const entries = new Map<string, ZipEntry>();
    zip.on('entry', (entry: ZipEntry) => {
      if (entries.has(entry.fileName)) reject(unreadable(path, new Error('a name stands there twice')));
      // A folder on its own is nothing.
      if (!entry.fileName.endsWith('/')) entries.set(entry.fileName, entry);
      zip.readEntry();
    });
    zip.once('end', () => {
      resolve(entries);
    });
    zip.once('error', (error: Error) => {
      reject(unreadable(path, error));
    });
    zip.readEntry();
  });
}

/** Goes through a file's content piece by piece; false when it cannot be read to its end. */
async function read(zip: ZipFile, entry: ZipEntry, take: (piece: Buffer) => void): Promise<boolean> {
  try {
    const stream = await new Promise<NodeJS.ReadableStream>((resolve, reject) => {
      zip.openReadStream(entry, (error, opened) => {
        if (error === null) resolve(opened);
        else reject(error);
      });
    });
    for await (const piece of stream) take(piece as Buffer);
    return true;
  } catch {
    return false;
  }
}

async function contentOf(
  zip: ZipFile,
  entry: ZipEntry | undefined,
  most: number,
): Promise<Buffer | undefined> {
  if (entry === undefined || entry.uncompressedSize > most) return undefined;
  const pieces: Buffer[] = [];
  return (await read(zip, entry, (piece) => pieces.push(piece))) ? Buffer.concat(pieces) : undefined;
}

async function sumOf(zip: ZipFile, entry: ZipEntry | undefined): Promise<FileSum | undefined> {
  if (entry === undefined) return undefined;
  const hash = createHash('sha256');
  let bytes = 0;
  const isWhole = await read(zip, entry, (piece) => {
    hash.update(piece);
    bytes += piece.length;
  });
  return isWhole ? { sha256: hash.digest('hex'), bytes } : undefined;
}

function linesOf(log: Buffer): readonly Buffer[] {
  const lines: Buffer[] = [];
  let from = 0;
  for (let end = log.indexOf(10); end >= 0; end = log.indexOf(10, from)) {
    lines.push(log.subarray(from, end + 1));
    from = end + 1;
  }
  return from < log.length ? [...lines, log.subarray(from)] : lines;
}

function unreadable(path: string, error: Error): InputError {
  return new InputError(
    'logbook-unreadable',
    `${path} is no ZIP archive that can be read (${error.message.replace(/\.$/, '')}).`,
    'Give the file that "stillband logbook export" wrote, or the folder of a logbook; copy it anew where it was cut.',
  );
}
