import type { JointReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';

/** A number, word or part of a reading that came out otherwise. */
export interface Difference {
  /** Where it stands, like `ringing.frequencyHz.value`. */
  readonly path: string;
  /** As it was saved; absent where there was nothing. */
  readonly was?: unknown;
  /** As it comes out now; absent where there is nothing. */
  readonly now?: unknown;
}

/** Across builds the same computation agrees to this, relative (DESIGN: 1e-9); the rest is for what is all but zero. */
const RELATIVE = 1e-9;
const ABSOLUTE = 1e-12;

/**
 * What came out otherwise when photos were measured again. Versions do not count, nor the hash and length of the photo's
 * file, which is stored without its position.
 * @param was - The reading as it was saved.
 * @param now - The reading as it comes out now.
 * @returns Differences beyond 1e-9 of a number; none when the readings are equal.
 */
export function differencesOf(was: unknown, now: Reading | JointReading): readonly Difference[] {
  const found: Difference[] = [];
  compare('', comparable(was), comparable(now), found);
  return found;
}

type Loose = Readonly<Record<string, unknown>>;

function isObject(value: unknown): value is Loose {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** A reading without what may differ: of several photos, each one's. */
function comparable(reading: unknown): unknown {
  if (!isObject(reading)) return reading;
  const { photos } = reading;
  return {
    ...reading,
    versions: undefined,
    photos: Array.isArray(photos) ? photos.map(comparablePhoto) : photos,
  };
}

function comparablePhoto(photo: unknown): unknown {
  if (!isObject(photo)) return photo;
  if ('reading' in photo) return { ...photo, reading: comparable(photo['reading']) };
  return { ...photo, sha256: undefined, bytes: undefined };
}

function compare(path: string, was: unknown, now: unknown, found: Difference[]): void {
  if (was === now) return;
  if (typeof was === 'number' && typeof now === 'number') {
    if (Math.abs(was - now) <= RELATIVE * Math.max(Math.abs(was), Math.abs(now)) + ABSOLUTE) return;
  } else if (Array.isArray(was) && Array.isArray(now)) {
    for (let i = 0; i < Math.max(was.length, now.length); i += 1)
      compare(`${path}[${String(i)}]`, was[i], now[i], found);
    return;
  } else if (isObject(was) && isObject(now)) {
    for (const key of new Set([...Object.keys(was), ...Object.keys(now)])) {
      compare(path === '' ? key : `${path}.${key}`, was[key], now[key], found);
    }
    return;
  }
  found.push({ path, ...(was === undefined ? {} : { was }), ...(now === undefined ? {} : { now }) });
}
