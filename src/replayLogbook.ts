import { sha256Hex } from './core/sha256.js';
import { InputError } from './core/errors.js';
import { differencesOf, type Difference } from './logbook/differences.js';
import type { Entry } from './logbook/entry.js';
import { listEntries, readEntry, storedPhoto, type StoredEntry } from './logbook/readEntry.js';
import type { Verification } from './logbook/verify.js';
import { measurePhoto } from './measurePhoto.js';
import { measureTogether, type PhotoToJoin } from './measureTogether.js';
import { parsePrintRecord } from './print/record.js';
import { readCard } from './readCard.js';
import type { JointReading } from './reading/jointSchema.js';
import type { Reading } from './reading/schema.js';
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
 * @param numbers - Which entries. @default all that have a reading
 * @returns For each entry whether the same came out, and what did not.
 * @throws {InputError} `entry-missing`, and as `readEntry`.
 */
export async function replayLogbook(folder: string, numbers?: readonly number[]): Promise<Replay> {
  const wanted = numbers ?? listEntries(folder).map(({ number }) => number);
  const entries: Replayed[] = [];
  for (const number of wanted) {
    const stored = readEntry(folder, number);
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
  return { ...verification, verdicts: { ...verification.verdicts, recomputed } };
}

async function replayEntry(stored: StoredEntry): Promise<Replayed> {
  const { entry, reading } = stored;
  const { number } = entry;
  const savedBy = versionOf(reading);
  try {
    const differences = differencesOf(reading, await measureAgain(stored));
    return { number, savedBy, state: differences.length === 0 ? 'equal' : 'different', differences };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { number, savedBy, state: 'unknown', why: error.message, differences: [] };
  }
}

async function measureAgain({ entry, folder, reading }: StoredEntry): Promise<Reading | JointReading> {
  const bytes = (entry.photos ?? []).map(({ file }) => intactPhoto(folder, file));
  const { asked = {} } = entry;
  const photos: PhotoToJoin[] = [];
  for (const [i, photo] of bytes.entries())
    photos.push(await toldOf(photo, singleOf(reading, entry, i), asked));
  const [one] = photos;
  if (one === undefined)
    throw new InputError('logbook-damaged', 'The entry has no photo.', 'Verify the logbook.');
  if (entry.kind === 'joint-reading')
    return measureTogether(photos, { cameraStill: asked.cameraStill ?? false });
  const { was, spacingOnly = false } = asked;
  return measurePhoto(one.bytes, one.record, {
    spacingOnly,
    recordFromCard: one.recordFromCard ?? false,
    ...(one.cardRead === undefined ? {} : { cardRead: one.cardRead }),
    ...(was === undefined
      ? {}
      : { was: { hz: was.hz, ...(was.plusMinusHz === undefined ? {} : { plusMinusHz: was.plusMinusHz }) } }),
  });
}

async function toldOf(
  bytes: Uint8Array,
  single: Loose,
  asked: NonNullable<Entry['asked']>,
): Promise<PhotoToJoin> {
  const use = { spacingOnly: asked.spacingOnly ?? false };
  const record = parsePrintRecord(JSON.stringify(single['printRecord']), use);
  const code = objectIn(objectIn(single, 'search'), 'cardCode');
  const recordFromCard = code['state'] === 'record';
  // A card that was looked at beside a record that was told is looked at again.
  const looked = code['state'] !== undefined && !recordFromCard;
  return { bytes, record, recordFromCard, ...(looked ? { cardRead: await readCard(bytes) } : {}) };
}

type Loose = Readonly<Record<string, unknown>>;

/** Only what is needed is asked for: a reading of an earlier version may have another form. */
function objectIn(value: unknown, key: string): Loose {
  const inner = typeof value === 'object' && value !== null ? (value as Loose)[key] : undefined;
  return typeof inner === 'object' && inner !== null ? (inner as Loose) : {};
}

function singleOf(reading: unknown, entry: Entry, i: number): Loose {
  const whole = reading as Loose;
  return entry.kind === 'joint-reading'
    ? objectIn(objectIn(objectIn(whole, 'photos'), String(i)), 'reading')
    : whole;
}

function versionOf(reading: unknown): string {
  const version = objectIn(reading, 'versions')['stillband'];
  return typeof version === 'string' ? version : 'unknown';
}

function intactPhoto(folder: string, file: string): Uint8Array {
  const bytes = storedPhoto(folder, file);
  if (sha256Hex(bytes) === file.slice(0, 64)) return bytes;
  throw new InputError('logbook-damaged', `The photo ${file} is not as it was saved.`, 'Verify the logbook.');
}
