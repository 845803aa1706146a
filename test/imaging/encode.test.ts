import ndarray from 'ndarray';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { GreyImage } from '../../src/core/image.js';
import { encodeFace, renderPng } from '../../src/imaging/encode.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

function image(rows: number, columns: number, light: (row: number, column: number) => number): GreyImage {
  const data = new Float32Array(rows * columns);
  data.forEach((_, i) => (data[i] = light(Math.floor(i / columns), i % columns)));
  return ndarray(data, [rows, columns]);
}

/** Decodes a data URI to grey codes with the picture library, one code per px. */
async function decode(uri: string) {
  const match = /^data:image\/jpeg;base64,([A-Za-z0-9+/]+=*)$/.exec(uri);
  const file = Buffer.from(match?.[1] ?? '', 'base64');
  const { channels } = await sharp(file).metadata();
  const { data, info } = await sharp(file).toColourspace('b-w').raw().toBuffer({ resolveWithObject: true });
  return { codes: Array.from(data), width: info.width, height: info.height, channels };
}

describe('encodeFace', () => {
  test('codes linear light by the sRGB curve', async () => {
    // Source: test/reference/srgb.csv, IEC 61966-2-1. Every fifteenth code as a field of 16 × 16 px, the size of
    // a JPEG block pair, so that the loss of JPEG is that of a flat field.
    const rows = readCsv('srgb.csv', ['code', 'linear']).filter(({ code }) => code % 15 === 0);
    const face = image(16, 16 * rows.length, (_, column) => rows[Math.floor(column / 16)]!.linear);
    const { codes, width, height, channels } = await decode(await encodeFace(face, 16 * rows.length));
    expect([width, height, channels]).toEqual([16 * rows.length, 16, 1]);
    const middles = rows.map((_, i) => codes[8 * width + 16 * i + 8]!);
    expectClose(
      middles,
      rows.map(({ code }) => code),
      { abs: 1, why: 'JPEG quality, one code on a flat field' },
    );
  });

  test('shrinks by averaging light, not codes', async () => {
    // Source: closed form. The mean of black and white is linear 0.5, which IEC 61966-2-1 codes as
    // 255 · (1.055 · 0.5^(1/2.4) − 0.055) = 187.5; a mean of codes would be 127.5.
    const face = image(64, 256, (row, column) => (row + column) % 2);
    const { codes, width, height } = await decode(await encodeFace(face, 64));
    expect([width, height]).toEqual([64, 16]);
    expectClose(codes[8 * width + 30]!, 187.5, { abs: 2, why: 'JPEG quality and 8-bit rounding' });
  });

  test('neither widens a small face nor stretches its contrast', async () => {
    const face = image(32, 32, (row) => (row < 16 ? 0.2 : 0.21));
    const { codes, width, height } = await decode(await encodeFace(face, 1200));
    expect([width, height]).toEqual([32, 32]);
    // Source: IEC 61966-2-1: linear 0.20 and 0.21 code as 123.6 and 126.4.
    expectClose([codes[8 * 32 + 8]!, codes[24 * 32 + 8]!], [123.6, 126.4], {
      abs: 1.5,
      why: 'JPEG and rounding',
    });
  });

  test('reads a strided view as it stands', async () => {
    const upright = image(16, 48, (row, column) => (column < 16 ? 0.1 : row < 8 ? 0.4 : 0.8));
    const transposed = image(48, 16, (column, row) => upright.get(row, column)).transpose(1, 0);
    expect(await encodeFace(transposed, 100)).toBe(await encodeFace(upright, 100));
  });

  test('light outside 0 to 1 is cut off, not wrapped', async () => {
    const { codes } = await decode(
      await encodeFace(
        image(16, 32, (_, column) => (column < 16 ? -0.2 : 1.3)),
        32,
      ),
    );
    expectClose([codes[8 * 32 + 4]!, codes[8 * 32 + 28]!], [0, 255], { abs: 1, why: 'JPEG quality' });
  });

  test('refuses an empty face and an impossible width', async () => {
    await expect(
      encodeFace(
        image(0, 0, () => 0),
        10,
      ),
    ).rejects.toThrow(/a face but received 0 × 0/);
    await expect(
      encodeFace(
        image(2, 2, () => 0),
        0,
      ),
    ).rejects.toThrow(/above 0 for maxWidthPx but received 0/);
    await expect(
      encodeFace(
        image(2, 2, () => 0),
        1.5,
      ),
    ).rejects.toThrow(/whole number/);
  });
});

describe('renderPng', () => {
  const svg = (body: string) =>
    `<svg xmlns="http://www.w3.org/2000/svg" width="120" height="40"><rect width="120" height="40" fill="#fff"/>${body}</svg>`;

  async function darkPixels(text: string): Promise<number> {
    const png = await renderPng(svg(text));
    const grey = await sharp(png).toColourspace('b-w').raw().toBuffer();
    return grey.filter((code) => code < 128).length;
  }

  test('draws text with the fonts that come along, bold ones bolder, unknown families too', async () => {
    const say = (style: string) => darkPixels(`<text x="5" y="28" font-size="24" ${style}>41 Hz</text>`);
    const plain = await say('font-family="DejaVu Sans, Verdana, sans-serif"');
    const bold = await say('font-family="DejaVu Sans" font-weight="bold"');
    expect(plain).toBeGreaterThan(100);
    expect(bold).toBeGreaterThan(1.2 * plain);
    expect(await say('font-family="no such family, sans-serif"')).toBe(plain);
    expect(await darkPixels('')).toBe(0);
  });

  test('draws an embedded face', async () => {
    const uri = await encodeFace(
      image(20, 20, () => 0),
      20,
    );
    expect(await darkPixels(`<image x="10" y="10" width="20" height="20" href="${uri}"/>`)).toBe(400);
  });

  test('as wide as asked for, else as the document says', async () => {
    expect((await sharp(await renderPng(svg(''))).metadata()).width).toBe(120);
    const wide = await sharp(await renderPng(svg(''), 300)).metadata();
    expect([wide.width, wide.height]).toEqual([300, 100]);
  });

  test('what is not SVG is an error', async () => {
    await expect(renderPng('not a drawing')).rejects.toThrow();
  });
});
