import { cleanJpeg } from './cleanJpeg.js';
import { cleanTiff } from './cleanTiff.js';
import { cleanXmp } from './cleanXmp.js';
import type { Note } from './note.js';

/** A box of the file: type, and where its content lies. */
interface Box {
  readonly type: string;
  readonly at: number;
  readonly from: number;
  readonly to: number;
}

/** Boxes beside the pictures' own that hold nothing but structure. */
const TOP = ['ftyp', 'styp', 'mdat', 'free', 'skip', 'wide', 'meta', 'moov'];
const META = ['hdlr', 'pitm', 'iinf', 'iref', 'iprp', 'iloc', 'idat', 'grpl', 'dinf', 'ipro', 'free', 'skip'];
/** Items that are pictures, or put together of them. */
const PICTURES = [
  'hvc1',
  'hev1',
  'av01',
  'avc1',
  'jpeg',
  'grid',
  'iden',
  'iovl',
  'tmap',
  'lhv1',
  'mski',
  'unci',
];
/** Tracks of a file that holds a short film beside its picture. */
const TRACKS = ['pict', 'vide', 'auxv', 'soun'];
const CONTAINERS = ['moov', 'trak', 'mdia', 'minf', 'stbl', 'edts'];

/** What is not understood well enough to be sure. */
class Unclear extends Error {}

/**
 * Removes from a HEIC or AVIF file, in place, what tells a position. Nothing changes its place.
 * @param data - The file; modified.
 * @param note - Told what was removed.
 * @returns Where the last box ends; undefined when the file is not understood.
 * @throws {Error} Only what is a mistake in this code.
 * @see ISO/IEC 14496-12 (boxes, 8.11 items), ISO/IEC 23008-12 annex A (EXIF and XMP items) (from memory).
 */
export function cleanHeif(data: Buffer, note: Note): number | undefined {
  try {
    let end = 0;
    for (const box of boxes(data, 0, data.length, true)) {
      if (box.type === 'meta') cleanMeta(data, box, note);
      else if (box.type === 'moov') cleanFilm(data, box, note);
      else if (!TOP.includes(box.type)) blank(data, box, note);
      end = box.to;
    }
    return end === 0 ? undefined : end;
  } catch (error) {
    if (error instanceof Unclear || error instanceof RangeError) return undefined;
    throw error;
  }
}

/** The boxes between two places; at the top what is no box any more ends them, elsewhere it makes the file unclear. */
function boxes(data: Buffer, from: number, to: number, top = false): readonly Box[] {
  const found: Box[] = [];
  let at = from;
  while (at + 8 <= to) {
    let bytes = data.readUInt32BE(at);
    const type = data.toString('latin1', at + 4, at + 8);
    let header = 8;
    if (bytes === 1) {
      if (at + 16 > to) break;
      bytes = Number(data.readBigUInt64BE(at + 8));
      header = 16;
    } else if (bytes === 0) bytes = to - at;
    if (bytes < header || at + bytes > to || !/^[\x20-\x7e\xa9]{4}$/.test(type)) break;
    found.push({ type, at, from: at + header, to: at + bytes });
    at += bytes;
  }
  if (at !== to && !top) throw new Unclear();
  return found;
}

/** Makes room of a box. */
function blank(data: Buffer, { type, at, from, to }: Box, note: Note): void {
  if (data.subarray(from, to).every((byte) => byte === 0)) return;
  data.write('free', at + 4, 'latin1');
  data.fill(0, from, to);
  note(`data that only their maker knows (${/^[a-z0-9]{4}$/.test(type) ? type : 'a box'})`);
}

function cleanFilm(data: Buffer, box: Box, note: Note): void {
  for (const inner of boxes(data, box.from, box.to)) {
    if (CONTAINERS.includes(inner.type)) cleanFilm(data, inner, note);
    else if (['udta', 'meta', 'uuid'].includes(inner.type)) blank(data, inner, note);
    // A track of numbers may be one of positions, spread over the file.
    else if (inner.type === 'hdlr' && inner.to - inner.from >= 12) {
      if (!TRACKS.includes(data.toString('latin1', inner.from + 8, inner.from + 12)) && box.type === 'mdia')
        throw new Unclear();
    }
  }
}

