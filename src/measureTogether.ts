import { decideLamps } from './band/decideLamps.js';
import { decideTogether } from './band/decideTogether.js';
import { differencesBetween } from './core/differences.js';
import { aboutPhoto, InputError } from './core/errors.js';
import { checkArguments, measureStages, type MeasureOptions, type ReadingView } from './measurePhoto.js';
import type { PrintRecord } from './print/record.js';
import { makeJointReading } from './reading/makeJointReading.js';
import type { JointReading } from './reading/jointSchema.js';
import type { CardRead } from './print/cardRead.js';
import type { Reading } from './reading/schema.js';
import { VERSION } from './version.js';

/** One of several photos. */
export interface PhotoToJoin {
  /** The photo's file; not modified. */
  readonly bytes: Uint8Array;
  /** What is known of its print, from `parsePrintRecord`. */
  readonly record: PrintRecord;
  /** What messages call it. @default its number, like "photo 2" */
  readonly name?: string;
  /** The record was taken from the code of the marker card in this photo, by `readCard`. @default false */
  readonly recordFromCard?: boolean;
  /** As for `measurePhoto`. */
  readonly cardRead?: CardRead;
}

/** How several photos were taken. */
export interface TogetherOptions {
  /** Neither tower nor camera moved between the photos, only the lamp: all are flattened by the same corners. @default false */
  readonly cameraStill?: boolean;
}

/**
 * Measures several photos of one axis together: of one face under other light, of both walls, or of a print made again.
 * @param photos - At least two, all of the same axis and shaper.
 * @param options - How they were taken.
 * @returns Each photo by itself, and all that agree fitted together.
 * @throws {InputError} `photos-differ`, or `usage` for fewer than two; and as `measurePhoto` for each photo.
 * @throws {TypeError} When a photo is not given as bytes, or a record is none.
 */
export async function measureTogether(
  photos: readonly PhotoToJoin[],
  options: TogetherOptions = {},
): Promise<JointReading> {
  return (await measureTogetherForPicture(photos, options)).reading;
}

/** A joint reading with what its picture needs: the view of the first photo that was used. */
export interface JointMeasurement {
  readonly reading: JointReading;
  readonly view: ReadingView;
}

/**
 * The same, with what a picture of the reading needs.
 * @param photos - At least two, all of the same axis and shaper.
 * @param options - How they were taken.
 * @returns Reading and view.
 * @throws {InputError} `photos-differ`, or `usage` for fewer than two; and as `measurePhoto` for each photo.
 * @throws {TypeError} When a photo is not given as bytes, or a record is none.
 */
export async function measureTogetherForPicture(
  photos: readonly PhotoToJoin[],
  options: TogetherOptions = {},
): Promise<JointMeasurement> {
  for (const { bytes, record } of photos) checkArguments(bytes, record);
  const [one, ...others] = photos;
  if (one === undefined || others.length === 0) {
    throw new InputError(
      'usage',
      `Several photos are measured together, but ${String(photos.length)} is given.`,
      'Give two photos or more, or measure the one by itself.',
    );
  }
  for (const { record } of others) checkSame(one.record, record);
  checkDistinct(photos);
  const cameraStill = options.cameraStill ?? false;
  // One after the other: each may hold a hundred megabytes while its face is looked for.
  const nameOf = ({ name }: PhotoToJoin, i: number) => name ?? `photo ${String(i + 1)}`;
  const first = await aboutPhoto(nameOf(one, 0), () => measureStages(one.bytes, one.record, optionsOf(one)));
  const all = [first];
  for (const [i, photo] of others.entries()) {
    const { bytes, record } = photo;
    const seen = cameraStill ? all.find(({ reading }) => reading.face !== undefined)?.reading : undefined;
    const told = seen === undefined ? record : withCorners(record, seen);
    const next = await aboutPhoto(nameOf(photo, i + 1), () => measureStages(bytes, told, optionsOf(photo)));
    if (seen !== undefined) checkSize(seen, next.reading);
    all.push(next);
  }
  const singles = all.map(({ evidence, alone }) => evidence && { evidence, decision: alone });
  const readings: [Reading, ...Reading[]] = [first.reading, ...all.slice(1).map(({ reading }) => reading)];
  const joint = decideTogether(singles);
  const decision = (cameraStill ? decideLamps(singles, joint) : undefined) ?? joint;
  const shown = all[Math.max(0, decision.uses.indexOf('used'))] ?? first;
  return { reading: makeJointReading(VERSION, readings, singles, decision), view: shown.view };
}

