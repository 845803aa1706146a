import { describe, expect, test } from 'vitest';
import { heightsCsv } from '../../src/report/csv.js';
import { expectClose } from '../helpers/closeTo.js';
import { measured } from '../helpers/measured.js';
import { bareRefusal, proofReading, proposedReading, spacingOnlyReading } from './fixtures.js';

/**
 * Reads comma-separated values by the grammar of RFC 4180 section 2 (from memory): records end with CRLF, a field
 * is either in quotes, with quotes doubled, or holds neither quote nor comma nor line end.
 */
function parseRfc4180(text: string): string[][] {
  const records: string[][] = [];
  const field = /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n|$)/y;
  let record: string[] = [];
  while (field.lastIndex < text.length) {
    const at = field.lastIndex;
    const match = field.exec(text);
    if (match === null) throw new Error(`no field of RFC 4180 at character ${at}`);
    record.push(match[1]?.replaceAll('""', '"') ?? match[2] ?? '');
    if (match[3] === ',') continue;
    records.push(record);
    record = [];
  }
  return records;
}

const COLUMNS =
  'height_mm,layer,ladder_hz,acceleration_mm_per_s2,spacing_mm,spacing_sd_mm,frequency_hz,frequency_sd_hz,amplitude,amplitude_sd,signed_amplitude,fitted_amplitude,noise,significant';

describe('heightsCsv', () => {
  test.each([
    ['proposed', proposedReading()],
    ['spacing only', spacingOnlyReading()],
    ['proof', proofReading()],
    ['nothing measured', bareRefusal()],
  ])('%s: one row for each height, every value as it is in the reading', (_, reading) => {
    const text = heightsCsv(reading);
    const [header, ...rows] = parseRfc4180(text);
    expect(header!.join(',')).toBe(COLUMNS);
    expect(text.endsWith('\r\n')).toBe(true);
    expect(rows).toHaveLength(reading.heights.length);
    rows.forEach((row, i) => {
      const height = reading.heights[i]!;
      expect(row).toHaveLength(header!.length);
      const values = [
        height.heightMm,
        height.layer,
        height.ladderHz,
        height.accelerationMmPerS2,
        height.spacingMm?.value,
        height.spacingMm?.sd,
        height.frequencyHz?.value,
        height.frequencyHz?.sd,
        height.amplitude?.value,
        height.amplitude?.sd,
        height.signedAmplitude,
        height.fittedAmplitude,
        height.noise,
        height.significant ? 1 : 0,
      ];
      values.forEach((value, column) => {
        if (value === undefined) {
          expect(row[column]).toBe('');
        } else {
          expect(row[column]).not.toBe('');
          expectClose(Number(row[column]), value, { rel: 5e-7, why: 'seven significant digits' });
        }
      });
    });
  });

  test.each([
    ['white-card', /^\d/],
    ['blue-markers', /^$/],
  ] as const)('%s: as many rows as heights, numbers only', async (name, ladderHz) => {
    const { reading } = await measured(name);
    const [, ...rows] = parseRfc4180(heightsCsv(reading));
    expect(rows.length).toBe(reading.heights.length);
    expect(rows.length).toBeGreaterThan(40);
    for (const cell of rows.flat()) expect(cell).toMatch(/^(-?\d+(\.\d+)?(e-?\d+)?)?$/);
    // Where the shaper is off there is no ladder frequency to tell.
    for (const row of rows) expect(row[2]).toMatch(ladderHz);
  });
});
