import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { measurePhoto } from '../../src/index.js';
import type { Reading } from '../../src/reading/schema.js';
import { photoBytes, photoRecord, photoTruth } from '../helpers/measured.js';

const told = photoRecord('white-card');
const half = ([x, y]: readonly [number, number]): [number, number] => [x / 2, y / 2];
const [a, b, c, d] = told.facePx;
const facePx: typeof told.facePx = [half(a), half(b), half(c), half(d)];
const record = { ...told, facePx };
const truthHz = photoTruth('white-card').null!.best_fs_hz;

function frequencyOf({ proposal }: Reading) {
  if (proposal.state !== 'proposed') throw new Error(`It is ${proposal.state}.`);
  return proposal.frequencyHz;
}

describe('one photo at half its size, as JPEG and as HEIC', () => {
  test('reads alike within its interval, and right', async () => {
    const heic = readFileSync(new URL('../photo/heic/white-card-half.heic', import.meta.url));
    const jpeg = await sharp(photoBytes('white-card'))
      .keepExif()
      .resize(2016, 1512)
      .jpeg({ quality: 95 })
      .toBuffer();
    const [one, other] = [await measurePhoto(jpeg, record), await measurePhoto(heic, record)];
    expect(other.photos[0]).toMatchObject({ format: 'heic', widthPx: 1512, heightPx: 2016 });
    expect(other.photos[0]?.focalLength35Mm).toBe(one.photos[0]?.focalLength35Mm);
    const [byJpeg, byHeic] = [frequencyOf(one), frequencyOf(other)];
    expect(Math.abs(byHeic.value - byJpeg.value)).toBeLessThan((byJpeg.high95 - byJpeg.low95) / 2);
    // Source: truth file of the ray tracer.
    expect(byHeic.low95).toBeLessThan(truthHz);
    expect(byHeic.high95).toBeGreaterThan(truthHz);
  });
});
