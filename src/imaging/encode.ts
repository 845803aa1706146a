import { renderAsync } from '@resvg/resvg-js';
import sharp from 'sharp';
import { FONT_NAME } from '../core/fontName.js';
import { FONT_FILES } from '../core/fonts.js';
import type { ColourImage, GreyImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { linearToSrgb } from './tone.js';

const CODES_16 = 65_535;
/** Fine enough that layer lines show no blocks, at a sixth of the size of a lossless picture. */
const JPEG_QUALITY = 88;

/**
 * Turns a face into a picture for a document. The contrast is that of the photo: linear light is coded by the
 * sRGB curve and nothing is stretched.
 * @param face - Linear light, 0 to 1, shape (rows, columns); not modified.
 * @param maxWidthPx - A wider face is shrunk to this width; light is averaged, not codes.
 * @returns Data URI of a grey JPEG.
 * @throws {RangeError} When the face is empty or `maxWidthPx` is not a positive integer.
 */
export async function encodeFace(face: GreyImage, maxWidthPx: Px): Promise<string> {
  const [rows, columns] = face.shape as [number, number];
  if (!(rows > 0 && columns > 0))
    throw new RangeError(`Expected a face but received ${rows} × ${columns} px`);
  if (!(Number.isInteger(maxWidthPx) && maxWidthPx > 0)) {
    throw new RangeError(`Expected a whole number of px above 0 for maxWidthPx but received ${maxWidthPx}`);
  }
  const shrunk = columns > maxWidthPx ? await shrink(face, maxWidthPx) : codes16(face);
  const coded = Uint8Array.from(shrunk.light, (light) => Math.round(255 * linearToSrgb(light / CODES_16)));
  const jpeg = await sharp(coded, { raw: { width: shrunk.width, height: shrunk.height, channels: 1 } })
    .toColourspace('b-w')
    .jpeg({ quality: JPEG_QUALITY })
    .toBuffer();
  return `data:image/jpeg;base64,${jpeg.toString('base64')}`;
}

/**
 * Turns a shrunk photo into a picture for a document.
 * @param photo - sRGB codes.
 * @returns Data URI of a JPEG in colour.
 */
export async function encodePhoto(photo: ColourImage): Promise<string> {
  return `data:image/jpeg;base64,${(await encodeJpeg(photo)).toString('base64')}`;
}

/**
 * Turns a shrunk photo into a file; nothing of the photo's own header is in it.
 * @param photo - sRGB codes.
 * @returns Bytes of a JPEG in colour.
 */
export async function encodeJpeg({ data, widthPx, heightPx }: ColourImage): Promise<Buffer> {
  return sharp(data, { raw: { width: widthPx, height: heightPx, channels: 3 } })
    .jpeg({ quality: JPEG_QUALITY })
    .toBuffer();
}

/**
 * Turns a small raster into a picture for a document, without loss.
 * @param raster - sRGB codes and opacity, interleaved RGBA, row by row.
 * @returns Data URI of a PNG.
 */
export async function encodeRaster({
  data,
  widthPx,
  heightPx,
}: {
  readonly data: Uint8Array;
  readonly widthPx: Px;
  readonly heightPx: Px;
}): Promise<string> {
  const png = await sharp(data, { raw: { width: widthPx, height: heightPx, channels: 4 } })
    .png({ compressionLevel: 9 })
    .toBuffer();
  return `data:image/png;base64,${png.toString('base64')}`;
}

/**
 * Draws an SVG document as PNG with the fonts that come along; the system's own are not looked at.
 * @param svg - The document.
 * @param widthPx - Width of the picture. @default the document's own
 * @returns PNG bytes.
 * @throws {Error} When the text is not SVG.
 */
export async function renderPng(svg: string, widthPx?: Px): Promise<Uint8Array> {
  const image = await renderAsync(svg, {
    fitTo: widthPx === undefined ? { mode: 'original' } : { mode: 'width', value: widthPx },
    font: {
      loadSystemFonts: false,
      fontFiles: Object.values(FONT_FILES),
      defaultFontFamily: FONT_NAME,
      sansSerifFamily: FONT_NAME,
    },
  });
  // The renderer compresses for speed; packed again the picture is a quarter smaller.
  return sharp(image.asPng()).png({ compressionLevel: 9 }).toBuffer();
}

/** Linear light in 16-bit codes: the encoder resamples integers, and 16 bits are finer than any photo. */
interface Light {
  readonly light: Uint16Array;
  readonly width: Px;
  readonly height: Px;
}

function codes16(face: GreyImage): Light {
  const [rows, columns] = face.shape as [number, number];
  const light = new Uint16Array(rows * columns);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const value = Math.min(1, Math.max(0, face.get(row, column)));
      light[row * columns + column] = Math.round(CODES_16 * value);
    }
  }
  return { light, width: columns, height: rows };
}

/** The triangle kernel averages without overshoot, so that no edge gains contrast. */
async function shrink(face: GreyImage, maxWidthPx: Px): Promise<Light> {
  const { light, width, height } = codes16(face);
  const newHeight = Math.max(1, Math.round((height * maxWidthPx) / width));
  const { data } = await sharp(light, { raw: { width, height, channels: 1 } })
    .toColourspace('grey16')
    .resize({ width: maxWidthPx, height: newHeight, fit: 'fill', kernel: 'linear' })
    .raw({ depth: 'ushort' })
    .toBuffer({ resolveWithObject: true });
  return {
    light: new Uint16Array(data.buffer.slice(data.byteOffset, data.byteOffset + data.byteLength)),
    width: maxWidthPx,
    height: newHeight,
  };
}
