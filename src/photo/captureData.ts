import readExif from 'exif-reader';
import type { Mm } from '../core/units.js';

/** What the camera wrote about taking the photo. Its position is never read. */
export interface CaptureData {
  /** Local time of the camera's clock without a zone, like `2026-03-14T18:02:11`. */
  readonly takenAt?: string;
  readonly focalLengthMm?: Mm;
  /** Focal length of the same field of view on 36 × 24 mm film, mm, a rounded whole number. */
  readonly focalLength35Mm?: Mm;
  /** How many times the camera enlarged the middle of its picture; absent where it did not. */
  readonly digitalZoom?: number;
}

/**
 * Reads capture time, focal lengths and digital zoom from EXIF; anything unreadable counts as absent.
 * @param exif - The EXIF block, or undefined.
 * @returns The fields that are there.
 * @see CIPA DC-008 (Exif 2.3) tags 0x9003, 0x920A, 0xA404, 0xA405 (from memory).
 */
export function readCaptureData(exif: Uint8Array | undefined): CaptureData {
  const photo = photoTags(exif);
  const taken = photo?.DateTimeOriginal;
  return {
    // The reader takes the camera's local time for UTC, so its UTC fields are the local ones.
    // A clock that was never set writes zeros, which the reader takes for November 1899.
    ...(taken instanceof Date && taken.getUTCFullYear() >= 1900
      ? { takenAt: taken.toISOString().slice(0, 19) }
      : {}),
    ...(isLength(photo?.FocalLength) ? { focalLengthMm: photo.FocalLength } : {}),
    ...(isLength(photo?.FocalLengthIn35mmFilm) ? { focalLength35Mm: photo.FocalLengthIn35mmFilm } : {}),
    // 0 says that it was not used.
    ...(isLength(photo?.DigitalZoomRatio) && photo.DigitalZoomRatio > 1
      ? { digitalZoom: photo.DigitalZoomRatio }
      : {}),
  };
}

/**
 * Whether a camera took the picture: it says with which lens, aperture, time or sensitivity, which no scanner has.
 * @param exif - The EXIF block, or undefined.
 * @returns True when one of them is there.
 * @see CIPA DC-008 (Exif 2.3) tags 0x829A, 0x829D, 0x8827, 0x9201, 0x9202, 0x920A, 0xA405 (from memory).
 */
export function isCameraPhoto(exif: Uint8Array | undefined): boolean {
  const photo = photoTags(exif);
  return [
    photo?.ExposureTime,
    photo?.FNumber,
    photo?.ISOSpeedRatings,
    photo?.ShutterSpeedValue,
    photo?.ApertureValue,
    photo?.FocalLength,
    photo?.FocalLengthIn35mmFilm,
  ].some((value) => value !== undefined);
}

/**
 * How the stored picture is to be turned, where only EXIF tells.
 * @param exif - The EXIF block, or undefined.
 * @returns Orientation, 1 to 8; 1 where it is not told.
 * @see CIPA DC-008 (Exif 2.3) tag 0x0112.
 */
export function exifOrientation(exif: Uint8Array | undefined): number {
  const orientation = readTags(exif).Image?.Orientation;
  return [1, 2, 3, 4, 5, 6, 7, 8].find((one) => one === orientation) ?? 1;
}

function photoTags(exif: Uint8Array | undefined): ReturnType<typeof readExif>['Photo'] {
  return readTags(exif).Photo;
}

function readTags(exif: Uint8Array | undefined): Partial<ReturnType<typeof readExif>> {
  if (exif === undefined) return {};
  try {
    return readExif(Buffer.from(exif));
  } catch {
    return {}; // A damaged EXIF block costs the focal length, never the measurement.
  }
}

function isLength(value: unknown): value is number {
  return typeof value === 'number' && Number.isFinite(value) && value > 0;
}
