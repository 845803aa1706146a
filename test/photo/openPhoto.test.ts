import { readFileSync } from 'node:fs';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { decodeHeic } from '../../src/photo/heic.js';
import { openPhoto } from '../../src/photo/openPhoto.js';
import { expectClose } from '../helpers/closeTo.js';
import { DRAWN, drawnCode, drawnPicture } from '../helpers/drawnPicture.js';
import { BOXES_OF_ORIENTATION, box, withProperties } from '../helpers/heifBoxes.js';
import { readCsv } from '../helpers/readReference.js';
import { inputErrorOf } from '../helpers/thrown.js';

const { widthPx: WIDTH, heightPx: HEIGHT } = DRAWN;
// Made by heif-enc: test/photo/heic/PROVENANCE.md.
const heic = (name: string) => readFileSync(new URL(`heic/${name}.heic`, import.meta.url));

/** All codes, row by row. */
function codes(image: CodeImage): number[] {
  const [rows, columns] = image.shape as [number, number];
  return Array.from({ length: rows * columns }, (_, i) => image.get(Math.floor(i / columns), i % columns));
}

const codesOf = async (bytes: Uint8Array) => codes(await (await openPhoto(bytes)).codes());
/** What another format says of the same drawing. */
const expected = async (picture = drawnPicture(3)) => codesOf(await picture.png().toBuffer());

const stored = await codesOf(heic('plain'));

describe('HEIC', () => {
  test('a file next to without losses has the codes of the PNG that it was made from', async () => {
    const { info } = await openPhoto(heic('plain'));
    expect(info).toEqual({
      ...{ format: 'heic', widthPx: WIDTH, heightPx: HEIGHT, orientation: 1, bits: 8 },
      capture: {},
    });
    expectClose(stored, await expected(), { abs: 2, why: 'rounding to luma and chroma, and back' });
  });

  test.each([
    ['opacity, on black', 'alpha', () => drawnPicture(3).ensureAlpha(0.5), 2],
    ['10 bits', 'deep', () => drawnPicture(3), 2],
    ['a Display P3 profile', 'profile', () => drawnPicture(3), 2],
    ['grey', 'grey', () => drawnPicture(1).toColourspace('b-w'), 3],
    ['a thumbnail beside it', 'thumbnail', () => drawnPicture(3).resize(480, 320), 4],
  ] as const)('%s', async (_, name, drawn, loss) => {
    expectClose(await codesOf(heic(name)), await expected(drawn()), {
      abs: loss,
      why: 'rounding, and what the format loses',
    });
  });

  test('EXIF is read out of its container, and turns a picture that nothing else turns', async () => {
    const photo = await openPhoto(heic('exif'));
    // Source: what scripts/makeHeicFiles.ts wrote.
    expect(photo.info).toMatchObject({
      ...{ widthPx: HEIGHT, heightPx: WIDTH, orientation: 6 },
      capture: { takenAt: '2026-03-14T18:02:11', focalLengthMm: 5.1, focalLength35Mm: 26 },
    });
    const shown = await expected(drawnPicture(3).rotate(90));
    expectClose(codes(await photo.codes()), shown, { abs: 6, why: 'what the format loses' });
  });

  const rows = readCsv('exif_orientation.csv', ['value', 'swaps_size'], ['X', 'Y', 'operation']);

  test.each(BOXES_OF_ORIENTATION)('boxes that turn it as EXIF %d: pixels and copy', async (value, boxes) => {
    const photo = await openPhoto(withProperties(heic('plain'), boxes));
    const { X, Y, swaps_size: swaps } = rows.find((row) => row.value === value)!;
    const columns = swaps === 1 ? HEIGHT : WIDTH;
    expect([photo.info.widthPx, photo.info.heightPx]).toEqual([columns, WIDTH + HEIGHT - columns]);
    // Source: Exif 0x0112, mapping (x, y) stored → (X, Y) shown: test/reference/exif_orientation.csv.
    const shown = new Array<number>(WIDTH * HEIGHT);
    const reds = new Array<number>(WIDTH * HEIGHT);
    for (let y = 0; y < HEIGHT; y += 1) {
      for (let x = 0; x < WIDTH; x += 1) {
        const terms: Record<string, number> = { x, y, 'W-1-x': WIDTH - 1 - x, 'H-1-y': HEIGHT - 1 - y };
        const at = terms[Y]! * columns + terms[X]!;
        shown[at] = stored[y * WIDTH + x]!;
        reds[at] = drawnCode(x, y, 0);
      }
    }
    expect(codes(await photo.codes())).toEqual(shown);
    const copy = await photo.shrunk(1000);
    expect([copy.widthPx, copy.heightPx]).toEqual([columns, WIDTH + HEIGHT - columns]);
    const copied = [...copy.data].filter((_, i) => i % 3 === 0);
    expectClose(copied, reds, { abs: 2, why: 'rounding to luma and chroma, and back' });
  });

  test('where its boxes turn it, EXIF has no say: nothing is turned twice', async () => {
    const upright = await expected(drawnPicture(3).rotate(90));
    const [, boxes] = BOXES_OF_ORIENTATION[5]!;
    const phone = await openPhoto(withProperties(heic('exif'), boxes));
    expect(phone.info).toMatchObject({ widthPx: HEIGHT, heightPx: WIDTH, orientation: 1 });
    expectClose(codes(await phone.codes()), upright, { abs: 6, why: 'what the format loses' });
    const [, asItIs] = BOXES_OF_ORIENTATION[0]!;
    const turnedBack = await openPhoto(withProperties(heic('exif'), asItIs));
    expect(turnedBack.info).toMatchObject({ widthPx: WIDTH, heightPx: HEIGHT, orientation: 1 });
  });

  test('a shrunk copy of a large one has its proportions and colours', async () => {
    const copy = await (await openPhoto(heic('white-card-half'))).shrunk(1000);
    expect([copy.widthPx, copy.heightPx]).toEqual([750, 1000]);
    const photo = new URL('../../testimages/white-card.jpg', import.meta.url);
    const { data } = await sharp(readFileSync(photo))
      .autoOrient()
      .resize(750, 1000)
      .raw()
      .toBuffer({ resolveWithObject: true });
    const off = data.reduce((sum, code, i) => sum + Math.abs(code - copy.data[i]!), 0) / data.length;
    // Source: libvips's shrinking of the JPEG; measured 1.4.
    expect(off).toBeLessThan(4);
  });

  test('an HDR brightness scale is refused', async () => {
    // Source: ITU-T H.273, transfer characteristics 16 (PQ) and 18 (HLG), 13 is sRGB (from memory).
    const nclx = (transfer: number) =>
      box('colr', Buffer.from(`nclx\0\x01\0${String.fromCharCode(transfer)}\0\x06\x80`, 'latin1'));
    for (const transfer of [16, 18]) {
      const error = await inputErrorOf(() => openPhoto(withProperties(heic('plain'), [nclx(transfer)])));
      expect(error).toMatchObject({ code: 'photo-format', message: expect.stringMatching(/HDR/) as unknown });
    }
    expect(await codesOf(withProperties(heic('plain'), [nclx(13)]))).toEqual(stored);
  });

  test('without the optional package it says what to do', async () => {
    const error = await inputErrorOf(() =>
      decodeHeic(heic('plain'), { smallPx: 9, library: 'no-such-package' }),
    );
    expect(error).toMatchObject({
      code: 'heic-reader-missing',
      advice: expect.stringMatching(/^Export .*JPEG.*npm install libheif-js/) as unknown,
    });
  });
});

