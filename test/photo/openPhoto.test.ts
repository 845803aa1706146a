import { once } from 'node:events';
import { readFileSync, writeFileSync } from 'node:fs';
import { Worker } from 'node:worker_threads';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { answerOf, countUndecoded, decodeHeic, listenedTo } from '../../src/photo/heic.js';
import { openPhoto } from '../../src/photo/openPhoto.js';
import { expectClose } from '../helpers/closeTo.js';
import { DRAWN, drawnCode, drawnPicture } from '../helpers/drawnPicture.js';
import { BOXES_OF_ORIENTATION, box, withProperties } from '../helpers/heifBoxes.js';
import { linearProfile } from '../helpers/linearProfile.js';
import { readCsv } from '../helpers/readReference.js';
import { tempFolder } from '../helpers/tempFolder.js';
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

describe('what phones, scanners and editors make of a picture', () => {
  const profile = tempFolder('file');
  const plain = expected();
  const jpeg = (from = drawnPicture(3)) => from.jpeg({ quality: 100, chromaSubsampling: '4:4:4' });
  const other = sharp({ create: { width: 90, height: 50, channels: 3, background: '#f00' } });

  test.each([
    ['progressive', () => jpeg().jpeg({ progressive: true }), 2],
    ['a Display P3 profile', () => jpeg(drawnPicture(3).withIccProfile('p3')), 3],
    [
      'a Display P3 profile on 16 bits',
      () => drawnPicture(3).toColourspace('rgb16').withIccProfile('p3').png(),
      3,
    ],
    ['interlaced', () => drawnPicture(3).png({ progressive: true }), 0],
    ['opacity all over', () => drawnPicture(3).ensureAlpha(1).png(), 0],
  ] as const)('%s', async (_, drawn, loss) => {
    const { info, codes: decode } = await openPhoto(await drawn().toBuffer());
    const perCode = info.bits === 16 ? 257 : 1;
    const found = codes(await decode()).map((code) => code / perCode);
    // Source: the codes of the same drawing without it.
    expectClose(found, await plain, { abs: loss, why: 'what the format and two conversions lose' });
  });

  test('codes in proportion to light, as their profile says', async () => {
    writeFileSync(profile('linear.icc'), linearProfile());
    const deep = drawnPicture(3).toColourspace('rgb16');
    const bytes = await deep.withIccProfile(profile('linear.icc')).png().toBuffer();
    // They do lie elsewhere: the test would prove nothing otherwise.
    const { data } = await sharp(bytes, { ignoreIcc: true })
      .raw({ depth: 'ushort' })
      .toBuffer({ resolveWithObject: true });
    expect(new Uint16Array(data.buffer, data.byteOffset, 1)[0]! / 257).toBeLessThan(drawnCode(0, 0, 0) / 3);
    const found = (await codesOf(bytes)).map((code) => code / 257);
    expectClose(found, await plain, { abs: 3, why: 'two conversions' });
  });

  test('CMYK', async () => {
    const bytes = await jpeg(drawnPicture(3).toColourspace('cmyk').withIccProfile('cmyk')).toBuffer();
    expect((await sharp(bytes).metadata()).space).toBe('cmyk');
    // Source: libvips's own way from CMYK to sRGB.
    const shown = await sharp(bytes).toColourspace('srgb').png().toBuffer();
    expectClose(await codesOf(bytes), await codesOf(shown), { abs: 2, why: 'rounding' });
  });

  test('pictures behind the first: bursts, portraits with their depth, short films, pages', async () => {
    const first = await jpeg().toBuffer();
    const alone = await codesOf(first);
    for (const behind of [
      await other.clone().jpeg().toBuffer(),
      Buffer.from('\0\0\0\x18ftypmp42 and so on'),
    ]) {
      expect(await codesOf(Buffer.concat([first, behind]))).toEqual(alone);
    }
    const pages = [
      await drawnPicture(3).png().toBuffer(),
      await other.clone().resize(WIDTH, HEIGHT).png().toBuffer(),
    ];
    const moving = () => sharp(pages, { join: { animated: true } });
    const webp = await moving().webp({ lossless: true }).toBuffer();
    expect((await openPhoto(webp)).info).toMatchObject({ widthPx: WIDTH, heightPx: HEIGHT });
    expect(await codesOf(webp)).toEqual(await plain);
    const tiff = await moving().tiff({ compression: 'deflate' }).toBuffer();
    expectClose(await codesOf(tiff), await plain, { abs: 3, why: 'libvips writes other colours into pages' });
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

  test('is told when its worker ended while nobody waited for an answer', async () => {
    const worker = new Worker('', { eval: true });
    const decoder = listenedTo(worker);
    await once(worker, 'exit');
    expect(await inputErrorOf(() => answerOf(decoder))).toMatchObject({ code: 'photo-damaged' });
  });

  test.each([
    // Source: luma and chroma 0 by ITU-R BT.601 in full range, G = 0.344 × 128 + 0.714 × 128 = 135 (from memory).
    ['the green of nothing decoded counts', () => [0, 135, 0], 64 * 32],
    ['a green tower does not: its px differ', (i: number) => [0, 120 + ((i * 7919) % 13), 0], 0],
    ['nor a bright one that is burnt out', () => [0, 255, 0], 0],
    ['nor one with a little red', () => [3, 135, 0], 0],
  ] as const)('%s', (_, px, count) => {
    const counts = new Uint32Array(256);
    const codes = Array.from({ length: 64 * 32 }, (_, i) => px(i)).flat();
    countUndecoded(Uint8Array.from(codes), 3, counts);
    expect(Math.max(...counts)).toBe(count);
  });

  test('gives back what its worker took', async () => {
    await openPhoto(heic('thumbnail'));
    const before = process.memoryUsage().rss;
    for (let i = 0; i < 8; i += 1) await openPhoto(heic('thumbnail'));
    // Each worker takes 20 MB at the least: its own engine, and 16 MB of WebAssembly memory.
    expect((process.memoryUsage().rss - before) / 1e6).toBeLessThan(60);
  });
});
