import { aboutPhoto, parseAnyReading, readingOfEntry, type AnyReading } from '../index.js';
import { readText } from './measure.js';

/**
 * Whether a word names an entry of a logbook rather than a file.
 * @param path - As given on the command line.
 * @param logbook - The logbook's folder, or undefined when none is given.
 * @returns True for a number, where there is a logbook.
 */
export function isEntry(path: string, logbook: string | undefined): boolean {
  return logbook !== undefined && /^\d{1,9}$/.test(path);
}

/**
 * Reads stored readings: files that `--json` wrote, or entries of a logbook.
 * @param paths - Files, or numbers of entries.
 * @param logbook - The logbook's folder, or undefined.
 * @returns The readings in that order.
 * @throws {InputError} When one is not there, or is no reading of this version.
 */
export async function readAll(
  paths: readonly string[],
  logbook: string | undefined,
): Promise<readonly AnyReading[]> {
  const readings: AnyReading[] = [];
  for (const path of paths) {
    readings.push(
      logbook !== undefined && isEntry(path, logbook)
        ? readingOfEntry(logbook, Number(path))
        : await aboutPhoto(path, async () => parseAnyReading(await readText(path))),
    );
  }
  return readings;
}
