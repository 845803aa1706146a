/**
 * Makes the HEIC files of test/photo/heic with heif-enc (Debian: apt-get install libheif-examples), so that the tests
 * need neither it nor an encoder: `npx tsx scripts/makeHeicFiles.ts`.
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp, { type Sharp } from 'sharp';
import { drawnPicture } from '../test/helpers/drawnPicture.js';
import { storedRaster } from '../test/helpers/storedRaster.js';

const FOLDER = fileURLToPath(new URL('../test/photo/heic/', import.meta.url));
const PHOTO = fileURLToPath(new URL('../testimages/white-card.jpg', import.meta.url));
const SMALL_PHOTO = fileURLToPath(new URL('../docs/advice/good.jpg', import.meta.url));
const TURNED_PX = [1600, 1200] as const;
/** The codes are kept: no quantising, no chroma subsampling, no other colours than red, green and blue. */
const LOSSLESS = ['-L', '-p', 'chroma=444', '--matrix_coefficients=0'];
/** What a phone writes, as far as it matters here. */
const EXIF = {
  IFD0: { Make: 'Bench' },
  IFD2: { DateTimeOriginal: '2026:03:14 18:02:11', FocalLength: '51/10', FocalLengthIn35mmFilm: '26' },
};

const work = mkdtempSync(join(tmpdir(), 'heic-'));
try {
  await make('plain', 'png', drawnPicture(3).png(), LOSSLESS);
  await make('alpha', 'png', drawnPicture(3).ensureAlpha(0.5).png(), LOSSLESS);
  await make('grey', 'png', drawnPicture(1).toColourspace('b-w').png(), ['-q', '100']);
  await make('deep', 'png', drawnPicture(3).toColourspace('rgb16').png(), ['-b', '10', ...LOSSLESS]);
  await make('profile', 'png', drawnPicture(3).withIccProfile('p3').png(), LOSSLESS);
  await make('thumbnail', 'png', drawnPicture(3).resize(480, 320).png(), ['-q', '100', '-t', '96']);
  await make(
    'exif',
    'jpg',
    drawnPicture(3).jpeg({ quality: 100 }).withMetadata({ orientation: 6 }).withExifMerge(EXIF),
    ['-q', '90'],
  );
  const half = sharp(PHOTO).keepExif().resize(2016, 1512);
  // A photo in each of the eight ways in which a camera may have been held, as its raster is stored.
  for (const orientation of [1, 2, 3, 4, 5, 6, 7, 8]) {
    const raster = await storedRaster(sharp(SMALL_PHOTO).resize(...TURNED_PX), orientation);
    await make(`turned-${orientation}`, 'png', raster, ['-q', '60']);
  }
  await make('white-card-half', 'jpg', half.jpeg({ quality: 95 }), ['-q', '75']);
} finally {
  rmSync(work, { recursive: true });
}

async function make(
  name: string,
  extension: string,
  picture: Sharp,
  options: readonly string[],
): Promise<void> {
  const source = join(work, `${name}.${extension}`);
  await picture.toFile(source);
  execFileSync('heif-enc', [...options, '-o', join(FOLDER, `${name}.heic`), source], { stdio: 'inherit' });
}
