import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { measureForPicture, measurePhoto, parsePrintRecord, readPrintRecord } from '../src/index.js';
import { photoBytes, photoPath, photoRecord } from './helpers/measured.js';

const path = photoPath('blue-markers.jpg');
const bytes = photoBytes('blue-markers');
const record = photoRecord('blue-markers');
const recordBytes = readFileSync(photoPath('blue-markers.print.json'));

/** What a caller in plain JavaScript may pass: the compiler is not asked. */
const measureAny = measurePhoto as (bytes: unknown, record: unknown) => Promise<unknown>;
const parseAny = parsePrintRecord as (source: unknown) => unknown;

describe('the wrong thing is told with what was expected and what came', () => {
  test.each<[string, unknown, RegExp]>([
    ['a path', 'tower.jpg', /a string, "tower\.jpg"$/],
    ['a long text', 'x'.repeat(99), /a string, "x{39}…"$/],
    ['an ArrayBuffer', Uint8Array.from(bytes).buffer, /an ArrayBuffer$/],
    ['a Blob', new Blob([Uint8Array.from(bytes)]), /a Blob$/],
    ['words of 16 bits', new Uint16Array(4), /a Uint16Array$/],
    ['nothing', undefined, /undefined$/],
    ['null', null, /null$/],
    ['a file that is not awaited', Promise.resolve(bytes), /a Promise$/],
    ['a list', [...bytes.subarray(0, 9)], /an array$/],
  ])('photo: %s', async (_, photo, came) => {
    const failed = measureAny(photo, record);
    await expect(failed).rejects.toThrow(TypeError);
    await expect(failed).rejects.toThrow(/^Expected the photo's bytes as a Uint8Array, .* but received /);
    await expect(failed).rejects.toThrow(came);
  });

  test.each<[string, unknown, RegExp]>([
    ['its bytes', recordBytes, /a Uint8Array$/],
    ['its text', recordBytes.toString(), /a string, /],
    ['a path', path, /a string, /],
    ['nothing', undefined, /undefined$/],
    ['an object that is none', { axis: 'Y' }, /an object$/],
    ['a record that is not awaited', Promise.resolve(record), /a Promise$/],
  ])('record: %s', async (_, told, came) => {
    const failed = measureAny(bytes, told);
    await expect(failed).rejects.toThrow(TypeError);
    await expect(failed).rejects.toThrow(/^Expected a print record from parsePrintRecord but received /);
    await expect(failed).rejects.toThrow(came);
  });

  test.each<[string, unknown, RegExp]>([
    ['its bytes', recordBytes, /a Uint8Array$/],
    ['the record itself', record, /an object$/],
    ['nothing', undefined, /undefined$/],
    ['a number', 5, /a number$/],
  ])("record's text: %s", (_, source, came) => {
    expect(() => parseAny(source)).toThrow(TypeError);
    expect(() => parseAny(source)).toThrow(
      /^Expected the print record's JSON text as a string but received /,
    );
    expect(() => parseAny(source)).toThrow(came);
    if (source === undefined) return;
    const readAny = readPrintRecord as (source: unknown, given: object) => unknown;
    expect(() => readAny(source, {})).toThrow(TypeError);
  });

  test('the way that also gives the picture checks the same', async () => {
    const failed = (measureForPicture as typeof measureAny)(path, record);
    await expect(failed).rejects.toThrow(TypeError);
  });
});
