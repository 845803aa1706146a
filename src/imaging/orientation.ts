import type { CodeImage, GreyImage } from '../core/image.js';

/**
 * Turns a stored raster upright without copying: the result reads the same data by other strides.
 * @param stored - The raster as it is in the file, shape (rows, columns).
 * @param exifOrientation - Exif tag 0x0112, 1 to 8.
 * @returns Upright view; orientations 5 to 8 swap rows and columns.
 * @throws {RangeError} When the orientation is not a whole number from 1 to 8.
 * @see Exif 0x0112: which sides of the upright picture the stored 0th row and 0th column lie at.
 */
export function uprightView<Image extends CodeImage | GreyImage>(
  stored: Image,
  exifOrientation: number,
): Image {
  return turned(stored, exifOrientation) as Image;
}

function turned(stored: CodeImage | GreyImage, exifOrientation: number): CodeImage | GreyImage {
  switch (exifOrientation) {
    case 1:
      return stored;
    case 2:
      return stored.step(1, -1);
    case 3:
      return stored.step(-1, -1);
    case 4:
      return stored.step(-1, 1);
    case 5:
      return stored.transpose(1, 0);
    case 6:
      return stored.step(-1, 1).transpose(1, 0);
    case 7:
      return stored.step(-1, -1).transpose(1, 0);
    case 8:
      return stored.step(1, -1).transpose(1, 0);
    default:
      throw new RangeError(`Expected an Exif orientation from 1 to 8 but received ${exifOrientation}.`);
  }
}
