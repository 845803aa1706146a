import ndarray from 'ndarray';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { uprightView } from '../../src/imaging/orientation.js';
import { readCsv } from '../helpers/readReference.js';

const [ROWS, COLUMNS] = [3, 5];
const stored = ndarray(
  Uint8Array.from({ length: ROWS * COLUMNS }, (_, i) => 10 * i + 7),
  [ROWS, COLUMNS],
);

/** All values, row by row. */
function values(image: CodeImage): number[][] {
  return Array.from({ length: image.shape[0]! }, (_, row) =>
    Array.from({ length: image.shape[1]! }, (__, column) => image.get(row, column)),
  );
}

describe('uprightView', () => {
  const rows = readCsv('exif_orientation.csv', ['value', 'swaps_size'], ['X', 'Y', 'operation']);

  test.each(rows)('$value: $operation', ({ value, swaps_size: swaps, X, Y }) => {
    // Source: Exif 0x0112, mapping (x, y) stored → (X, Y) shown: test/reference/exif_orientation.csv.
    const shown = uprightView(stored, value);
    expect(shown.shape).toEqual(swaps === 1 ? [COLUMNS, ROWS] : [ROWS, COLUMNS]);
    for (let y = 0; y < ROWS; y += 1) {
      for (let x = 0; x < COLUMNS; x += 1) {
        const terms: Record<string, number> = { x, y, 'W-1-x': COLUMNS - 1 - x, 'H-1-y': ROWS - 1 - y };
        expect(shown.get(terms[Y]!, terms[X]!)).toBe(stored.get(y, x));
      }
    }
  });

  test.each(rows)('$value: as an image library shows it', async ({ value }) => {
    // Source: libvips through sharp, which turns a tagged file upright itself.
    const tagged = await sharp(stored.data, { raw: { width: COLUMNS, height: ROWS, channels: 1 } })
      .withMetadata({ orientation: value })
      .tiff({ compression: 'none' })
      .toBuffer();
    expect((await sharp(tagged).metadata()).orientation).toBe(value);
    const { data, info } = await sharp(tagged)
      .autoOrient()
      .greyscale()
      .raw()
      .toBuffer({ resolveWithObject: true });
    const expected = ndarray(
      new Uint8Array(data),
      [info.height, info.width],
      [info.width * info.channels, info.channels],
    );
    expect(values(uprightView(stored, value))).toEqual(values(expected));
  });

  test('copies nothing, and turns a view as well as a whole raster', () => {
    for (let value = 1; value <= 8; value += 1) expect(uprightView(stored, value).data).toBe(stored.data);
    const part = stored.lo(1, 1).hi(2, 3);
    // 180° twice is where it started.
    expect(values(uprightView(uprightView(part, 3), 3))).toEqual(values(part));
    expect(values(uprightView(part, 2))).toEqual(values(part).map((row) => row.reverse()));
  });

  test.each([0, 9, 1.5, NaN])('refuses orientation %d', (value) => {
    expect(() => uprightView(stored, value)).toThrow(/Exif orientation from 1 to 8 but received/);
  });
});
