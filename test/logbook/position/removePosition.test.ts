import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { deflateSync, inflateSync } from 'node:zlib';
import readExif from 'exif-reader';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { mutate, wholeFiles } from '../../../scripts/files/mutate.js';
import { InputError } from '../../../src/core/errors.js';
import { removePosition } from '../../../src/logbook/position/removePosition.js';
import { inspectPhoto } from '../../../src/photo/decode.js';
import { openPhoto } from '../../../src/photo/openPhoto.js';
import { drawnPicture } from '../../helpers/drawnPicture.js';
import { photoPath } from '../../helpers/measured.js';
import { iptcBlock, phoneExif, SECRET, tiffBlock, xmpPacket } from './exifBlock.js';

const picture = () => drawnPicture(3).resize(120, 80);

function segment(marker: number, ...parts: readonly (string | Buffer)[]): Buffer {
  const content = Buffer.concat(
    parts.map((part) => (typeof part === 'string' ? Buffer.from(part, 'latin1') : part)),
  );
  const head = Buffer.from([0xff, marker, 0, 0]);
  head.writeUInt16BE(content.length + 2, 2);
  return Buffer.concat([head, content]);
}

/** Puts segments behind the first marker. */
function withSegments(jpeg: Buffer, ...segments: readonly Buffer[]): Buffer {
  return Buffer.concat([jpeg.subarray(0, 2), ...segments, jpeg.subarray(2)]);
}

const exifSegment = (block: Buffer): Buffer => segment(0xe1, 'Exif\0\0', block);
const xmpSegment = (packet: string): Buffer =>
  segment(0xe1, 'http://ns.adobe.com/xap/1.0/\0', Buffer.from(packet));

/** Image resources with an IPTC block and its sum (Photoshop file formats, image resources, from memory). */
function photoshopSegment(): Buffer {
  const resource = (id: number, data: Buffer): Buffer => {
    const head = Buffer.alloc(12);
    head.write('8BIM', 'latin1');
    head.writeUInt16BE(id, 4);
    head.writeUInt32BE(data.length, 8);
    return Buffer.concat([head, data, Buffer.alloc(data.length % 2)]);
  };
  const iptc = iptcBlock();
  const sum = createHash('md5').update(iptc).digest();
  return segment(0xed, 'Photoshop 3.0\0', resource(0x0404, iptc), resource(0x0425, sum));
}

/** A long XMP packet in pieces, cut in the middle of the secret (XMP Specification Part 3, 1.1.3.1, from memory). */
function longXmp(): { readonly pieces: readonly Buffer[]; readonly name: string } {
  const text = Buffer.from(xmpPacket('element'));
  const name = createHash('md5').update(text).digest('hex').toUpperCase();
  const cut = text.indexOf(SECRET) + 4;
  const piece = (from: number, to: number): Buffer => {
    const numbers = Buffer.alloc(8);
    numbers.writeUInt32BE(text.length);
    numbers.writeUInt32BE(from, 4);
    return segment(0xe1, 'http://ns.adobe.com/xmp/extension/\0', name, numbers, text.subarray(from, to));
  };
  return { pieces: [piece(0, cut), piece(cut, text.length)], name };
}

const plainJpeg = await picture().jpeg().toBuffer();
const smallJpeg = await picture().resize(16, 12).jpeg().toBuffer();

/** A photo as a phone and a few programs after it may leave it, with a secret in every place. */
function fullJpeg(little: boolean): Buffer {
  const thumbnail = withSegments(smallJpeg, exifSegment(phoneExif({ little: !little })));
  const { pieces, name } = longXmp();
  const main = withSegments(
    plainJpeg,
    exifSegment(phoneExif({ little, thumbnail, remains: Buffer.from(`${SECRET} of an earlier edit`) })),
    xmpSegment(xmpPacket('attribute').replace('xmp:Rating', `xmpNote:HasExtendedXMP="${name}" xmp:Rating`)),
    ...pieces,
    photoshopSegment(),
    segment(0xeb, 'JP\0\0', SECRET),
    segment(0xe4, SECRET),
    segment(0xfe, 'a comment by hand'),
  );
  const second = withSegments(smallJpeg, exifSegment(phoneExif({ little })));
  const film = Buffer.from(`\0\0\0\x18ftypmp42\0\0\0\0${SECRET}`);
  return Buffer.concat([main, second, film]);
}

