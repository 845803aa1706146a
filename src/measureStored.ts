import { InputError } from './core/errors.js';
import { sha256Hex } from './core/sha256.js';
import type { Entry } from './logbook/entry.js';
import { storedPhoto, type StoredEntry } from './logbook/readEntry.js';
import { measureForPicture, type Measurement } from './measurePhoto.js';
import { measureTogetherForPicture, type JointMeasurement, type PhotoToJoin } from './measureTogether.js';
import { parsePrintRecord } from './print/record.js';
import { readCard } from './readCard.js';

/** Data of a stored reading, of which only what is needed is asked for: one of an earlier version may have another form. */
export type Loose = Readonly<Record<string, unknown>>;

/**
 * Measures the photos of an entry again, as they were measured when it was saved.
 * @param stored - The entry and its reading.
 * @returns What comes of it now.
 * @throws {InputError} Where a photo is gone or not as it was saved, or cannot be measured.
 */
export async function measureStored({
  entry,
  folder,
  reading,
}: StoredEntry): Promise<Measurement | JointMeasurement> {
  const bytes = (entry.photos ?? []).map(({ file }) => intactPhoto(folder, file));
  const { asked = {} } = entry;
  const photos: PhotoToJoin[] = [];
  for (const [i, photo] of bytes.entries())
    photos.push(await toldOf(photo, singleOf(reading, entry, i), asked));
  const [one] = photos;
  if (one === undefined)
    throw new InputError('logbook-damaged', 'The entry has no photo.', 'Verify the logbook.');
  if (entry.kind === 'joint-reading')
    return measureTogetherForPicture(photos, { cameraStill: asked.cameraStill ?? false });
  const { was, spacingOnly = false } = asked;
  return measureForPicture(one.bytes, one.record, {
    spacingOnly,
    recordFromCard: one.recordFromCard ?? false,
    ...(one.cardRead === undefined ? {} : { cardRead: one.cardRead }),
    ...(was === undefined
      ? {}
      : { was: { hz: was.hz, ...(was.plusMinusHz === undefined ? {} : { plusMinusHz: was.plusMinusHz }) } }),
  });
}

/**
 * An object inside another one.
 * @param value - Any data.
 * @param key - Its key.
 * @returns The object; an empty one where there is none.
 */
export function objectIn(value: unknown, key: string): Loose {
  const inner = typeof value === 'object' && value !== null ? (value as Loose)[key] : undefined;
  return typeof inner === 'object' && inner !== null ? (inner as Loose) : {};
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

function singleOf(reading: unknown, entry: Entry, i: number): Loose {
  const whole = reading as Loose;
  return entry.kind === 'joint-reading'
    ? objectIn(objectIn(objectIn(whole, 'photos'), String(i)), 'reading')
    : whole;
}

/** Its message goes onto sheets, so it names no folder. */
function intactPhoto(folder: string, file: string): Uint8Array {
  const bytes = readable(folder, file);
  if (sha256Hex(bytes) === file.slice(0, 64)) return bytes;
  throw new InputError('logbook-damaged', `The photo ${file} is not as it was saved.`, 'Verify the logbook.');
}

function readable(folder: string, file: string): Uint8Array {
  try {
    return storedPhoto(folder, file);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    throw new InputError(error.code, `The photo ${file} is gone or cannot be read.`, error.advice);
  }
}
