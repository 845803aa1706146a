import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { decodeRegion, inspectPhoto, type PhotoInfo, type RegionPx } from '../../src/photo/decode.js';
import { expectClose } from '../helpers/closeTo.js';
import { DRAWN, drawnCode, drawnPicture } from '../helpers/drawnPicture.js';
import { photoBytes, photoTruth, PHOTO_NAMES } from '../helpers/measured.js';
import { pngHeader } from '../helpers/pngHeader.js';
import { readCsv } from '../helpers/readReference.js';
import { inputErrorOf } from '../helpers/thrown.js';

const { widthPx: WIDTH, heightPx: HEIGHT } = DRAWN;
const code = drawnCode;
const picture = drawnPicture;
const grey = () => picture(1).toColourspace('b-w');

/** All codes, row by row. */
function codes(image: CodeImage): number[] {
  const [rows, columns] = image.shape as [number, number];
  return Array.from({ length: rows * columns }, (_, i) => image.get(Math.floor(i / columns), i % columns));
}

const whole = ({ widthPx, heightPx }: PhotoInfo): RegionPx => ({
  left: 0,
  top: 0,
  width: widthPx,
  height: heightPx,
});

async function decodeWhole(bytes: Uint8Array): Promise<number[]> {
  const info = await inspectPhoto(bytes);
  return codes(await decodeRegion(bytes, info, whole(info)));
}

/** IEC 61966-2-1, written out again here. */
const toLinear = (c: number) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
const toCode = (l: number) => (l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055);

/** Grey code of a colour: ITU-R BT.709 luminance (0.2126, 0.7152, 0.0722; from memory) of linear light. */
function luminanceCode(r: number, g: number, b: number): number {
  return 255 * toCode(0.2126 * toLinear(r / 255) + 0.7152 * toLinear(g / 255) + 0.0722 * toLinear(b / 255));
}

const everyPx = <T>(value: (x: number, y: number) => T): T[] =>
  Array.from({ length: WIDTH * HEIGHT }, (_, i) => value(i % WIDTH, Math.floor(i / WIDTH)));

const GREY = everyPx((x, y) => code(x, y, 0));
const LUMINANCE = everyPx((x, y) => luminanceCode(code(x, y, 0), code(x, y, 1), code(x, y, 2)));

