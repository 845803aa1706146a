import sharp, { type Sharp } from 'sharp';

/**
 * How to get from the upright picture to the raster that an EXIF orientation stores: a clockwise turn, then a mirror
 * (CIPA DC-008, tag 0x0112, by its table of which side row 0 and column 0 show; test/reference/exif_orientation.csv).
 */
const STORED: Readonly<Record<number, { readonly turn: number; readonly mirror?: 'flip' | 'flop' }>> = {
  1: { turn: 0 },
  2: { turn: 0, mirror: 'flop' },
  3: { turn: 180 },
  4: { turn: 0, mirror: 'flip' },
  5: { turn: 90, mirror: 'flop' },
  6: { turn: 270 },
  7: { turn: 90, mirror: 'flip' },
  8: { turn: 90 },
};

/**
 * The raster that a camera stores which was held otherwise.
 * @param upright - The picture as it is to be seen.
 * @param orientation - EXIF orientation, 1 to 8.
 * @returns The picture as it is stored; nothing in it says so.
 */
export async function storedRaster(upright: Sharp, orientation: number): Promise<Sharp> {
  const { turn, mirror } = STORED[orientation]!;
  // One step after the other: in one pipeline their order is the library's.
  const turned = await sharp(await upright.png().toBuffer())
    .rotate(turn)
    .png()
    .toBuffer();
  const picture = sharp(turned);
  return mirror === undefined ? picture : picture[mirror]();
}
