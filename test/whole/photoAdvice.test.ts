import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join, resolve } from 'node:path';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { checkPhoto } from '../../src/checkPhoto.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { parsePrintRecord } from '../../src/print/record.js';
import { checkReport } from '../../src/report/checkReport.js';

const root = resolve(import.meta.dirname, '../..');
const folder = join(root, 'docs/advice');
const readme = readFileSync(join(root, 'README.md'), 'utf8');
const record = parsePrintRecord(readFileSync(join(folder, 'print.json'), 'utf8'));
const photos = readdirSync(folder).filter((file) => file.endsWith('.jpg'));

/** What the README says of a photo, and what stands in italics of it: the check's own words. */
function saidOf(file: string): { readonly row: string; readonly quoted: readonly string[] } {
  const row = readme.split('\n').find((line) => line.startsWith('|') && line.includes(`docs/advice/${file}`));
  if (row === undefined) throw new Error(`The README does not show ${file}.`);
  return { row, quoted: [...row.matchAll(/(?<!\w)_([^_]+)_/g)].map(([, words = '']) => words) };
}

describe('the photos that the README shows', () => {
  test('are five, and light', () => {
    expect(photos).toHaveLength(5);
    const bytes = photos.reduce((sum, file) => sum + statSync(join(folder, file)).size, 0);
    // Source: the issue.
    expect(bytes).toBeLessThan(400_000);
  });

  test.each(photos)('of %s it says what check says, all of it', async (file) => {
    const check = await checkPhoto(readFileSync(join(folder, file)), record);
    const { row, quoted } = saidOf(file);
    const report = checkReport(check, record);
    const [verdict = ''] = report.split('\n');
    const plain = (words: string) => words.replace(/\.$/, '');
    expect(plain(quoted[0] ?? '')).toBe(verdict);
    expect(quoted.slice(1)).toEqual(check.hint === undefined ? [] : [check.hint]);
    expect(row).toMatch(/alt="[^"]{40,}"/);
  });

  // Source: the recipe that the photos are drawn from, scripts/makePhotoAdvice.ts.
  test('of the good one the frequency is right, of the one lit from the front none is told', async () => {
    const of = async (file: string) =>
      (await measurePhoto(readFileSync(join(folder, file)), record)).proposal;
    const good = await of('good.jpg');
    if (good.state !== 'proposed') throw new Error(`it is ${good.state}`);
    expect(good.frequencyHz.low95).toBeLessThan(36);
    expect(good.frequencyHz.high95).toBeGreaterThan(36);
    expect(await of('light-from-front.jpg')).toMatchObject({ state: 'refused' });
  });

  test('are whole photos of one camera', async () => {
    for (const file of photos) {
      expect(await sharp(join(folder, file)).metadata()).toMatchObject({ width: 2560, height: 1920 });
    }
  });
});
