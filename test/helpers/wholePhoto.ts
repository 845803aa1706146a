import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import ndarray from 'ndarray';
import sharp, { type Sharp } from 'sharp';
import type { CodeImage, ColourImage } from '../../src/core/image.js';
import { linearLut } from '../../src/imaging/tone.js';
import { decodeRegion, inspectPhoto, type PhotoInfo } from '../../src/photo/decode.js';

/** A whole photo as the finders take it. */
export interface WholePhoto {
  readonly info: PhotoInfo;
  readonly codes: CodeImage;
  readonly lut: Float32Array;
  readonly shrunk: ColourImage;
}

/** Longest side of the shrunk copy, px. */
const SHRUNK_PX = 1000;

/**
 * Decodes a photo of testimages.
 * @param file - Name in testimages, like `outside/charuco-tilted.jpg`.
 * @param change - What to do to the upright picture first, such as turning it.
 * @returns Its grey codes and shrunk copy.
 */
export async function wholePhoto(file: string, change?: (picture: Sharp) => Sharp): Promise<WholePhoto> {
  const stored = readFileSync(fileURLToPath(new URL(`../../testimages/${file}`, import.meta.url)));
  const bytes =
    change === undefined
      ? stored
      : await change(sharp(await sharp(stored).rotate().png({ compressionLevel: 0 }).toBuffer()))
          .png({ compressionLevel: 0 })
          .toBuffer();
  const info = await inspectPhoto(bytes);
  const { widthPx: width, heightPx: height } = info;
  const codes = await decodeRegion(bytes, info, { left: 0, top: 0, width, height });
  return { info, codes, lut: linearLut(info.bits), shrunk: await shrunkCopy(sharp(bytes).rotate()) };
}

/**
 * A drawn picture as a whole photo without capture data.
 * @param rgb - sRGB codes, interleaved, row by row.
 * @param widthPx - Columns.
 * @param heightPx - Rows.
 * @returns The photo.
 */
export async function drawnPhoto(rgb: Uint8Array, widthPx: number, heightPx: number): Promise<WholePhoto> {
  const picture = sharp(rgb, { raw: { width: widthPx, height: heightPx, channels: 3 } });
  const grey = await picture.clone().toColourspace('b-w').raw().toBuffer();
  return {
    info: { format: 'png', widthPx, heightPx, orientation: 1, bits: 8, capture: {} },
    codes: ndarray(new Uint8Array(grey), [heightPx, widthPx]),
    lut: linearLut(8),
    shrunk: await shrunkCopy(picture),
  };
}

async function shrunkCopy(picture: Sharp): Promise<ColourImage> {
  const { data, info } = await picture
    .resize(SHRUNK_PX, SHRUNK_PX, { fit: 'inside', withoutEnlargement: true })
    .flatten()
    .toColourspace('srgb')
    .raw()
    .toBuffer({ resolveWithObject: true });
  return { data: new Uint8Array(data), widthPx: info.width, heightPx: info.height };
}
