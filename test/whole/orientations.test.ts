import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import sharp from 'sharp';
import { beforeAll, describe, expect, test } from 'vitest';
import { measurePhoto } from '../../src/measurePhoto.js';
import { parsePrintRecord } from '../../src/print/record.js';
import type { Reading } from '../../src/reading/schema.js';
import { BOXES_OF_ORIENTATION, withProperties } from '../helpers/heifBoxes.js';
import { storedRaster } from '../helpers/storedRaster.js';

// One photo, stored in the eight ways in which a camera may be held, as JPEG (turned by EXIF) and as HEIC (turned by the
// file's own boxes): 16 files of one face, which must be read alike, to the frequency.

const root = resolve(import.meta.dirname, '../..');
const record = parsePrintRecord(readFileSync(resolve(root, 'docs/advice/print.json'), 'utf8'));
const SIDES_PX = [1600, 1200] as const;
// Source: the recipe that the photo is drawn from, scripts/makePhotoAdvice.ts.
const TRUTH_HZ = 36;

async function jpeg(orientation: number): Promise<Uint8Array> {
  const upright = sharp(resolve(root, 'docs/advice/good.jpg')).resize(...SIDES_PX);
  const raster = await storedRaster(upright, orientation);
  return raster.withMetadata({ orientation }).jpeg({ quality: 95 }).toBuffer();
}

/** Made by heif-enc from the stored raster; what turns it is added here. */
function heic(orientation: number): Uint8Array {
  const [, boxes] = BOXES_OF_ORIENTATION.find(([one]) => one === orientation)!;
  const file = readFileSync(resolve(root, `test/photo/heic/turned-${orientation}.heic`));
  return withProperties(file, boxes);
}

function proposed({ proposal }: Reading) {
  if (proposal.state !== 'proposed') throw new Error(`it is ${JSON.stringify(proposal)}`);
  return proposal.frequencyHz;
}

describe.each([
  ['JPEG', jpeg],
  ['HEIC', heic],
] as const)('%s', (_, fileOf) => {
  let first: Reading;
  beforeAll(async () => {
    first = await measurePhoto(await fileOf(1), record);
  });

  test('upright as it is stored: the truth lies in its interval', () => {
    const { low95, high95 } = proposed(first);
    expect(low95).toBeLessThan(TRUTH_HZ);
    expect(high95).toBeGreaterThan(TRUTH_HZ);
  });

  test.each([2, 3, 4, 5, 6, 7, 8])('stored in orientation %i it is read alike', async (orientation) => {
    const reading = await measurePhoto(await fileOf(orientation), record);
    expect(reading.photos[0]).toMatchObject({ widthPx: SIDES_PX[0], heightPx: SIDES_PX[1] });
    const [upright, turned] = [proposed(first), proposed(reading)];
    // The blocks of both formats begin at another corner, so that no two are the same to the last digit.
    expect(Math.abs(turned.value - upright.value)).toBeLessThan((upright.high95 - upright.low95) / 4);
    first.face!.cornersPx.flat().forEach((px, i) => {
      expect(Math.abs(reading.face!.cornersPx.flat()[i]! - px)).toBeLessThan(1.5);
    });
  });
});

test('both formats read the same within their intervals', async () => {
  const [a, b] = [
    proposed(await measurePhoto(await jpeg(1), record)),
    proposed(await measurePhoto(heic(1), record)),
  ];
  expect(Math.abs(a.value - b.value)).toBeLessThan(Math.min(a.high95 - a.value, b.high95 - b.value));
});