function cleanMeta(data: Buffer, box: Box, note: Note): void {
  const parts = boxes(data, box.from + 4, box.to);
  const iinf = parts.find(({ type }) => type === 'iinf');
  const iloc = parts.find(({ type }) => type === 'iloc');
  const idat = parts.find(({ type }) => type === 'idat');
  for (const part of parts) if (!META.includes(part.type)) blank(data, part, note);
  if (iinf === undefined || iloc === undefined) throw new Unclear();
  const places = itemPlaces(data, iloc, idat);
  for (const item of items(data, iinf)) {
    if (PICTURES.includes(item.type)) continue;
    const ranges = places.get(item.id);
    if (ranges === undefined) throw new Unclear();
    const content = Buffer.concat(ranges.map(([from, to]) => data.subarray(from, to)));
    cleanItem(item, content, note);
    let at = 0;
    for (const [from, to] of ranges) {
      data.set(content.subarray(at, at + to - from), from);
      at += to - from;
    }
  }
}

function cleanItem({ type, mime }: Item, content: Buffer, note: Note): void {
  const blankAll = (what: string): void => {
    content.fill(0);
    note(what);
  };
  if (type === 'Exif') {
    const from = content.length < 4 ? content.length : 4 + content.readUInt32BE(0);
    const isClean =
      from <= content.length &&
      cleanTiff(content.subarray(from), note, (inner, also) => cleanJpeg(inner, also) !== undefined);
    if (!isClean) blankAll('EXIF that could not be understood');
  } else if (type === 'mime' && mime === 'application/rdf+xml') {
    if (!cleanXmp(content, note)) blankAll('XMP that could not be understood');
  } else if (content.some((byte) => byte !== 0)) blankAll('data that only their maker knows (an item)');
}

interface Item {
  readonly id: number;
  readonly type: string;
  /** What kind of text it is, when it is one that is not packed. */
  readonly mime: string;
}

function items(data: Buffer, iinf: Box): readonly Item[] {
  const short = data[iinf.from] === 0;
  return boxes(data, iinf.from + (short ? 6 : 8), iinf.to).map((box) => {
    const version = data[box.from] ?? 0;
    if (box.type !== 'infe' || (version !== 2 && version !== 3)) throw new Unclear();
    const idBytes = version === 2 ? 2 : 4;
    const typeAt = box.from + 4 + idBytes + 2;
    const [, mime = '', packed = ''] = data.toString('latin1', typeAt + 4, box.to).split('\0');
    return {
      id: data.readUIntBE(box.from + 4, idBytes),
      type: data.toString('latin1', typeAt, typeAt + 4),
      mime: packed === '' ? mime : '',
    };
  });
}

type Ranges = readonly (readonly [from: number, to: number])[];

/** Where in the file the items lie. */
function itemPlaces(data: Buffer, iloc: Box, idat: Box | undefined): ReadonlyMap<number, Ranges> {
  const version = data[iloc.from] ?? 0;
  if (version > 2) throw new Unclear();
  let at = iloc.from + 4;
  const read = (bytes: number): number => {
    if (at + bytes > iloc.to) throw new Unclear();
    let value = 0;
    for (let i = 0; i < bytes; i += 1) value = 256 * value + (data[at + i] ?? 0);
    at += bytes;
    return value;
  };
  const sizes = read(2);
  const [offsetBytes, lengthBytes, baseBytes] = [sizes >> 12, (sizes >> 8) & 15, (sizes >> 4) & 15];
  const indexBytes = version === 0 ? 0 : sizes & 15;
  const idBytes = version < 2 ? 2 : 4;
  const places = new Map<number, Ranges>();
  for (let left = read(idBytes); left > 0; left -= 1) {
    const id = read(idBytes);
    const method = version === 0 ? 0 : read(2) & 15;
    const otherFile = read(2);
    const base = read(baseBytes);
    const ranges: (readonly [number, number])[] = [];
    let isClear = otherFile === 0 && (method === 0 || (method === 1 && idat !== undefined));
    const start = method === 1 ? (idat?.from ?? 0) : 0;
    const end = method === 1 ? (idat?.to ?? 0) : data.length;
    for (let extents = read(2); extents > 0; extents -= 1) {
      read(indexBytes);
      const from = start + base + read(offsetBytes);
      const to = from + read(lengthBytes);
      if (to > end || to === from) isClear = false;
      ranges.push([from, to]);
    }
    if (isClear) places.set(id, ranges);
  }
  return places;
}