/** Everything that a file holds, also what is packed in it. */
function contentOf(bytes: Uint8Array): string {
  const data = Buffer.from(bytes);
  const parts = [data.toString('latin1')];
  if (data.toString('latin1', 1, 4) === 'PNG') {
    for (let at = 8; at + 12 <= data.length; at += 12 + data.readUInt32BE(at)) {
      const content = data.subarray(at + 8, at + 8 + data.readUInt32BE(at));
      for (let from = 0; from < Math.min(content.length, 100); from += 1) {
        try {
          parts.push(inflateSync(content.subarray(from)).toString('latin1'));
        } catch {
          // Nothing packed begins here.
        }
      }
    }
  }
  return parts.join('\n');
}

/** No secret, nor the seconds of its latitude in either order of bytes, nor its beginning in the letters of a file. */
function expectNoSecret(bytes: Uint8Array): void {
  const content = contentOf(bytes);
  for (const secret of [
    SECRET,
    'PLACE',
    '\x5e\xc2\x37\x12',
    '\x12\x37\xc2\x5e',
    Buffer.from(SECRET).toString('base64').slice(0, 12),
  ]) {
    expect(content.includes(secret), JSON.stringify(secret)).toBe(false);
  }
}

// Source of "the same picture": sharp (libvips), which knows nothing of us.
async function expectSamePicture(before: Uint8Array, after: Uint8Array): Promise<void> {
  const [a, b] = await Promise.all(
    [before, after].map((bytes) => sharp(bytes, { failOn: 'none' }).raw().toBuffer()),
  );
  expect(Buffer.compare(a!, b!)).toBe(0);
  expect(await inspectPhoto(after)).toEqual(await inspectPhoto(before));
}

