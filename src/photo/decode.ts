import ndarray from 'ndarray';
import sharp, { type Metadata } from 'sharp';
import { InputError } from '../core/errors.js';
import type { CodeImage, ColourImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { uprightView } from '../imaging/orientation.js';
import { exifOrientation, isCameraPhoto, readCaptureData, type CaptureData } from './captureData.js';
import { isHeic } from './heic.js';
import { damagedError, formatError } from './photoError.js';

/** The largest photo that is read, in pixels. Phones of 108 megapixels fit. */
const MAX_PIXELS = 120e6;

/**
 * Scanners work from here up; below it are the fillers of programs that know no resolution, such as 72 and 96
 * (common practice, no source).
 */
const LEAST_SCAN_DPI = 100;

/**
 * Most memory for the coefficients of a progressive JPEG, which are all held until its last scan is read, bytes: a photo of
 * 108 megapixels with halved colours, as phones write them, would take 324 MB.
 */
const MOST_COEFFICIENT_BYTES = 400e6;
/** Coefficients for each px by the file's subsampling of colours (ITU-T T.81, A.1.1: one for each sample of a component). */
const COEFFICIENTS: Readonly<Record<string, number>> = { '4:2:0': 1.5, '4:2:2': 2, '4:4:4': 3, '4:4:4:4': 4 };

const READ_FORMATS = ['jpeg', 'png', 'webp', 'tiff', 'avif', 'heic'] as const;

/** What a photo's header says, before any pixel is decoded. */
export interface PhotoInfo {
  readonly format: (typeof READ_FORMATS)[number];
  /** Size of the upright picture, px. */
  readonly widthPx: Px;
  readonly heightPx: Px;
  /** EXIF orientation of the stored raster, 1 to 8. */
  readonly orientation: number;
  /** Bits per code value after decoding. */
  readonly bits: 8 | 16;
  /** The file's resolution tag, dots per inch; absent unless it can be a scanner's: in a camera's photo it means nothing. */
  readonly dotsPerInch?: number;
  readonly capture: CaptureData;
}

/** A rectangle of the upright photo, whole px. */
export interface RegionPx {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
}

/**
 * Reads a photo's header: format, upright size, bit depth, capture data. How a HEIC photo is turned is settled when it is
 * decoded (`openPhoto`); here its size is that of the file's own boxes, turned once more as EXIF says.
 * @param bytes - The file's bytes; not modified.
 * @returns What the header says. Nothing about the position where the photo was taken is read.
 * @throws {InputError} `file-empty`, `photo-format`, `photo-too-large` or `photo-damaged`.
 */
export async function inspectPhoto(bytes: Uint8Array): Promise<PhotoInfo> {
  if (bytes.length === 0) {
    throw new InputError(
      'file-empty',
      'The photo has no bytes in it.',
      'Copy it from the camera again, and check that the copy is as large as the original.',
    );
  }
  if (looksLikeSvg(bytes)) throw formatError('The file is an SVG drawing, not a photo.');
  const meta = await readMetadata(bytes);
  const format = meta.format === 'heif' ? formatOfHeif(bytes, meta.compression) : meta.format;
  if (!isRead(format)) throw formatError(`The file is ${format}, which is not read as a photo.`);
  if (meta.isProgressive && coefficientBytes(meta) > MOST_COEFFICIENT_BYTES) {
    throw new InputError(
      'photo-too-large',
      `The photo is a progressive JPEG of ${Math.round((meta.width * meta.height) / 1e6)} megapixels, which can only be read as a whole, with over a gigabyte of memory.`,
      'Use the file as it came from the camera, save it as an ordinary JPEG (not progressive), or crop it to the tower and its reference.',
    );
  }
  const orientation = format === 'heic' ? exifOrientation(meta.exif) : (meta.orientation ?? 1);
  const turned = orientation >= 5;
  return {
    format,
    widthPx: turned ? meta.height : meta.width,
    heightPx: turned ? meta.width : meta.height,
    orientation,
    bits: meta.depth === 'ushort' ? 16 : 8,
    ...(meta.density === undefined || meta.density < LEAST_SCAN_DPI || isCameraPhoto(meta.exif)
      ? {}
      : { dotsPerInch: meta.density }),
    capture: readCaptureData(meta.exif),
  };
}

/** How much a progressive JPEG holds while it is read; nothing of other formats. */
function coefficientBytes({ format, width, height, channels, chromaSubsampling }: Metadata): number {
  if (format !== 'jpeg') return 0;
  const perPx = channels === 1 ? 1 : (COEFFICIENTS[chromaSubsampling ?? ''] ?? channels);
  return 2 * perPx * width * height;
}

/**
 * Lets go of what the decoder keeps for a second use of the same picture, which never comes, and its host's settings as
 * they are: of a large progressive JPEG it is hundreds of megabytes.
 */
function forgetPicture(): void {
  const { memory, files, items } = sharp.cache();
  sharp.cache(false);
  sharp.cache({ memory: memory.max, files: files.max, items: items.max });
}

function isRead(format: string): format is PhotoInfo['format'] {
  return READ_FORMATS.some((one) => one === format);
}

/** HEIF is a container for pictures of several codings. */
function formatOfHeif(bytes: Uint8Array, compression: string | undefined): string {
  if (compression === 'av1') return 'avif';
  return compression === 'hevc' || isHeic(bytes) ? 'heic' : 'heif';
}

/**
 * Decodes a rectangle of the photo as grey codes (luminance, still coded by the sRGB curve).
 * @param bytes - The file's bytes; not modified.
 * @param info - The photo's header.
 * @param region - Rectangle of the upright photo, inside it.
 * @returns Upright view, shape (region.height, region.width).
 * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
 * @internal
 */
export async function decodeRegion(bytes: Uint8Array, info: PhotoInfo, region: RegionPx): Promise<CodeImage> {
  const stored = storedRegion(region, info);
  // Decoding goes on to the last row, beyond the face, so that a file that breaks off is noticed.
  const storedHeightPx = info.orientation >= 5 ? info.widthPx : info.heightPx;
  const height = storedHeightPx - stored.top;
  try {
    const picture = sharp(bytes, { failOn: 'warning', limitInputPixels: MAX_PIXELS })
      .extract({ left: stored.left, top: stored.top, width: stored.width, height })
      .flatten()
      .toColourspace(info.bits === 16 ? 'grey16' : 'b-w')
      .raw({ depth: info.bits === 16 ? 'ushort' : 'uchar' });
    const { data, info: raw } = await picture.toBuffer({ resolveWithObject: true });
    const codes: CodeImage =
      info.bits === 16
        ? ndarray(
            new Uint16Array(data.buffer, data.byteOffset, data.byteLength / 2),
            [stored.height, stored.width],
            [stored.width * raw.channels, raw.channels],
          )
        : ndarray(
            new Uint8Array(data.buffer, data.byteOffset, data.byteLength),
            [stored.height, stored.width],
            [stored.width * raw.channels, raw.channels],
          );
    return uprightView(codes, info.orientation);
  } catch (error) {
    throw damagedError(error);
  } finally {
    forgetPicture();
  }
}

/**
 * Decodes the whole photo as grey codes.
 * @param bytes - The file's bytes; not modified.
 * @param info - The photo's header.
 * @returns Upright view, shape (info.heightPx, info.widthPx).
 * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
 */
export async function decodeWhole(bytes: Uint8Array, info: PhotoInfo): Promise<CodeImage> {
  return decodeRegion(bytes, info, { left: 0, top: 0, width: info.widthPx, height: info.heightPx });
}

/**
 * Decodes a shrunk copy of the photo in colour; a JPEG is shrunk while it is decoded, which saves most of the work.
 * @param bytes - The file's bytes; not modified.
 * @param info - The photo's header.
 * @param longestPx - The longer side of the copy; a photo that is smaller is not enlarged.
 * @returns Upright copy with the proportions of the photo, to whole px.
 * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
 */
export async function decodeShrunk(bytes: Uint8Array, info: PhotoInfo, longestPx: Px): Promise<ColourImage> {
  const scale = Math.min(1, longestPx / Math.max(info.widthPx, info.heightPx));
  const width = Math.max(1, Math.round(scale * info.widthPx));
  const height = Math.max(1, Math.round(scale * info.heightPx));
  try {
    const { data } = await sharp(bytes, { failOn: 'warning', limitInputPixels: MAX_PIXELS })
      .autoOrient()
      .resize({ width, height, fit: 'fill' })
      .flatten()
      .toColourspace('srgb')
      .raw({ depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
    return {
      data: new Uint8Array(data.buffer, data.byteOffset, data.byteLength),
      widthPx: width,
      heightPx: height,
    };
  } catch (error) {
    throw damagedError(error);
  } finally {
    forgetPicture();
  }
}

/** The rectangle of the stored raster that an upright rectangle comes from. */
function storedRegion(upright: RegionPx, info: PhotoInfo): RegionPx {
  const { left, top, width, height } = upright;
  const right = info.widthPx - left - width;
  const bottom = info.heightPx - top - height;
  // Each row: the stored raster's left and top edges lie at which sides of the upright one.
  switch (info.orientation) {
    case 2:
      return { left: right, top, width, height };
    case 3:
      return { left: right, top: bottom, width, height };
    case 4:
      return { left, top: bottom, width, height };
    case 5:
      return { left: top, top: left, width: height, height: width };
    case 6:
      return { left: top, top: right, width: height, height: width };
    case 7:
      return { left: bottom, top: right, width: height, height: width };
    case 8:
      return { left: bottom, top: left, width: height, height: width };
    default:
      return upright;
  }
}

async function readMetadata(bytes: Uint8Array): Promise<Metadata> {
  try {
    return await sharp(bytes, { limitInputPixels: MAX_PIXELS }).metadata();
  } catch (error) {
    const text = String(error);
    if (text.includes('pixel limit')) {
      throw new InputError(
        'photo-too-large',
        'The photo has more than 120 megapixels.',
        'Crop it to the tower and its reference, or take it at a lower resolution.',
      );
    }
    if (text.includes('unsupported image format')) throw formatError('The file is not a picture.');
    throw damagedError(error);
  }
}

/** SVG is refused before the decoder sees it: a small file can unfold into an endless one. */
function looksLikeSvg(bytes: Uint8Array): boolean {
  const head = new TextDecoder('latin1').decode(bytes.subarray(0, 4096));
  return /<svg[\s>]/i.test(head);
}
