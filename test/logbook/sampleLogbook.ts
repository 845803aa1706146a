import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { readEntry } from '../../src/logbook/readEntry.js';
import { saveNote, saveReading } from '../../src/logbook/saveReading.js';
import type { Written } from '../../src/logbook/writeEntry.js';
import type { Reading } from '../../src/reading/schema.js';
import { proposedReading, refusedReading } from '../report/fixtures.js';

/** A JPEG file of 1 × 1 px, the smallest that is one; what stands in its comment makes it another photo. */
const HEAD = Buffer.from('ffd8ffe000104a46494600010100000100010000', 'hex');
const REST = Buffer.from(
  `ffdb004300${'01'.repeat(64)}ffc0000b080001000101011100ffc40014000100000000000000000000000000000009ffc40014100100000000000000000000000000000000ffda0008010100003f00d2cf20ffd9`,
  'hex',
);

/**
 * A small photo that differs from every other.
 * @param number - Which one.
 * @returns A JPEG file.
 */
export function tinyPhoto(number: number): Buffer {
  const text = Buffer.from(`photo ${number}`);
  return Buffer.concat([HEAD, Buffer.from([0xff, 0xfe, 0, text.length + 2]), text, REST]);
}

/**
 * Saves a reading with its photo, or every tenth time a note.
 * @param folder - The logbook.
 * @param number - Which one.
 * @returns What was written.
 */
export async function saveSample(folder: string, number: number): Promise<Written> {
  // A clock that stands still for a while, and once goes back.
  const now = new Date(Date.UTC(2026, 2, 14 - (number % 50 === 0 ? 3 : 0), 9, Math.floor(number / 3)));
  if (number % 10 === 0)
    return saveNote(folder, { note: `belts looked at, ${number}`, about: number - 1 }, now);
  const reading = proposedReading();
  const photo = tinyPhoto(number);
  const sha256 = createHash('sha256').update(photo).digest('hex');
  return saveReading(
    folder,
    {
      reading: { ...reading, photos: [{ ...reading.photos[0]!, sha256 }] },
      photos: [{ bytes: photo, name: `tower ${number}.jpg` }],
      ...(number % 7 === 0 ? { changed: ['belt-tension'] } : {}),
    },
    now,
  );
}

/**
 * Saves a reading of an axis, with a frequency that is told.
 * @param folder - The logbook.
 * @param number - Which photo: each once.
 * @param told - Axis, frequency in Hz (± 0.4), machine, and what was changed before it.
 * @returns What was written.
 */
export async function saveFrequency(
  folder: string,
  number: number,
  told: {
    readonly axis: string;
    readonly hz: number;
    readonly machine?: string;
    readonly changed?: string[];
  },
): Promise<Written> {
  const { axis, hz, machine = 'north bench 3', changed = [] } = told;
  const reading = proposedReading();
  const { proposal, printRecord } = reading;
  if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
  const photo = tinyPhoto(number);
  const sha256 = createHash('sha256').update(photo).digest('hex');
  const frequencyHz = { value: hz, sd: 0.2, low95: hz - 0.392, high95: hz + 0.392 };
  return saveReading(
    folder,
    {
      reading: {
        ...reading,
        printRecord: { ...printRecord, axis, machine },
        proposal: { ...proposal, axis, frequencyHz },
        photos: [{ ...reading.photos[0]!, sha256 }],
      },
      photos: [{ bytes: photo, name: `tower ${number}.jpg` }],
      changed,
    },
    new Date(Date.UTC(2026, 2, 14, 9, number)),
  );
}

/**
 * Saves a refusal of axis Y of the same machine.
 * @param folder - The logbook.
 * @param number - Which photo: each once.
 * @returns What was written.
 */
export async function saveRefusal(folder: string, number: number): Promise<Written> {
  const reading = refusedReading();
  const photo = tinyPhoto(number);
  const sha256 = createHash('sha256').update(photo).digest('hex');
  return saveReading(
    folder,
    {
      reading: {
        ...reading,
        printRecord: { ...reading.printRecord, axis: 'Y', machine: 'north bench 3' },
        photos: [{ ...reading.photos[0]!, sha256 }],
      },
      photos: [{ bytes: photo }],
    },
    new Date(Date.UTC(2026, 2, 14, 9, number)),
  );
}

/**
 * Changes something in the stored reading of an entry by hand, as with an editor.
 * @param folder - The logbook.
 * @param number - The entry.
 * @param change - What is changed in it.
 */
export function editReading(folder: string, number: number, change: (reading: Reading) => void): void {
  const path = join(readEntry(folder, number).folder, 'reading.json');
  const reading = JSON.parse(readFileSync(path, 'utf8')) as Reading;
  change(reading);
  writeFileSync(path, JSON.stringify(reading));
}