function optionsOf({ recordFromCard = false, cardRead }: PhotoToJoin): MeasureOptions {
  return { recordFromCard, ...(cardRead === undefined ? {} : { cardRead }) };
}

/** The record with the corners of the face in another photo from the same place. */
function withCorners(record: PrintRecord, { face }: Reading): PrintRecord {
  return face === undefined ? record : { ...record, facePx: face.cornersPx };
}

/** Photos from the same place by the same camera have the same sides. */
function checkSize({ photos: [a] }: Reading, { photos: [b] }: Reading): void {
  if (a?.widthPx === b?.widthPx && a?.heightPx === b?.heightPx) return;
  const sides = (photo: Reading['photos'][number] | undefined) =>
    `${String(photo?.widthPx)} × ${String(photo?.heightPx)} px`;
  throw new InputError(
    'photos-differ',
    `The photos differ in size: ${sides(a)} and ${sides(b)}.`,
    'Give photos from one place, uncropped and held alike, or leave --camera-still away.',
  );
}

/** What must be the same in all photos, or they do not tell of one axis under one shaper. */
function checkSame(a: PrintRecord, b: PrintRecord): void {
  const proof = [a, b].find((record) => record.accelerationLadder !== undefined);
  if (proof !== undefined) {
    throw new InputError(
      'photos-differ',
      'A proof print, whose acceleration changes with height, is among the photos.',
      'Measure each proof print by itself.',
      'accelerationLadder',
    );
  }
  const fields = [
    ['axis', a.axis, b.axis],
    ['machine', a.machine, b.machine],
    ['shaper', a.shaper, b.shaper],
    ['ladder', a.ladder, b.ladder],
    ['layerHeightMm', a.layerHeightMm, b.layerHeightMm],
    ['speedMmPerS', a.speedMmPerS, b.speedMmPerS],
  ] as const;
  for (const [name, a1, b1] of fields) {
    // The innermost field: what is said of it can be read by people.
    const [difference] = differencesBetween(a1, b1, undefined, name);
    if (difference === undefined) continue;
    const { path: field, was: one, now: other } = difference;
    throw new InputError(
      'photos-differ',
      `The photos' records differ in ${field}: ${shown(one)} and ${shown(other)}.`,
      'Measure together only photos of one axis of one machine, printed with the same speed, shaper and ladder; measure each of the others by itself.',
      field,
    );
  }
}

function isObjectOrList(value: unknown): value is object {
  return typeof value === 'object' && value !== null;
}

function shown(value: unknown): string {
  if (value === undefined) return 'untold';
  if (typeof value === 'string') return value;
  if (!isObjectOrList(value)) return JSON.stringify(value);
  return Object.entries(value)
    .map(([key, inner]) => (Array.isArray(value) ? shown(inner) : `${key} ${shown(inner)}`))
    .join(', ');
}

/** The same photo twice has nothing more to say, but would seem to. */
function checkDistinct(photos: readonly PhotoToJoin[]): void {
  for (const [i, { bytes }] of photos.entries()) {
    const twin = photos.findIndex((other, k) => k < i && Buffer.compare(other.bytes, bytes) === 0);
    if (twin < 0) continue;
    throw new InputError(
      'photos-differ',
      `Photos ${String(twin + 1)} and ${String(i + 1)} are the same file.`,
      'Give each photo once.',
    );
  }
}
