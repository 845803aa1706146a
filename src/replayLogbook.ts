import { InputError } from './core/errors.js';
import type { Difference } from './core/differences.js';
import { differencesOf } from './logbook/differences.js';
import { listEntries } from './logbook/listEntries.js';
import { entryAsItLies, type StoredEntry } from './logbook/readEntry.js';
import type { Verification } from './logbook/verify.js';
import { measureStored, objectIn } from './measureStored.js';
import { VERSION } from './version.js';

/** What came of measuring an entry's photos again. */
export interface Replayed {
  readonly number: number;
  /** `unknown`: it could not be measured again. */
  readonly state: 'equal' | 'different' | 'unknown';
  /** Version that measured it when it was saved. */
  readonly savedBy: string;
  /** Why it is unknown, one sentence. */
  readonly why?: string;
  readonly differences: readonly Difference[];
}

/** What came of measuring a logbook again. */
export interface Replay {
  readonly schema: 'stillband/replay@1';
  /** The version that measured now. */
  readonly version: string;
  readonly entries: readonly Replayed[];
}

/**
 * Measures the stored photos of a logbook again with the present version, and compares with what was saved.
 * @param folder - The logbook's folder.
 * @param numbers - Which entries; a pair stands for both of its readings. @default all that have a reading
 * @returns For each entry whether the same came out, and what did not.
 * @throws {InputError} `entry-missing`, and as `entryAsItLies`.
 */
export async function replayLogbook(folder: string, numbers?: readonly number[]): Promise<Replay> {
  const wanted = new Set(numbers ?? listEntries(folder).map(({ number }) => number));
  // The readings of a pair stand for it; a set grows while it is gone through.
  for (const number of wanted)
    for (const one of entryAsItLies(folder, number).entry.pair?.axes ?? []) wanted.add(one.number);
  const entries: Replayed[] = [];
  for (const number of wanted) {
    const stored = entryAsItLies(folder, number);
    if (stored.reading !== undefined) entries.push(await replayEntry(stored));
  }
  return { schema: 'stillband/replay@1', version: VERSION, entries };
}

/**
 * A verification with the verdict of a replay in it.
 * @param verification - What was looked at.
 * @param replay - What was measured again.
 * @returns Both.
 */
export function withReplay(verification: Verification, { entries }: Replay): Verification {
  const is = (state: Replayed['state']): boolean => entries.some((entry) => entry.state === state);
  const recomputed = is('different')
    ? 'different'
    : is('unknown') || entries.length === 0
      ? 'unknown'
      : 'equal';
  const notMeasured = entries.flatMap(({ number, why }) =>
    why === undefined ? [] : [`Entry ${String(number)} cannot be measured again: ${why}`],
  );
  return {
    ...verification,
    verdicts: { ...verification.verdicts, recomputed },
    notes: [...verification.notes, ...notMeasured],
  };
}

async function replayEntry(stored: StoredEntry): Promise<Replayed> {
  const { entry, reading } = stored;
  const { number } = entry;
  const savedBy = versionOf(reading);
  try {
    const differences = differencesOf(reading, (await measureStored(stored)).reading);
    return { number, savedBy, state: differences.length === 0 ? 'equal' : 'different', differences };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { number, savedBy, state: 'unknown', why: error.message, differences: [] };
  }
}

function versionOf(reading: unknown): string {
  const version = objectIn(reading, 'versions')['stillband'];
  return typeof version === 'string' ? version : 'unknown';
}
