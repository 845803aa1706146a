import { createHash } from 'node:crypto';
import { cleanXmp } from './cleanXmp.js';
import type { CleanInner, Note } from './note.js';

/** Datasets of record 2 that name a place: content location, city, part of it, state, country (IPTC-IIM 4.2, from memory). */
const PLACES: readonly number[] = [26, 27, 90, 92, 95, 100, 101];

/**
 * Overwrites, in place, the names of places in an IPTC block.
 * @param data - The block; modified.
 * @param note - Told what was removed.
 * @returns False when it is not understood.
 * @see IPTC-NAA Information Interchange Model 4.2, section 1.6 (from memory).
 */
export function cleanIptc(data: Buffer, note: Note): boolean {
  let at = 0;
  while (at + 5 <= data.length && data[at] === 0x1c) {
    const [record, dataset, bytes] = [data[at + 1], data[at + 2] ?? 0, data.readUInt16BE(at + 3)];
    // The longest form tells the length of the length; no camera needs it.
    if (bytes >= 0x8000) return false;
    const end = at + 5 + bytes;
    if (end > data.length) return false;
    if (
      record === 2 &&
      PLACES.includes(dataset) &&
      data.subarray(at + 5, end).some((byte) => byte !== 0x20)
    ) {
      data.fill(0x20, at + 5, end);
      note('names of places (IPTC)');
    }
    at = end;
  }
  return data.subarray(at).every((byte) => byte === 0);
}

/** Image resources by number. */
const IPTC = 0x0404;
const IPTC_DIGEST = 0x0425;
/** EXIF for a second time; readers of photos take the other one. */
const EXIF = [0x0422, 0x0423];
const XMP = 0x0424;
const THUMBNAILS = [0x0409, 0x040c];
const THUMBNAIL_HEADER = 28;

/**
 * Removes, in place, what tells a position from a block of image resources.
 * @param data - The block, behind its signature; modified.
 * @param note - Told what was removed.
 * @param cleanThumbnail - Cleans a thumbnail, which is a JPEG file of its own.
 * @returns False when it is not understood.
 * @see Adobe Photoshop File Formats Specification, image resources (from memory).
 */
export function cleanPhotoshop(data: Buffer, note: Note, cleanThumbnail: CleanInner): boolean {
  let at = 0;
  let digestAt: number | undefined;
  let iptc: Buffer | undefined;
  while (at + 12 <= data.length && data.toString('latin1', at, at + 4) === '8BIM') {
    const id = data.readUInt16BE(at + 4);
    const nameBytes = 1 + (data[at + 6] ?? 0);
    const sizeAt = at + 6 + nameBytes + (nameBytes % 2);
    if (sizeAt + 4 > data.length) return false;
    const size = data.readUInt32BE(sizeAt);
    const from = sizeAt + 4;
    if (from + size > data.length) return false;
    const value = data.subarray(from, from + size);
    if (id === IPTC) {
      iptc = value;
      if (!cleanIptc(value, note)) blank(value, 'IPTC data that could not be understood', note);
    } else if (id === IPTC_DIGEST && size === 16) digestAt = from;
    else if (EXIF.includes(id)) blank(value, "EXIF among a picture editor's data", note);
    else if (id === XMP && !cleanXmp(value, note)) blank(value, 'XMP that could not be understood', note);
    else if (THUMBNAILS.includes(id)) {
      const picture = value.subarray(THUMBNAIL_HEADER);
      if (!cleanThumbnail(picture, note)) blank(picture, 'a thumbnail that could not be understood', note);
    }
    at = from + size + (size % 2);
  }
  // The sum by which editors see whether the IPTC block was changed since they wrote XMP beside it.
  if (digestAt !== undefined && iptc !== undefined)
    data.set(createHash('md5').update(iptc).digest(), digestAt);
  return data.subarray(at).every((byte) => byte === 0);
}

function blank(value: Buffer, what: string, note: Note): void {
  value.fill(0);
  note(what);
}
