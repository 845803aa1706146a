import { differencesBetween, isPlainObject, type Difference } from '../core/differences.js';
import type { JointReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';

/** Across builds the same computation agrees to this, relative (DESIGN: 1e-9); the rest is for what is all but zero. */
const SAME = { relative: 1e-9, absolute: 1e-12 } as const;

/**
 * What came out otherwise when photos were measured again. Versions do not count, nor the hash and length of the photo's
 * file, which is stored without its position.
 * @param was - The reading as it was saved.
 * @param now - The reading as it comes out now.
 * @returns Differences beyond 1e-9 of a number; none when the readings are equal.
 */
export function differencesOf(was: unknown, now: Reading | JointReading): readonly Difference[] {
  return differencesBetween(comparable(was), comparable(now), SAME);
}

/** A reading without what may differ: of several photos, each one's. */
function comparable(reading: unknown): unknown {
  if (!isPlainObject(reading)) return reading;
  const { photos } = reading;
  return {
    ...reading,
    versions: undefined,
    photos: Array.isArray(photos) ? photos.map(comparablePhoto) : photos,
  };
}

function comparablePhoto(photo: unknown): unknown {
  if (!isPlainObject(photo)) return photo;
  if ('reading' in photo) return { ...photo, reading: comparable(photo['reading']) };
  return { ...photo, sha256: undefined, bytes: undefined };
}