describe('a HEIC photo that is damaged', () => {
  const whole = heic('white-card-half');
  const damaged = (share: number, change: (bytes: Buffer, at: number) => Uint8Array) =>
    change(Buffer.from(whole), Math.floor(share * whole.length));

  test.each([
    ['breaks off in the middle', damaged(0.5, (bytes, at) => bytes.subarray(0, at))],
    ['lacks its last bytes', damaged(0.999, (bytes, at) => bytes.subarray(0, at))],
    ['has a hole in its data', damaged(0.4, (bytes, at) => bytes.fill(0, at, at + 2000))],
    ['has other bytes in its data', damaged(0.7, (bytes, at) => bytes.fill(0x5a, at, at + 200))],
    ['is all but its first box', damaged(0.0001, (bytes, at) => bytes.subarray(0, at))],
  ])('%s', async (_, bytes) => {
    const error = await inputErrorOf(() => openPhoto(bytes));
    expect(['photo-damaged', 'photo-format']).toContain(error.code);
  });

  test('gives back what its worker took', async () => {
    await openPhoto(heic('thumbnail'));
    const before = process.memoryUsage().rss;
    for (let i = 0; i < 8; i += 1) await openPhoto(heic('thumbnail'));
    // Each worker takes 20 MB at the least: its own engine, and 16 MB of WebAssembly memory.
    expect((process.memoryUsage().rss - before) / 1e6).toBeLessThan(60);
  });
});
