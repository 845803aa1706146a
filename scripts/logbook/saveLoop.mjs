// Saves readings and notes into a logbook without end, to be stopped by a signal: node saveLoop.mjs LOGBOOK SAMPLE.
// After each it writes the entry's number and the head, so that whoever watches knows what must be there.
import { Buffer } from 'node:buffer';
import { createHash } from 'node:crypto';
import { readFileSync, writeSync } from 'node:fs';
import process from 'node:process';
import { formatHead } from '../../dist/logbook/head.js';
import { saveNote, saveReading } from '../../dist/logbook/saveReading.js';

const [, , folder = '', samplePath = ''] = process.argv;
const { reading, photo } = JSON.parse(readFileSync(samplePath, 'utf8'));
const bytes = Buffer.from(photo, 'base64');
const sha256 = createHash('sha256').update(bytes).digest('hex');
const what = { reading: { ...reading, photos: [{ ...reading.photos[0], sha256 }] }, photos: [{ bytes }] };

for (let i = 0; ; i += 1) {
  const { entry, head } =
    i % 3 === 2
      ? await saveNote(folder, { note: `note ${i}` }, new Date())
      : await saveReading(folder, what, new Date());
  writeSync(1, `${entry.number} ${formatHead(head)}\n`);
}