describe('formats', () => {
  const formats: readonly (readonly [PhotoInfo['format'], (from: Sharp) => Sharp, number])[] = [
    ['jpeg', (from) => from.jpeg({ quality: 100, chromaSubsampling: '4:4:4' }), 2],
    ['png', (from) => from.png(), 0],
    ['webp', (from) => from.webp({ lossless: true }), 0],
    ['tiff', (from) => from.tiff({ compression: 'deflate' }), 0],
    ['avif', (from) => from.avif({ quality: 100, chromaSubsampling: '4:4:4' }), 3],
  ];

  test.each(formats)('%s, grey and colour', async (format, encode, loss) => {
    const greyBytes = await encode(grey()).toBuffer();
    expect(await inspectPhoto(greyBytes)).toMatchObject({
      format,
      widthPx: WIDTH,
      heightPx: HEIGHT,
      orientation: 1,
      bits: 8,
    });
    // Source: the codes that were drawn.
    expectClose(await decodeWhole(greyBytes), GREY, { abs: loss, why: 'codes that the format itself loses' });
    // Source: luminance of the drawn colours by IEC 61966-2-1 and ITU-R BT.709.
    expectClose(await decodeWhole(await encode(picture(3)).toBuffer()), LUMINANCE, {
      abs: loss + 1,
      why: 'rounding, after what the format loses',
    });
  });

  test.each(['png', 'tiff'] as const)('%s with 16 bits keeps them', async (format) => {
    const deep = Uint16Array.from({ length: WIDTH * HEIGHT }, (_, i) => (i * 27) % 65_536);
    const bytes = await sharp(deep, { raw: { width: WIDTH, height: HEIGHT, channels: 1 } })
      .toColourspace('grey16')
      .toFormat(format, { compression: 'deflate' })
      .toBuffer();
    const info = await inspectPhoto(bytes);
    expect(info).toMatchObject({ format, bits: 16 });
    const region = await decodeRegion(bytes, info, { left: 7, top: 5, width: 20, height: 11 });
    expect(region.data).toBeInstanceOf(Uint16Array);
    // Source: the codes that were drawn.
    expect(codes(region)).toEqual(
      Array.from({ length: 20 * 11 }, (_, i) => deep[(5 + Math.floor(i / 20)) * WIDTH + 7 + (i % 20)]),
    );
  });

  test('16 bits of colour become 16 bits of grey', async () => {
    // Equal channels are grey whatever the weights are.
    const values = Uint16Array.from(
      { length: WIDTH * HEIGHT * 3 },
      (_, i) => (Math.floor(i / 3) * 27) % 65_536,
    );
    const bytes = await sharp(values, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
      .toColourspace('rgb16')
      .png()
      .toBuffer();
    expect((await inspectPhoto(bytes)).bits).toBe(16);
    expectClose(
      await decodeWhole(bytes),
      everyPx((x, y) => ((y * WIDTH + x) * 27) % 65_536),
      {
        abs: 40,
        why: 'the library converts through floating point: below 0.1 % of full scale',
      },
    );
  });

  test('what is transparent is black, half of it half the code', async () => {
    const half = (x: number, y: number, channel: number) => (code(x, y, channel) * 127) / 255;
    for (const encode of [(from: Sharp) => from.png(), (from: Sharp) => from.webp({ lossless: true })]) {
      const faint = await decodeWhole(await encode(picture(3).ensureAlpha(0.5)).toBuffer());
      // Source: closed form, codes blended with 0 in the proportion 127 : 255.
      expectClose(
        faint,
        everyPx((x, y) => luminanceCode(half(x, y, 0), half(x, y, 1), half(x, y, 2))),
        { abs: 2, why: 'channels are rounded down before they become grey, and the grey is rounded' },
      );
      const clear = await decodeWhole(await encode(picture(3).ensureAlpha(0)).toBuffer());
      expect(new Set(clear)).toEqual(new Set([0]));
    }
  });

  test('a resolution tag is read', async () => {
    expect(await inspectPhoto(await grey().png().withMetadata({ density: 600 }).toBuffer())).toMatchObject({
      dotsPerInch: 600,
    });
    expect(await inspectPhoto(await grey().png().toBuffer())).not.toHaveProperty('dotsPerInch');
  });

  test("a resolution tag that can be no scanner's is not read", async () => {
    const tagged = async (density: number, IFD2: Readonly<Record<string, string>> = {}) =>
      (
        await inspectPhoto(
          await picture(3).jpeg().withMetadata({ density }).withExifMerge({ IFD2 }).toBuffer(),
        )
      ).dotsPerInch;
    // Scanners begin at 100, fillers are 72 and 96: common practice, no source.
    expect([
      await tagged(72),
      await tagged(96),
      await tagged(99),
      await tagged(100),
      await tagged(300),
    ]).toEqual([undefined, undefined, undefined, 100, 300]);
    // Source: CIPA DC-008 (Exif 2.3), what a camera writes (from memory).
    for (const [tag, value] of [
      ['FocalLength', '51/10'],
      ['FocalLengthIn35mmFilm', '26'],
      ['ExposureTime', '1/60'],
      ['FNumber', '18/10'],
      ['ISOSpeedRatings', '100'],
      ['ShutterSpeedValue', '59/10'],
      ['ApertureValue', '17/10'],
    ] as const) {
      expect(await tagged(300, { [tag]: value }), tag).toBeUndefined();
    }
    // A scanner has a clock.
    expect(await tagged(300, { DateTimeOriginal: '2026:03:14 18:02:11' })).toBe(300);
  });

  test.each(PHOTO_NAMES)('%s has a tag, but is no scan', async (name) => {
    expect((await sharp(photoBytes(name)).metadata()).density).toBe(72);
    expect((await inspectPhoto(photoBytes(name))).dotsPerInch).toBeUndefined();
  });
});

describe('orientation', () => {
  const rows = readCsv('exif_orientation.csv', ['value', 'swaps_size'], ['X', 'Y', 'operation']);

  test.each(rows)('$value: $operation, the whole and a part', async ({ value, swaps_size: swaps, X, Y }) => {
    const bytes = await grey().withMetadata({ orientation: value }).png().toBuffer();
    const info = await inspectPhoto(bytes);
    expect([info.orientation, info.widthPx, info.heightPx]).toEqual(
      swaps === 1 ? [value, HEIGHT, WIDTH] : [value, WIDTH, HEIGHT],
    );
    // Source: Exif 0x0112, mapping (x, y) stored → (X, Y) shown: test/reference/exif_orientation.csv.
    const shown = new Map<string, number>();
    for (let y = 0; y < HEIGHT; y += 1) {
      for (let x = 0; x < WIDTH; x += 1) {
        const terms: Record<string, number> = { x, y, 'W-1-x': WIDTH - 1 - x, 'H-1-y': HEIGHT - 1 - y };
        shown.set(`${terms[X]!},${terms[Y]!}`, code(x, y, 0));
      }
    }
    for (const region of [whole(info), { left: 3, top: 8, width: 21, height: 17 }]) {
      const image = await decodeRegion(bytes, info, region);
      expect(image.shape).toEqual([region.height, region.width]);
      expect(codes(image)).toEqual(
        Array.from({ length: region.width * region.height }, (_, i) =>
          shown.get(`${region.left + (i % region.width)},${region.top + Math.floor(i / region.width)}`),
        ),
      );
    }
  });

  // Source: libvips through sharp, which turns and cuts by itself.
  test.each(['white-card', 'silver-face-only', 'black-markers'] as const)(
    'a region of %s is what an image library cuts out',
    async (name) => {
      const bytes = photoBytes(name);
      const info = await inspectPhoto(bytes);
      const region = { left: 701, top: 1203, width: 160, height: 90 };
      const { data, info: raw } = await sharp(bytes)
        .autoOrient()
        .extract(region)
        .toColourspace('b-w')
        .raw()
        .toBuffer({ resolveWithObject: true });
      expect(raw.channels).toBe(1);
      expect(codes(await decodeRegion(bytes, info, region))).toEqual([...data]);
    },
  );

  test.each(PHOTO_NAMES)('%s has the size that was rendered', async (name) => {
    const { widthPx, heightPx, orientation } = await inspectPhoto(photoBytes(name));
    // Source: truth file of the ray tracer.
    const truth = photoTruth(name);
    expect([widthPx, heightPx, orientation]).toEqual([...truth.upright_size_px, truth.exif_orientation]);
  });
});

const text = (content: string) => new TextEncoder().encode(content);
const SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>';
/** First box of a file after ISO/IEC 14496-12 (from memory): size, `ftyp`, brands. */
const ftyp = (brands: string) =>
  text(`\0\0\0${String.fromCharCode(8 + brands.length)}ftyp${brands}${'\0'.repeat(64)}`);

describe('what is no photo', () => {
  test.each([
    ['an empty file', new Uint8Array(), 'file-empty', /no bytes/],
    ['text', text('This is not a photo, whatever its name says.\n'), 'photo-format', /not a picture/],
    ['an SVG', text(SVG), 'photo-format', /SVG/],
    ['an SVG behind a byte order mark', text(`\uFEFF<?xml version="1.0"?>\n${SVG}`), 'photo-format', /SVG/],
    ['an SVG behind a comment', text(`<!-- a drawing -->\n${SVG}`), 'photo-format', /SVG/],
    ['an SVG far down', text(`<!-- ${'long '.repeat(1000)} -->\n${SVG}`), 'photo-format', /svg/],
    ['HEIC that breaks off', ftyp('heic\0\0\0\0mif1heic'), 'photo-damaged', /breaks off or is damaged/],
    ['HEIC under a general brand that does', ftyp('mif1\0\0\0\0mif1heix'), 'photo-damaged', /breaks off/],
    ['AVIF that breaks off', ftyp('avif\0\0\0\0avifmif1'), 'photo-damaged', /breaks off or is damaged/],
    ['a PNG header of 900 megapixels', pngHeader(30_000, 30_000), 'photo-too-large', /120 megapixels/],
    ['a PNG header of 121 megapixels', pngHeader(11_000, 11_000), 'photo-too-large', /120 megapixels/],
  ])('%s', async (_, bytes, errorCode, message) => {
    const error = await inputErrorOf(() => inspectPhoto(bytes));
    expect(error).toMatchObject({ code: errorCode, message: expect.stringMatching(message) as unknown });
    expect(error.advice).toMatch(/\w+.*\.$/);
  });

  test('a GIF', async () => {
    const error = await inputErrorOf(async () => inspectPhoto(await grey().gif().toBuffer()));
    expect(error).toMatchObject({ code: 'photo-format', message: expect.stringMatching(/gif/) as unknown });
  });

  test('just below the limit it is the missing picture that is told, not its size', async () => {
    const bytes = pngHeader(10_000, 11_999);
    const info = await inspectPhoto(bytes);
    expect(info.widthPx * info.heightPx).toBeLessThanOrEqual(120e6);
    const error = await inputErrorOf(() =>
      decodeRegion(bytes, info, { left: 0, top: 0, width: 9, height: 9 }),
    );
    expect(error.code).toBe('photo-damaged');
  });
});

describe('a photo that breaks off or is damaged', () => {
  const REGION = { left: 5, top: 5, width: 40, height: 10 };
  const photo = () => picture(3).resize(600, 400).jpeg({ quality: 95 }).toBuffer();

  test.each([
    ['in the middle', 0.5],
    ['below the face only', 0.95],
    ['by its last bytes', 0.999],
  ])('a JPEG that breaks off %s', async (_, share) => {
    const bytes = await photo();
    const cut = bytes.subarray(0, Math.floor(share * bytes.length));
    // The region ends 15 px from the top of 400.
    const error = await inputErrorOf(async () => decodeRegion(cut, await inspectPhoto(cut), REGION));
    expect(error.code).toBe('photo-damaged');
    expect(error.message).toMatch(/breaks off or is damaged/);
  });

  test.each(['png', 'webp', 'avif'] as const)('half a %s', async (format) => {
    const bytes = await picture(3).resize(600, 400).toFormat(format).toBuffer();
    const cut = bytes.subarray(0, Math.floor(bytes.length / 2));
    const error = await inputErrorOf(async () => decodeRegion(cut, await inspectPhoto(cut), REGION));
    expect(error.code).toBe('photo-damaged');
  });

  test('a JPEG with a hole in its scan data', async () => {
    const bytes = Buffer.from(photoBytes('blue-markers'));
    bytes.fill(0, Math.floor(0.4 * bytes.length), Math.floor(0.4 * bytes.length) + 2000);
    const error = await inputErrorOf(async () => decodeRegion(bytes, await inspectPhoto(bytes), REGION));
    expect(error.code).toBe('photo-damaged');
  });

  test('the same photo unharmed is read', async () => {
    const bytes = await photo();
    expect((await decodeRegion(bytes, await inspectPhoto(bytes), REGION)).shape).toEqual([10, 40]);
  });
});

describe('a progressive JPEG, whose coefficients are held as a whole', () => {
  /** A small file whose frame header (SOF2: ITU-T T.81, B.2.2) says that it is large. */
  async function claiming(widthPx: number, heightPx: number, chromaSubsampling: string): Promise<Uint8Array> {
    const picture = sharp({ create: { width: 64, height: 64, channels: 3, background: '#765' } });
    const file = await picture.jpeg({ progressive: true, chromaSubsampling }).toBuffer();
    const frame = file.indexOf(Buffer.from([0xff, 0xc2]));
    file.writeUInt16BE(heightPx, frame + 5);
    file.writeUInt16BE(widthPx, frame + 7);
    return file;
  }

  test('is refused where they take too much memory, with what to do', async () => {
    const error = await inputErrorOf(async () => inspectPhoto(await claiming(9000, 12000, '4:4:4')));
    expect(error).toMatchObject({ code: 'photo-too-large' });
    expect(error.message).toMatch(/progressive JPEG of 108 megapixels/);
    expect(error.advice).toMatch(/not progressive/);
  });

  test('is read with halved colours, as phones write them, and where it is smaller', async () => {
    expect(await inspectPhoto(await claiming(9000, 12000, '4:2:0'))).toMatchObject({ widthPx: 9000 });
    expect(await inspectPhoto(await claiming(6000, 8000, '4:4:4'))).toMatchObject({ widthPx: 6000 });
  });

  test('nothing of a picture is kept by the decoder, and its settings are those of before', async () => {
    const bytes = await sharp({ create: { width: 640, height: 640, channels: 3, background: '#765' } })
      .jpeg({ progressive: true })
      .toBuffer();
    const limits = () => {
      const { memory, files, items } = sharp.cache();
      return [memory.max, files.max, items.max];
    };
    const before = limits();
    await decodeWhole(bytes);
    expect(sharp.cache().items.current).toBe(0);
    expect(limits()).toEqual(before);
  });
});