describe('JPEG', () => {
  test.each([true, false])(
    'with a position in every place loses it and nothing else (little endian: %s)',
    async (little) => {
      const before = fullJpeg(little);
      const copy = Buffer.from(before);
      const { bytes, removed, extension } = removePosition(before);
      expect(before.equals(copy)).toBe(true);
      expect(extension).toBe('jpg');
      expectNoSecret(bytes);
      await expectSamePicture(before, bytes);
      // Source: exif-reader and libvips, outside the project, read what is left.
      const { exif, xmp, iptc } = await sharp(bytes).metadata();
      const tags = readExif(exif!);
      expect(tags.GPSInfo).toBeUndefined();
      expect(tags.Photo).toMatchObject({ FocalLength: 5.7, FocalLengthIn35mmFilm: 26 });
      expect(tags.Photo!.DateTimeOriginal!.toISOString()).toBe('2026-03-14T18:02:11.000Z');
      expect(tags.Image).toMatchObject({ Orientation: 6, Make: 'camera of nobody' });
      expect(Buffer.from(tags.Photo!.UserComment as Uint8Array).toString()).toContain('raking light');
      expect(xmp!.toString()).toMatch(/xmp:Rating="4"[\s\S]*2026-03-14T18:02:11/);
      expect(iptc!.toString('latin1')).toContain('tower');
      expect(Buffer.from(bytes).toString('latin1')).toContain('a comment by hand');
      expect(removed).toEqual(
        expect.arrayContaining([
          'position (EXIF)',
          "the maker's notes",
          'fields that only their maker knows',
          'position or names of places (XMP)',
          'names of places (IPTC)',
          'in the thumbnail: position (EXIF)',
          'data that only their maker knows (APP11)',
        ]),
      );
      expect(removed.at(-1)).toMatch(/^\d+ bytes behind the picture/);
      // The thumbnail is still one.
      expect(
        (await sharp(Buffer.from(bytes).subarray(Buffer.from(bytes).indexOf('ffd8ff', 4, 'hex'))).metadata())
          .width,
      ).toBe(16);
    },
  );

  test('once cleaned there is nothing left to remove', () => {
    const { bytes } = removePosition(fullJpeg(true));
    const again = removePosition(bytes);
    expect(again.removed).toEqual([]);
    expect(Buffer.compare(again.bytes, bytes)).toBe(0);
  });

  test('long XMP keeps its name: the hash of its pieces, in the packet that leads to them', () => {
    const bytes = Buffer.from(removePosition(fullJpeg(true)).bytes);
    const [, told] = /HasExtendedXMP="([0-9A-F]{32})"/.exec(bytes.toString('latin1'))!;
    const pieces: Buffer[] = [];
    const mark = 'http://ns.adobe.com/xmp/extension/\0';
    for (let at = bytes.indexOf(mark); at >= 0; at = bytes.indexOf(mark, at + 1)) {
      const from = at + mark.length;
      expect(bytes.toString('latin1', from, from + 32)).toBe(told);
      pieces.push(bytes.subarray(from + 40, at - 2 + bytes.readUInt16BE(at - 2)));
    }
    expect(pieces).toHaveLength(2);
    expect(createHash('md5').update(Buffer.concat(pieces)).digest('hex').toUpperCase()).toBe(told);
  });

  test.each(['attribute', 'element', 'structure', 'file'] as const)(
    'a place in XMP as %s goes, what stands beside it stays',
    async (how) => {
      const before = withSegments(plainJpeg, xmpSegment(xmpPacket(how)));
      const { bytes, removed } = removePosition(before);
      expectNoSecret(bytes);
      expect(removed).toEqual([how === 'file' ? 'files inside XMP' : 'position or names of places (XMP)']);
      expect((await sharp(bytes).metadata()).xmp!.toString()).toContain(
        '<xmp:CreateDate>2026-03-14T18:02:11</xmp:CreateDate>',
      );
    },
  );

  test('XMP, EXIF and resources that cannot be understood are blanked, and that is told', async () => {
    const utf16 = Buffer.concat([
      Buffer.from('http://ns.adobe.com/xap/1.0/\0'),
      Buffer.from(xmpPacket('element'), 'utf16le'),
    ]);
    const before = withSegments(
      plainJpeg,
      segment(0xe1, utf16),
      xmpSegment(`<a><b>${SECRET}</a>`),
      exifSegment(Buffer.from(`XX${SECRET}`)),
      segment(0xed, 'Photoshop 3.0\0', '8BIM\x04\x04\0\0\x7f\xff\xff\xff', SECRET),
    );
    const { bytes, removed } = removePosition(before);
    expectNoSecret(bytes);
    await expectSamePicture(before, bytes);
    expect(removed).toEqual([
      'XMP that could not be understood',
      'EXIF that could not be understood',
      'data of a picture editor that could not be understood',
    ]);
  });

  test('a photo without a position is stored byte for byte', () => {
    for (const file of readdirSync(photoPath('.')).filter((name) => name.endsWith('.jpg'))) {
      const before = readFileSync(photoPath(file));
      const { bytes, removed } = removePosition(before);
      expect([file, removed]).toEqual([file, []]);
      expect(Buffer.compare(before, bytes)).toBe(0);
    }
  });
});

