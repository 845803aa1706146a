import { cleanJpeg } from './cleanJpeg.js';
import { cleanTiff } from './cleanTiff.js';
import { cleanXmp } from './cleanXmp.js';
import type { Note } from './note.js';

/** Chunks that are picture or colour. */
const HARMLESS = ['VP8 ', 'VP8L', 'VP8X', 'ALPH', 'ANIM', 'ANMF', 'ICCP'];
const EXIF_HEADER = 'Exif\0\0';

/**
 * Removes from a WebP file, in place, what tells a position.
 * @param data - The file; modified.
 * @param note - Told what was removed.
 * @returns Where the file ends; undefined when it is not understood.
 * @see RFC 9649, section 2 (from memory).
 */
export function cleanWebp(data: Buffer, note: Note): number | undefined {
  const isWebp = data.toString('latin1', 0, 4) === 'RIFF' && data.toString('latin1', 8, 12) === 'WEBP';
  if (!isWebp) return undefined;
  const end = 8 + data.readUInt32LE(4);
  if (end > data.length) return undefined;
  let at = 12;
  while (at + 8 <= end) {
    const type = data.toString('latin1', at, at + 4);
    const bytes = data.readUInt32LE(at + 4);
    const to = at + 8 + bytes;
    if (to > end) return undefined;
    cleanChunk(type, data.subarray(at + 8, to), note);
    at = to + (bytes % 2);
  }
  return end;
}

function cleanChunk(type: string, content: Buffer, note: Note): void {
  if (HARMLESS.includes(type)) return;
  const blank = (what: string): void => {
    content.fill(0);
    note(what);
  };
  if (type === 'EXIF') {
    // Some programs put the header of a JPEG's segment before it.
    const from = content.toString('latin1', 0, EXIF_HEADER.length) === EXIF_HEADER ? EXIF_HEADER.length : 0;
    const isClean = cleanTiff(
      content.subarray(from),
      note,
      (inner, also) => cleanJpeg(inner, also) !== undefined,
    );
    if (!isClean) blank('EXIF that could not be understood');
  } else if (type === 'XMP ') {
    if (!cleanXmp(content, note)) blank('XMP that could not be understood');
  } else if (content.some((byte) => byte !== 0)) {
    blank('data that only their maker knows (a chunk)');
  }
}
