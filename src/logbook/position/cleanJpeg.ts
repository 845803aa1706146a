import { createHash } from 'node:crypto';
import { cleanPhotoshop } from './cleanIptc.js';
import { cleanTiff } from './cleanTiff.js';
import { cleanXmp } from './cleanXmp.js';
import type { Note } from './note.js';

const SOI = 0xd8;
const EOI = 0xd9;
const SOS = 0xda;
const APP0 = 0xe0;
const APP1 = 0xe1;
const APP15 = 0xef;

const EXIF = 'Exif\0\0';
const XMP = 'http://ns.adobe.com/xap/1.0/\0';
const MORE_XMP = 'http://ns.adobe.com/xmp/extension/\0';
const PHOTOSHOP = 'Photoshop 3.0\0';
/** Segments whose content is known to hold no position: colour profile, list of pictures, gain of a brighter picture, colours. */
const HARMLESS: readonly (readonly [marker: number, begins: string])[] = [
  [0xe2, 'ICC_PROFILE\0'],
  [0xe2, 'MPF\0'],
  [0xe2, 'urn:iso:std:iso:ts:21496:-1\0'],
  [0xee, 'Adobe'],
];
const MOST_INNER = 16;

/**
 * Removes from a JPEG file, in place, what tells a position. Picture data is not touched, and nothing changes its place.
 * @param data - The file; modified.
 * @param note - Told what was removed.
 * @returns Where the last picture ends; what is behind is no picture. Undefined when the file is not understood; it may
 * then be half done.
 * @see ITU-T T.81, annex B; CIPA DC-008 (Exif 2.32), section 4.7; CIPA DC-007 for several pictures in one file (from memory).
 */
export function cleanJpeg(data: Buffer, note: Note): number | undefined {
  let end = cleanOne(data, note);
  if (end === undefined) return undefined;
  for (let pictures = 1; pictures <= MOST_INNER; pictures += 1) {
    let next: number = end;
    // Pictures are filled up to whole blocks.
    while (next < data.length && (data[next] === 0 || data[next] === 0xff) && !isStart(data, next)) next += 1;
    if (!isStart(data, next)) return end;
    const inner: number | undefined = cleanOne(data.subarray(next), note);
    if (inner === undefined) return end;
    end = next + inner;
  }
  return end;
}

function cleanInner(data: Buffer, note: Note): boolean {
  return isStart(data, 0) && cleanJpeg(data, note) !== undefined;
}

function isStart(data: Buffer, at: number): boolean {
  return data[at] === 0xff && data[at + 1] === SOI && data[at + 2] === 0xff;
}

/** One picture from its first marker to its last; where it ends. */
function cleanOne(data: Buffer, note: Note): number | undefined {
  if (!isStart(data, 0)) return undefined;
  const packets: Buffer[] = [];
  const more: Buffer[] = [];
  let end: number | undefined;
  let at = 2;
  while (end === undefined) {
    if (at >= data.length) {
      end = data.length; // It breaks off; whether it can be decoded is not asked here.
      break;
    }
    if (data[at] !== 0xff) return undefined;
    const marker = data[at + 1] ?? 0;
    if (marker === 0xff) {
      at += 1; // Filling.
    } else if (marker === EOI) {
      end = at + 2;
    } else if (marker === 0x01 || (marker >= 0xd0 && marker <= 0xd7)) {
      at += 2;
    } else {
      if (at + 4 > data.length) return undefined;
      const from = at + 4;
      const to = at + 2 + data.readUInt16BE(at + 2);
      if (to < from || to > data.length) return undefined;
      if (marker >= APP0 && marker <= APP15)
        cleanSegment(marker, data.subarray(from, to), note, packets, more);
      at = marker === SOS ? endOfScan(data, to) : to;
    }
  }
  cleanMore(packets, more, note);
  return end;
}