describe('other formats', () => {
  const exif = {
    IFD0: { Make: 'nobody' },
    IFD2: { FocalLengthIn35mmFilm: '26' },
    IFD3: { GPSAreaInformation: SECRET, GPSDateStamp: SECRET },
  };
  const withAll = () => picture().withExif(exif).withXmp(xmpPacket('element'));

  test.each([
    ['png', () => withAll().png().toBuffer()],
    ['webp', () => withAll().webp({ lossless: true }).toBuffer()],
    ['tiff', () => withAll().tiff({ compression: 'lzw' }).toBuffer()],
    ['tiff', () => withAll().tiff({ compression: 'jpeg', tile: true }).toBuffer()],
    ['avif', () => withAll().avif({ quality: 60, effort: 1 }).toBuffer()],
    ['jpg', () => withAll().jpeg().toBuffer()],
  ] as const)('%s as libvips writes it loses its position and keeps the rest', async (kind, make) => {
    const before = await make();
    expect(contentOf(before)).toContain(SECRET);
    const { bytes, removed, extension } = removePosition(before);
    expect(extension).toBe(kind);
    expectNoSecret(bytes);
    await expectSamePicture(before, bytes);
    const [had, has] = [await sharp(before).metadata(), await sharp(bytes).metadata()];
    // libvips gives a TIFF file's EXIF to nobody.
    expect([had.exif === undefined, had.xmp === undefined]).toEqual([kind === 'tiff', false]);
    if (has.exif !== undefined) {
      const left = readExif(has.exif);
      expect(left.GPSInfo).toBeUndefined();
      expect(left.Photo!.FocalLengthIn35mmFilm).toBe(26);
    }
    expect(has.xmp!.toString()).toContain('<xmp:CreateDate>2026-03-14T18:02:11</xmp:CreateDate>');
    expect(removed).toEqual([
      ...(had.exif === undefined ? [] : ['position (EXIF)']),
      'position or names of places (XMP)',
    ]);
    expect(removePosition(bytes).removed).toEqual([]);
  });

  test('PNG texts: packed XMP, EXIF in letters, places and unknown chunks', async () => {
    const chunk = (type: string, content: string | Buffer): Buffer => {
      const data = Buffer.concat([
        Buffer.from(type),
        typeof content === 'string' ? Buffer.from(content, 'latin1') : content,
      ]);
      const [size, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
      size.writeUInt32BE(data.length - 4);
      return Buffer.concat([size, data, sum]);
    };
    const packed = Buffer.concat([
      Buffer.from('XML:com.adobe.xmp\0\x01\0\0\0'),
      deflateSync(xmpPacket('element')),
    ]);
    const png = await picture().png().toBuffer();
    const before = Buffer.concat([
      png.subarray(0, 33),
      chunk('iTXt', packed),
      chunk('zTXt', Buffer.concat([Buffer.from('Raw profile type exif\0\0'), deflateSync(SECRET)])),
      chunk('tEXt', `GPS\0${SECRET}`),
      chunk('tEXt', 'Title\0tower'),
      chunk('caBX', SECRET),
      png.subarray(33),
      Buffer.from(SECRET),
    ]);
    const { bytes, removed } = removePosition(before);
    expectNoSecret(bytes);
    await expectSamePicture(png, bytes);
    expect(contentOf(bytes)).toContain('Title\0tower');
    expect(removed).toHaveLength(5);
  });

  test('a TIFF file on a map loses its place, and its strips stay', async () => {
    const tiff = await picture().tiff({ compression: 'none' }).toBuffer();
    // Source: GeoTIFF 1.1, ModelTiepointTag 33922; the field is put in by moving the directory to the end.
    const little = tiff.toString('latin1', 0, 2) === 'II';
    expect(little).toBe(true);
    const at = tiff.readUInt32LE(4);
    const count = tiff.readUInt16LE(at);
    const secret = Buffer.from(SECRET.padEnd(48, '!'));
    const field = Buffer.alloc(12);
    field.writeUInt16LE(33922);
    field.writeUInt16LE(12, 2);
    field.writeUInt32LE(6, 4);
    const secretAt = tiff.length;
    field.writeUInt32LE(secretAt, 8);
    const table = Buffer.concat([
      Buffer.alloc(2),
      tiff.subarray(at + 2, at + 2 + 12 * count),
      field,
      Buffer.alloc(4),
    ]);
    table.writeUInt16LE(count + 1);
    const before = Buffer.concat([tiff, secret, table]);
    before.writeUInt32LE(secretAt + secret.length, 4);
    const { bytes, removed } = removePosition(before);
    expectNoSecret(bytes);
    expect(removed).toEqual(['position on a map (GeoTIFF)']);
    await expectSamePicture(before, bytes);
  });

  test('HEIC files of another encoder keep their pictures', async () => {
    const folder = new URL('../../photo/heic/', import.meta.url);
    for (const name of ['exif.heic', 'thumbnail.heic']) {
      const before = readFileSync(new URL(name, folder));
      const { bytes, extension } = removePosition(before);
      expect(extension).toBe('heic');
      expect(bytes.length).toBe(before.length);
      const [a, b] = [await openPhoto(before), await openPhoto(bytes)];
      expect(a.info).toEqual(b.info);
      expect(Buffer.compare(Buffer.from((await a.codes()).data), Buffer.from((await b.codes()).data))).toBe(
        0,
      );
    }
  });

  test('a position in a HEIC item goes: one of the same length is put in its place', () => {
    const before = Buffer.from(readFileSync(new URL('../../photo/heic/exif.heic', import.meta.url)));
    const from = before.indexOf('II*\0');
    expect(from).toBeGreaterThan(0);
    // The GPS directory lies where the EXIF one did: enough to be read, and it must be gone.
    const text = tiffBlock(
      [{ tag: 0x8825, type: 4, value: [{ tag: 0x1c, type: 7, value: Buffer.from(SECRET) }] }],
      { little: true },
    );
    before.set(text, from);
    const { bytes, removed } = removePosition(before);
    expectNoSecret(bytes);
    expect(removed).toContain('position (EXIF)');
    expect(bytes.length).toBe(before.length);
  });
});

describe('what is not certain', () => {
  test('is refused, and kept only when asked for', async () => {
    const big = await picture().tiff({ bigtiff: true }).toBuffer();
    for (const bytes of [
      big,
      Buffer.from('\xff\xd8\xff\x00garbage', 'latin1'),
      Buffer.from('RIFF\xff\xff\xff\x7fWEBPVP8 ', 'latin1'),
    ]) {
      expect(() => removePosition(bytes)).toThrow(
        expect.objectContaining({
          code: 'position-unsure',
          advice: expect.stringMatching(/--keep-position/) as string,
        }) as Error,
      );
      expect(removePosition(bytes, true).bytes).toBe(bytes);
    }
    expect(() => removePosition(Buffer.from('text'))).toThrow(
      expect.objectContaining({ code: 'photo-format' }) as Error,
    );
  });

  test('a directory that lies in the picture is not written over', async () => {
    const tiff = await picture().tiff({ compression: 'none' }).toBuffer();
    const at = tiff.readUInt32LE(4);
    // Where the strips begin there is made to be a GPS directory.
    const last = at + 2 + 12 * (tiff.readUInt16LE(at) - 1);
    tiff.writeUInt16LE(0x8825, last);
    tiff.writeUInt16LE(4, last + 2);
    tiff.writeUInt32LE(1, last + 4);
    tiff.writeUInt32LE(8, last + 8);
    tiff.writeUInt16LE(1, 8);
    expect(() => removePosition(tiff)).toThrow(expect.objectContaining({ code: 'position-unsure' }) as Error);
  });
});

test('files with something done to them are cleaned or refused, and the picture stays what it was', async () => {
  const files = await wholeFiles(
    () =>
      drawnPicture(3)
        .resize(240, 160)
        .withExif({ IFD3: { GPSAreaInformation: SECRET } }),
    [{ name: 'full', bytes: fullJpeg(true) }],
  );
  let cleaned = 0;
  for (let seed = 1; seed <= 150; seed += 1) {
    const { bytes } = mutate(files, seed);
    let clean: Uint8Array;
    try {
      ({ bytes: clean } = removePosition(bytes));
    } catch (error) {
      expect(error).toBeInstanceOf(InputError);
      continue;
    }
    const raw = (data: Uint8Array) =>
      sharp(data, { failOn: 'none' })
        .raw()
        .toBuffer()
        .catch(() => Buffer.from('none'));
    const [a, b] = [await raw(bytes), await raw(clean)];
    // What a decoder could not read may become readable, never the other way round.
    if (a.toString('latin1') !== 'none') {
      expect(Buffer.compare(a, b), `seed ${seed}`).toBe(0);
      cleaned += 1;
    }
  }
  expect(cleaned).toBeGreaterThan(40);
});
