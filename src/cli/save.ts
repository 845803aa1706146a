import type { Command } from 'commander';
import {
  checkLogbookPlace,
  InputError,
  saveReading,
  savedReport,
  type ReadingToSave,
  type Written,
} from '../index.js';
import type { Io } from './io.js';
import { listOf, LOGBOOK } from './lists.js';

/** What may be said of saving. */
export interface SaveOptions {
  readonly save?: boolean;
  readonly logbook?: string;
  readonly changed?: string;
  readonly note?: string;
  readonly keepPosition?: boolean;
  readonly json?: boolean;
}

/**
 * Adds the options that save a reading.
 * @param command - The command to fill.
 */
export function addSaveOptions(command: Command): void {
  command
    .option('--save', 'save reading and photos in a logbook; what tells the place is removed from the photos')
    .option('--logbook <dir>', `with --save: the logbook's folder, made on first use (default: "${LOGBOOK}")`)
    .option(
      '--changed <what>',
      'with --save: what was changed on the machine since before, several with commas: belt-tension,nozzle',
    )
    .option('--note <text>', 'with --save: a note')
    .option('--keep-position', 'with --save: store the photo as it is, with what it tells of the place');
}

/**
 * Checks what is said of saving, before anything is measured.
 * @param options - The options.
 * @throws {InputError} `usage`, `logbook-missing` or `logbook-unreadable`.
 */
export function checkSaveOptions(options: SaveOptions): void {
  if (options.save === true) {
    checkLogbookPlace(options.logbook ?? LOGBOOK);
    return;
  }
  const flags = ['logbook', 'changed', 'note', 'keepPosition'] as const;
  const unfit = flags.find((name) => options[name] !== undefined);
  if (unfit === undefined) return;
  throw new InputError(
    'usage',
    `--${unfit === 'keepPosition' ? 'keep-position' : unfit} is given without --save.`,
    'Add --save to keep the reading in a logbook, or leave the flag away.',
  );
}

/**
 * Saves a reading if that is asked for, and tells the result; a result that cannot be saved is told all the same.
 * @param options - The options.
 * @param io - The outside world.
 * @param what - Reading and photos.
 * @param tell - Writes the result, told where it is saved; returns the exit code.
 * @returns The exit code.
 * @throws {InputError} As `saveReading`, and what `tell` throws.
 */
export async function saved(
  options: SaveOptions,
  io: Io,
  what: Pick<ReadingToSave, 'reading' | 'photos' | 'asked'>,
  tell: (written?: Written) => Promise<number>,
): Promise<number> {
  if (options.save !== true) return tell();
  const folder = options.logbook ?? LOGBOOK;
  const { changed, note, keepPosition = false } = options;
  const more = {
    keepPosition,
    ...(changed === undefined ? {} : { changed: listOf(changed) }),
    ...(note === undefined ? {} : { note }),
  };
  let written: Written;
  try {
    written = await saveReading(folder, { ...what, ...more }, new Date());
  } catch (error) {
    // As JSON, the error takes the result's place on standard output.
    if (error instanceof InputError && options.json !== true) await tell();
    throw error;
  }
  try {
    return await tell(written);
  } finally {
    // Also where the result itself has no place: it is saved, and saving it again would make two of it.
    io.err(savedReport(written, folder));
  }
}