/** In a scan 0xFF is followed by 0, or by a restart marker. */
function endOfScan(data: Buffer, from: number): number {
  for (let at = data.indexOf(0xff, from); at >= 0; at = data.indexOf(0xff, at + 1)) {
    const next = data[at + 1];
    if (next === undefined) break;
    if (next !== 0 && next !== 0xff && !(next >= 0xd0 && next <= 0xd7)) return at;
  }
  return data.length;
}

function cleanSegment(marker: number, data: Buffer, note: Note, packets: Buffer[], more: Buffer[]): void {
  const begins = (text: string): boolean => data.toString('latin1', 0, text.length) === text;
  const behind = (text: string): Buffer => data.subarray(text.length);
  const blank = (what: string): void => {
    data.fill(0);
    note(what);
  };
  if (marker === APP0 || HARMLESS.some(([one, text]) => one === marker && begins(text))) return;
  if (marker === APP1 && begins(EXIF)) {
    if (!cleanTiff(behind(EXIF), note, cleanInner)) blank('EXIF that could not be understood');
  } else if (marker === APP1 && begins(XMP)) {
    if (cleanXmp(behind(XMP), note)) packets.push(behind(XMP));
    else blank('XMP that could not be understood');
  } else if (marker === APP1 && begins(MORE_XMP)) {
    more.push(behind(MORE_XMP));
  } else if (marker === 0xed && begins(PHOTOSHOP)) {
    if (!cleanPhotoshop(behind(PHOTOSHOP), note, cleanInner))
      blank('data of a picture editor that could not be understood');
  } else if (data.some((byte) => byte !== 0)) {
    blank(`data that only their maker knows (APP${String(marker - APP0)})`);
  }
}

/** Name (MD5), whole length and place: what stands before each piece. */
const NAME_LETTERS = 32;
const PIECE_HEADER = NAME_LETTERS + 8;

/**
 * XMP that is too long for one segment comes in pieces, which may be cut anywhere: they are put together, cleaned, and
 * taken apart again. Their name is their own hash, so that changes.
 * @see XMP Specification Part 3 (2010), section 1.1.3.1 (from memory).
 */
function cleanMore(packets: readonly Buffer[], pieces: readonly Buffer[], note: Note): void {
  const names = new Set(pieces.map((piece) => piece.toString('latin1', 0, NAME_LETTERS)));
  for (const name of names) {
    const own = pieces.filter((piece) => piece.toString('latin1', 0, NAME_LETTERS) === name);
    const placed = own.filter((piece) => piece.length >= PIECE_HEADER);
    const total = placed[0]?.readUInt32BE(NAME_LETTERS) ?? 0;
    const bytes = placed.reduce((sum, piece) => sum + piece.length - PIECE_HEADER, 0);
    const whole = Buffer.alloc(bytes === total ? total : 0);
    const parts = placed.map((piece) => ({
      data: piece.subarray(PIECE_HEADER),
      at: piece.readUInt32BE(NAME_LETTERS + 4),
    }));
    // All places are taken once: of pieces that add up to the whole, none may begin within another.
    const inOrder = [...parts].sort((a, b) => a.at - b.at);
    let at = 0;
    const fits =
      placed.length === own.length &&
      bytes === total &&
      inOrder.every((part) => {
        const isNext = part.at === at;
        at += part.data.length;
        return isNext;
      });
    if (fits) for (const part of parts) whole.set(part.data, part.at);
    if (!fits || !cleanXmp(whole, note)) {
      for (const piece of own) piece.fill(0);
      note('XMP that could not be understood');
      continue;
    }
    const renamed = createHash('md5').update(whole).digest('hex').toUpperCase();
    for (const part of parts) part.data.set(whole.subarray(part.at, part.at + part.data.length));
    for (const piece of own) piece.write(renamed, 0, 'latin1');
    for (const packet of packets) {
      const place = packet.indexOf(name, 0, 'latin1');
      if (place >= 0 && /^[0-9A-Fa-f]{32}$/.test(name)) packet.write(renamed, place, 'latin1');
    }
  }
}
