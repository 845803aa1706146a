import { deflateSync, inflateSync } from 'node:zlib';
import { cleanJpeg } from './cleanJpeg.js';
import { cleanTiff } from './cleanTiff.js';
import { cleanXmp, PLACE } from './cleanXmp.js';
import type { Note } from './note.js';

const SIGNATURE = Buffer.from('89504e470d0a1a0a', 'hex');

/** Chunks of the standard that are picture, colour or time (PNG, third edition, W3C 2025; APNG; from memory). */
const HARMLESS =
  /^(IHDR|PLTE|IDAT|IEND|tRNS|cHRM|gAMA|iCCP|sBIT|sRGB|cICP|mDCV|cLLI|bKGD|hIST|pHYs|sPLT|tIME|acTL|fcTL|fdAT)$/;
const TEXTS = /^(tEXt|zTXt|iTXt)$/;
const XMP = 'XML:com.adobe.xmp';
const MOST_XMP = 16 * 2 ** 20;

/**
 * Removes from a PNG file what tells a position: chunks are cleaned, or left out where only their maker knows them.
 * @param data - The file; modified.
 * @param note - Told what was removed.
 * @returns The new file, its picture's chunks untouched; undefined when it is not understood.
 * @see Portable Network Graphics, third edition (W3C 2025), sections 5 and 11 (from memory).
 */
export function cleanPng(data: Buffer, note: Note): Buffer | undefined {
  if (!data.subarray(0, 8).equals(SIGNATURE)) return undefined;
  const kept: Buffer[] = [SIGNATURE];
  let at = 8;
  for (;;) {
    if (at + 12 > data.length) return undefined;
    const to = at + 12 + data.readUInt32BE(at);
    if (to > data.length) return undefined;
    const type = data.toString('latin1', at + 4, at + 8);
    const whole = data.subarray(at, to);
    const content = data.subarray(at + 8, to - 4);
    const chunk = HARMLESS.test(type) ? whole : cleaned(type, content, note);
    if (chunk !== undefined) kept.push(chunk);
    at = to;
    if (type === 'IEND') break;
  }
  if (at < data.length) note(`${String(data.length - at)} bytes behind the picture`);
  return Buffer.concat(kept);
}

function cleaned(type: string, content: Buffer, note: Note): Buffer | undefined {
  if (type === 'eXIf') {
    const isClean = cleanTiff(content, note, (inner, also) => cleanJpeg(inner, also) !== undefined);
    if (isClean) return chunkOf(type, content);
    note('EXIF that could not be understood');
    return undefined;
  }
  if (!TEXTS.test(type)) {
    note(`data that only their maker knows (${/^[A-Za-z]{4}$/.test(type) ? type : 'a chunk'})`);
    return undefined;
  }
  const keyword = content.toString('latin1', 0, Math.max(0, content.indexOf(0)));
  if (keyword === XMP) {
    const packet = xmpOf(type, content);
    if (packet !== undefined && cleanXmp(packet.text, note)) {
      const text = packet.isPacked ? deflateSync(packet.text) : packet.text;
      return chunkOf(type, Buffer.concat([packet.head, text]));
    }
    note('XMP that could not be understood');
    return undefined;
  }
  // Written by programs that knew no better place for EXIF, IPTC and XMP: hexadecimal digits.
  if (/^raw profile type (?!icc)/i.test(keyword)) {
    note('EXIF, IPTC or XMP in letters');
    return undefined;
  }
  if (PLACE.test(keyword)) {
    note('position (text)');
    return undefined;
  }
  return chunkOf(type, content);
}

/** An XMP packet of a chunk, and what stands before it. */
interface PngXmp {
  readonly head: Buffer;
  readonly text: Buffer;
  readonly isPacked: boolean;
}

/** `tEXt`: keyword, 0. `zTXt`: and the method. `iTXt`: keyword, 0, packed, method, language, 0, translated keyword, 0. */
function xmpOf(type: string, content: Buffer): PngXmp | undefined {
  const flags = content.indexOf(0) + 1;
  let from = flags;
  if (type === 'zTXt') from += 1;
  else if (type === 'iTXt') {
    const language = content.indexOf(0, flags + 2);
    const translated = language < 0 ? -1 : content.indexOf(0, language + 1);
    if (translated < 0) return undefined;
    from = translated + 1;
  }
  const isPacked = type === 'zTXt' || (type === 'iTXt' && content[flags] !== 0);
  const head = content.subarray(0, from);
  const text = content.subarray(from);
  if (!isPacked) return { head, text, isPacked };
  try {
    return { head, text: inflateSync(text, { maxOutputLength: MOST_XMP }), isPacked };
  } catch {
    return undefined;
  }
}

function chunkOf(type: string, content: Buffer): Buffer {
  const chunk = Buffer.alloc(12 + content.length);
  chunk.writeUInt32BE(content.length);
  chunk.write(type, 4, 'latin1');
  chunk.set(content, 8);
  chunk.writeUInt32BE(crc32(chunk.subarray(4, 8 + content.length)), 8 + content.length);
  return chunk;
}

/** PNG, annex D; node's own is younger than the oldest version that is served. */
function crc32(data: Buffer): number {
  let crc = 0xffffffff;
  for (const byte of data) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ ((crc & 1) === 0 ? 0 : 0xedb88320);
  }
  return (crc ^ 0xffffffff) >>> 0;
}
