import sharp from 'sharp';
import type { CodeImage, ColourImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { uprightView } from '../imaging/orientation.js';
import { decodeShrunk, decodeWhole, inspectPhoto, type PhotoInfo } from './decode.js';
import { decodeHeic } from './heic.js';
import { tiffOf } from './tiff.js';

/** A photo whose header is read, to be decoded when it is needed. */
export interface Photo {
  readonly info: PhotoInfo;
  /**
   * The whole photo as grey codes, upright, shape (info.heightPx, info.widthPx).
   * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
   */
  readonly codes: () => Promise<CodeImage>;
  /**
   * A shrunk copy in colour, upright, its longer side as given; a smaller photo is not enlarged.
   * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
   */
  readonly shrunk: (longestPx: Px) => Promise<ColourImage>;
  /**
   * The photo as if it had been taken with fewer pixels: halved until its longer side is no longer than given, which a
   * JPEG is while it is decoded. `factor` times its px are those of the whole photo.
   * @throws {InputError} `photo-damaged` when the picture breaks off or its data is damaged.
   */
  readonly reduced: (mostPx: Px) => Promise<{ readonly photo: Photo; readonly factor: number }>;
}

/** A shrunk copy of a HEIC photo is kept while it is open, so that it is decoded once: its longer side, at least. */
const HEIC_COPY_PX = 2000;

/**
 * Opens a photo of any format that is read.
 * @param bytes - The file's bytes; not modified.
 * @returns The photo. One in HEIC is decoded at once.
 * @throws {InputError} `file-empty`, `photo-format`, `photo-too-large`, `photo-damaged` or `heic-reader-missing`.
 */
export async function openPhoto(bytes: Uint8Array): Promise<Photo> {
  const info = await inspectPhoto(bytes);
  if (info.format === 'heic') return openHeic(bytes, info);
  return openFile(bytes, info);
}

function openFile(bytes: Uint8Array, info: PhotoInfo): Photo {
  const photo: Photo = {
    info,
    codes: () => decodeWhole(bytes, info),
    shrunk: (longestPx) => decodeShrunk(bytes, info, longestPx),
    reduced: async (mostPx) => {
      const longestPx = Math.max(info.widthPx, info.heightPx);
      const factor = 2 ** Math.max(0, Math.ceil(Math.log2(longestPx / mostPx)));
      if (factor === 1) return { photo, factor };
      const small = await decodeShrunk(bytes, info, Math.round(longestPx / factor));
      const { widthPx, heightPx } = small;
      const copy = tiffOf(small.data, { widthPx, heightPx, channels: 3 }, undefined);
      const dpi = info.dotsPerInch;
      const own = { ...info, widthPx, heightPx, orientation: 1, bits: 8 } as const;
      return {
        photo: openFile(copy, dpi === undefined ? own : { ...own, dotsPerInch: dpi / factor }),
        factor: longestPx / Math.max(widthPx, heightPx),
      };
    },
  };
  return photo;
}

/** An uncompressed file, which can be turned and shrunk like any other. */
function encodeColour({ data, widthPx, heightPx }: ColourImage, orientation: number): Promise<Buffer> {
  const raw = { width: widthPx, height: heightPx, channels: 3 } as const;
  return sharp(data, { raw }).withMetadata({ orientation }).png({ compressionLevel: 0 }).toBuffer();
}

async function openHeic(bytes: Uint8Array, header: PhotoInfo): Promise<Photo> {
  const { codes, small, turned } = await decodeHeic(bytes, { smallPx: HEIC_COPY_PX });
  const orientation = turned ? 1 : header.orientation;
  const upright = uprightView(codes, orientation);
  const [heightPx = 0, widthPx = 0] = upright.shape;
  const info = { ...header, widthPx, heightPx, orientation, bits: 8 as const };
  const copy = await encodeColour(small, orientation);
  const photo: Photo = {
    info,
    codes: () => Promise.resolve(upright),
    shrunk: (longestPx) => decodeShrunk(copy, info, longestPx),
    // All of it is decoded by now.
    reduced: () => Promise.resolve({ photo, factor: 1 }),
  };
  return photo;
}
