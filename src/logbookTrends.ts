import { InputError } from './core/errors.js';
import { axisTrends, pairGuard, type AxisTrend, type HistoryEntry } from './history/axisTrends.js';
import { readEntry, storedEntries } from './logbook/readEntry.js';
import { savePair, type PairToSave } from './logbook/savePair.js';
import type { Written } from './logbook/writeEntry.js';
import { anyReadingOf, type AnyReading } from './reading/jointSchema.js';

/** What a logbook tells of its machines over time. */
export interface LogbookTrends {
  readonly trends: readonly AxisTrend[];
  /** Entries whose reading has the form of another version, so that it says nothing here. */
  readonly passedOver: readonly string[];
  /** Why entries are not used that are not as they were saved, one sentence each. */
  readonly damaged: readonly string[];
}

/**
 * Follows each axis of each machine through a logbook.
 * @param folder - The logbook's folder.
 * @param only - One machine or one axis alone. @default all
 * @returns The trends, their values named like "entry 12".
 * @throws {InputError} As `storedEntries`.
 */
export function logbookTrends(
  folder: string,
  only: { readonly machine?: string; readonly axis?: string } = {},
): LogbookTrends {
  const { machine, axis } = only;
  const history: HistoryEntry[] = [];
  const passedOver: string[] = [];
  const damaged: string[] = [];
  // What names no machine counts for all.
  const isOf = (of: string | undefined): boolean =>
    machine === undefined || of === undefined || of === machine;
  for (const stored of storedEntries(folder, (line) => isOf(line.machine))) {
    if ('damage' in stored) {
      damaged.push(stored.damage);
      continue;
    }
    const { entry, reading } = stored;
    const name = nameOf(entry.number);
    const known = reading === undefined ? undefined : anyReadingOf(reading);
    if (reading !== undefined && known === undefined) passedOver.push(name);
    history.push({
      name,
      changes: entry.changed ?? [],
      ...(entry.machine === undefined ? {} : { machine: entry.machine }),
      ...(known === undefined ? {} : { reading: known }),
    });
  }
  const trends = axisTrends(history).filter(
    (trend) =>
      (machine === undefined || trend.machine === machine) && (axis === undefined || trend.axis === axis),
  );
  return { trends, passedOver, damaged };
}

/**
 * Joins the readings of two axes of a machine in an entry of its own, held against the machine's history.
 * @param folder - The logbook's folder.
 * @param what - The two readings.
 * @param now - The time to write down.
 * @returns The entry and the new head; the entry says whether the two look exchanged.
 * @throws {InputError} As `savePair`.
 */
export async function pairEntries(
  folder: string,
  what: Omit<PairToSave, 'exchanged'>,
  now: Date,
): Promise<Written> {
  const [a, b] = what.numbers;
  // Both are to be as they were saved: a pair is for good.
  const { machine } = readEntry(folder, a).entry;
  readEntry(folder, b);
  const { trends } = logbookTrends(folder, machine === undefined ? {} : { machine });
  const exchanged = pairGuard(trends, [nameOf(a), nameOf(b)])?.swapped === true;
  return savePair(folder, { ...what, exchanged }, now);
}

/**
 * The reading of an entry.
 * @param folder - The logbook's folder.
 * @param number - The entry.
 * @returns The reading as it was saved.
 * @throws {InputError} `readings-differ` where it has none, or one of another version's form; and as `readEntry`.
 */
export function readingOfEntry(folder: string, number: number): AnyReading {
  const { entry, reading } = readEntry(folder, number);
  const known = reading === undefined ? undefined : anyReadingOf(reading);
  if (known !== undefined) return known;
  throw new InputError(
    'readings-differ',
    `Entry ${String(number)} of the logbook ${reading === undefined ? `is a ${entry.kind}` : 'has a reading of another version'}.`,
    reading === undefined
      ? 'Give the number of an entry with a reading; "stillband logbook list" shows them.'
      : 'Measure its photo again, and save that.',
  );
}

function nameOf(number: number): string {
  return `entry ${String(number)}`;
}
