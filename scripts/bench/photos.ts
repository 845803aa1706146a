import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Hz } from '../../src/core/units.js';
import { parsePrintRecord, type PrintRecord } from '../../src/print/record.js';

const FOLDER = fileURLToPath(new URL('../../testimages/', import.meta.url));

/** A photo of testimages that has a print record. */
export interface Photo {
  readonly name: string;
  readonly path: string;
  readonly recordPath: string;
  readonly bytes: Uint8Array;
}

/** What was simulated, as far as accuracy is judged by it. */
export interface Truth {
  /** Ladder frequency at which ringing vanishes; undefined where the shaper was off. */
  readonly nullHz: Hz | undefined;
  /** Frequency of the ringing itself. */
  readonly dampedHz: Hz;
}

/**
 * Reads all photos that have a print record.
 * @returns By name.
 */
export function readPhotos(): readonly Photo[] {
  const names = readdirSync(FOLDER)
    .filter((file) => file.endsWith('.print.json'))
    .map((file) => file.replace('.print.json', ''));
  return names.sort().map((name) => {
    const path = `${FOLDER}${name}.jpg`;
    return { name, path, recordPath: `${FOLDER}${name}.print.json`, bytes: readFileSync(path) };
  });
}

/**
 * Reads a photo's print record, corners included.
 * @param photo - The photo.
 */
export function readRecord(photo: Photo): PrintRecord {
  return parsePrintRecord(readFileSync(photo.recordPath, 'utf8'));
}

/**
 * Reads what was simulated.
 * @param photo - The photo.
 */
export function readTruth(photo: Photo): Truth {
  const told = JSON.parse(readFileSync(`${FOLDER}${photo.name}.truth.json`, 'utf8')) as {
    readonly null: { readonly best_fs_hz: Hz } | null;
    readonly f_d_hz: Hz;
  };
  return { nullHz: told.null?.best_fs_hz, dampedHz: told.f_d_hz };
}
