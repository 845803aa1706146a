import { sha256Hex } from '../core/sha256.js';
import { isDeepStrictEqual } from 'node:util';
import { InputError } from '../core/errors.js';
import { inspectPhoto } from '../photo/decode.js';
import type { JointReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';
import { canonicalJson } from './canonical.js';
import type { Entry, EntryPhoto, EntryResult } from './entry.js';
import { NAMES } from './layout.js';
import { entryLines, missing } from './logFile.js';
import { removePosition, type CleanPhoto } from './position/removePosition.js';
import { savedBefore } from './savedBefore.js';
import { writeEntry, type EntryFile, type NewEntry, type Written } from './writeEntry.js';

/** A photo that belongs to a reading. */
export interface PhotoToSave {
  /** The file that was measured; not modified. */
  readonly bytes: Uint8Array;
  /** Its name, for people; no path is made of it. */
  readonly name?: string;
}

/** A reading with what belongs to it. */
export interface ReadingToSave {
  readonly reading: Reading | JointReading;
  /** In the order in which they were measured. */
  readonly photos: readonly PhotoToSave[];
  /** What the measurement was asked for beside the record. */
  readonly asked?: NonNullable<Entry['asked']>;
  /** What was changed on the machine since the reading before, in the user's words. */
  readonly changed?: readonly string[];
  readonly note?: string;
  /** The photos are stored as they are, with what they tell of the place. @default false */
  readonly keepPosition?: boolean;
}

/** A note on its own. */
export interface NoteToSave {
  readonly note: string;
  /** Number of the earlier entry that it is about. */
  readonly about?: number;
  readonly machine?: string;
  readonly axis?: string;
  readonly changed?: readonly string[];
}

/**
 * Saves a reading and its photos as a new entry, without what the photos tell of the place where they were taken.
 * @param folder - The logbook's folder; it is made where there is none.
 * @param what - The reading and what belongs to it.
 * @param now - The time to write down; numbers and order do not depend on it.
 * @returns The entry and the logbook's new head.
 * @throws {InputError} `position-unsure`, and as `writeEntry`.
 */
export async function saveReading(folder: string, what: ReadingToSave, now: Date): Promise<Written> {
  const { reading, asked, changed, note, keepPosition = false } = what;
  const singles =
    reading.schema === 'stillband/reading@1' ? [reading] : reading.photos.map((one) => one.reading);
  const hashes = what.photos.map(({ bytes }) => sha256Hex(bytes));
  if (
    !isDeepStrictEqual(
      hashes,
      singles.map(({ photos }) => photos[0]?.sha256),
    )
  ) {
    throw new RangeError('Expected the photos that were measured, in their order, but received others');
  }
  const cleaned: (CleanPhoto & { readonly photo: EntryPhoto })[] = [];
  for (const photo of what.photos) cleaned.push(await cleanedPhoto(photo, keepPosition));
  const text = canonicalText(reading);
  const files = new Map<string, EntryFile>([[NAMES.reading, { name: NAMES.reading, data: text }]]);
  for (const { photo, bytes } of cleaned) files.set(photo.file, { name: photo.file, data: bytes });
  const { machine, axis } = singles[0]?.printRecord ?? {};
  const takenOn = singles[0]?.photos[0]?.takenAt?.slice(0, 10);
  const stored = cleaned.map(({ photo }) => photo);
  let notes: readonly string[] = [];
  const newEntry = (): NewEntry => {
    // Asked while nobody else can save.
    notes = savedBefore(folder, {
      ...(machine === undefined ? {} : { machine }),
      ...(axis === undefined ? {} : { axis }),
      photos: stored,
    });
    return {
      kind: reading.schema === 'stillband/reading@1' ? 'reading' : 'joint-reading',
      savedAt: timeOf(now),
      ...(takenOn === undefined ? {} : { takenOn }),
      ...(machine === undefined ? {} : { machine }),
      ...(axis === undefined ? {} : { axis }),
      ...(changed === undefined || changed.length === 0 ? {} : { changed: [...changed] }),
      ...(note === undefined ? {} : { note }),
      photos: stored,
      reading: { sha256: sha256Hex(text), bytes: Buffer.byteLength(text) },
      ...(asked === undefined || Object.keys(asked).length === 0 ? {} : { asked }),
      result: resultOf(reading),
    };
  };
  const written = await writeEntry(folder, newEntry, [...files.values()]);
  return notes.length === 0 ? written : { ...written, notes };
}

/**
 * Adds a note: what came to light later does not change what was saved.
 * @param folder - The logbook's folder; it is made where there is none.
 * @param what - The note.
 * @param now - The time to write down.
 * @returns The entry and the logbook's new head.
 * @throws {InputError} `entry-missing` when it is about an entry that there is not; and as `writeEntry`.
 */
export async function saveNote(folder: string, what: NoteToSave, now: Date): Promise<Written> {
  const { note, about, changed } = what;
  return writeEntry(
    folder,
    (size) => {
      if (about !== undefined && !(Number.isInteger(about) && about >= 1 && about <= size))
        throw missing(about, size);
      const of = about === undefined ? undefined : lineAt(folder, about);
      const machine = what.machine ?? of?.machine;
      const axis = what.axis ?? of?.axis;
      return {
        kind: 'note',
        savedAt: timeOf(now),
        note,
        ...(about === undefined ? {} : { about }),
        ...(machine === undefined ? {} : { machine }),
        ...(axis === undefined ? {} : { axis }),
        ...(changed === undefined || changed.length === 0 ? {} : { changed: [...changed] }),
      };
    },
    [],
  );
}

function lineAt(
  folder: string,
  number: number,
): { readonly machine?: string | undefined; readonly axis?: string | undefined } | undefined {
  for (const line of entryLines(folder)) if (line.number === number) return line;
  return undefined;
}

async function cleanedPhoto(
  { bytes, name }: PhotoToSave,
  keepPosition: boolean,
): Promise<CleanPhoto & { readonly photo: EntryPhoto }> {
  const clean = removePosition(bytes, keepPosition);
  // What the measurement takes from a photo's header must be in the stored one as well, or it could not be measured again.
  if (!isDeepStrictEqual(await inspectPhoto(bytes), await inspectPhoto(clean.bytes))) {
    throw new InputError(
      'position-unsure',
      'The photo is not saved: without its position data it would be read differently.',
      'Export it anew from a photo program, as JPEG; or, if it may be known where it was taken, add --keep-position.',
    );
  }
  return {
    ...clean,
    photo: {
      file: `${sha256Hex(clean.bytes)}.${clean.extension}`,
      bytes: clean.bytes.length,
      original: {
        sha256: sha256Hex(bytes),
        bytes: bytes.length,
        ...(name === undefined ? {} : { name: wellFormed(name) }),
      },
      removed: [...clean.removed],
    },
  };
}

function canonicalText(reading: Reading | JointReading): string {
  try {
    return canonicalJson(reading);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw new InputError(
      'record-field',
      'The reading cannot be saved: a text of the print record holds half a character.',
      'Type the machine, title and notes of the print record again.',
    );
  }
}

/** Half a character, which some systems allow in a file's name, cannot stand in JSON (RFC 8785, section 3.2.2.2). */
function wellFormed(name: string): string {
  return Buffer.from(name, 'utf8').toString('utf8');
}

function resultOf({ proposal }: Reading | JointReading): EntryResult {
  return {
    state: proposal.state,
    ...(proposal.state === 'proposed' || proposal.state === 'spacing-only'
      ? { frequencyHz: proposal.frequencyHz }
      : {}),
    ...(proposal.state === 'refused' ? { reason: proposal.reason } : {}),
    ...(proposal.state === 'proof' && proposal.quietUpTo !== undefined
      ? { quietUpToMmPerS2: proposal.quietUpTo.mmPerS2 }
      : {}),
  };
}

/**
 * A time as an entry keeps it: seconds are enough for people, and the order does not come from it.
 * @param now - The time.
 * @returns ISO 8601, UTC.
 */
export function timeOf(now: Date): string {
  return `${now.toISOString().slice(0, 19)}Z`;
}
