import { InputError } from '../../core/errors.js';
import { cleanHeif } from './cleanHeif.js';
import { cleanJpeg } from './cleanJpeg.js';
import { cleanPng } from './cleanPng.js';
import { cleanTiff } from './cleanTiff.js';
import { cleanWebp } from './cleanWebp.js';
import type { Note } from './note.js';

/** A photo as it is stored. */
export interface CleanPhoto {
  readonly bytes: Uint8Array;
  /** Ending of its name. */
  readonly extension: 'jpg' | 'png' | 'webp' | 'tiff' | 'heic' | 'avif';
  /** What was removed, in words; empty where nothing was. */
  readonly removed: readonly string[];
}

/**
 * A photo without what it tells of the place where it was taken: from EXIF, XMP, IPTC, thumbnails and the maker's notes.
 * Its picture is not coded again, and capture data such as time and focal length stays. What people typed themselves (a
 * title, a comment, keywords) stays as well.
 * @param bytes - The file; not modified.
 * @param keepPosition - It is stored as it is. @default false
 * @returns The photo to store.
 * @throws {InputError} `position-unsure` when it is not certain that all was found; `photo-format` when it is no photo.
 */
export function removePosition(bytes: Uint8Array, keepPosition = false): CleanPhoto {
  const extension = extensionOf(bytes);
  if (extension === undefined) {
    throw new InputError(
      'photo-format',
      'The file is no photo of a kind that is stored.',
      'Give a photo as JPEG, PNG, WebP, TIFF, AVIF or HEIC.',
    );
  }
  if (keepPosition) return { bytes, extension, removed: [] };
  const data = Buffer.from(bytes);
  const removed = new Set<string>();
  const clean = cleaned(extension, data, (what) => removed.add(what));
  if (clean === undefined) {
    throw new InputError(
      'position-unsure',
      'The photo is not saved: its structure is not understood well enough to be sure that no position is left in it.',
      'Export it anew from a photo program, as JPEG; or, if it may be known where it was taken, add --keep-position.',
    );
  }
  return { bytes: clean, extension, removed: [...removed] };
}

function cleaned(extension: CleanPhoto['extension'], data: Buffer, note: Note): Buffer | undefined {
  const upTo = (end: number | undefined): Buffer | undefined => {
    if (end === undefined || end === data.length) return end === undefined ? undefined : data;
    note(`${String(data.length - end)} bytes behind the picture, such as a film`);
    return data.subarray(0, end);
  };
  switch (extension) {
    case 'jpg':
      return upTo(cleanJpeg(data, note));
    case 'png':
      return cleanPng(data, note);
    case 'webp':
      return upTo(cleanWebp(data, note));
    case 'tiff':
      return cleanTiff(data, note, (inner, also) => cleanJpeg(inner, also) !== undefined, true)
        ? data
        : undefined;
    default:
      return upTo(cleanHeif(data, note));
  }
}

function extensionOf(bytes: Uint8Array): CleanPhoto['extension'] | undefined {
  const head = Buffer.from(bytes.subarray(0, 64)).toString('latin1');
  if (head.startsWith('\xff\xd8\xff')) return 'jpg';
  if (head.startsWith('\x89PNG')) return 'png';
  if (head.startsWith('RIFF') && head.startsWith('WEBP', 8)) return 'webp';
  if (head.startsWith('II') || head.startsWith('MM')) return 'tiff';
  if (head.startsWith('ftyp', 4)) return /avi[fs]/.test(head.slice(8)) ? 'avif' : 'heic';
  return undefined;
}
