import { cleanIptc, cleanPhotoshop } from './cleanIptc.js';
import { cleanXmp } from './cleanXmp.js';
import type { CleanInner, Note } from './note.js';
import { isKnownField, MAP_FIELDS, TAG, TYPE_BYTES } from './tiffFields.js';

interface Field {
  /** Where its 12 bytes begin. */
  readonly at: number;
  readonly tag: number;
  readonly type: number;
  readonly count: number;
  /** Where its value lies, and how many bytes it takes. */
  readonly from: number;
  readonly bytes: number;
}

type Range = readonly [from: number, to: number];

/** More directories than any camera writes; a file that goes round in circles ends here. */
const MOST_IFDS = 64;
const MOST_FIELDS = 4096;

/**
 * Removes from a TIFF structure, in place, what tells a position: the GPS directory, the maker's notes and private fields
 * (only their maker knows what is in them), map fields, and what XMP, IPTC and thumbnails hold. Nothing changes its place.
 * @param data - An EXIF block, or a whole TIFF file; modified.
 * @param note - Told what was removed.
 * @param cleanThumbnail - Cleans a thumbnail, which is a JPEG file of its own.
 * @param whole - A file, whose other bytes are its picture; of an EXIF block, bytes that no field names are blanked.
 * @default false
 * @returns False when it is not understood well enough to be sure; it may then be half done.
 * @see TIFF 6.0 (1992), section 2; CIPA DC-008 (Exif 2.32), section 4.6 (from memory).
 */
export function cleanTiff(data: Buffer, note: Note, cleanThumbnail: CleanInner, whole = false): boolean {
  const order = data.toString('latin1', 0, 2);
  if (data.length < 8 || (order !== 'II' && order !== 'MM')) return false;
  const little = order === 'II';
  const u16 = (at: number): number => (little ? data.readUInt16LE(at) : data.readUInt16BE(at));
  const u32 = (at: number): number => (little ? data.readUInt32LE(at) : data.readUInt32BE(at));
  if (u16(2) !== 42) return false;

  const kept: Range[] = [[0, 8]];
  const blanked: Range[] = [];
  const dropped: Field[] = [];
  const pictures: Range[] = [];
  const tables: { readonly at: number; readonly fields: readonly Field[] }[] = [];
  const rewritten: Range[] = [];
  const inside: (() => void)[] = [];
  const seen = new Set<number>();
  const queue: number[] = [u32(4)];

  while (queue.length > 0) {
    const at = queue.pop() ?? 0;
    if (at === 0 || seen.has(at)) continue;
    seen.add(at);
    const fields = seen.size > MOST_IFDS ? undefined : readTable(at);
    if (fields === undefined) return false;
    tables.push({ at, fields });
    const end = at + 2 + 12 * fields.length;
    kept.push([at, Math.min(data.length, end + 4)]);
    rewritten.push([at, end]);
    if (end + 4 <= data.length) queue.push(u32(end));
    const value = (tag: number): number | undefined => {
      const field = fields.find((one) => one.tag === tag);
      return field === undefined ? undefined : numbersOf(field)[0];
    };
    for (const field of fields) if (!look(field)) return false;
    const [from, bytes] = [value(TAG.jpegFrom), value(TAG.jpegBytes)];
    if (from !== undefined && bytes !== undefined) thumbnail(from, bytes);
    addPictures(fields, TAG.stripOffsets, TAG.stripBytes);
    addPictures(fields, TAG.tileOffsets, TAG.tileBytes);
  }
  const overlaps = (one: Range): boolean => pictures.some(([from, to]) => one[0] < to && from < one[1]);
  if (whole && [...blanked, ...rewritten].some(overlaps)) return false;
  for (const action of inside) action();
  for (const [from, to] of blanked) data.fill(0, from, to);
  if (!whole) fillGaps(data, [...kept, ...pictures]);
  for (const { at, fields } of tables) dropFrom(at, fields);
  return true;

  function blank(from: number, to: number): void {
    if (from < data.length) blanked.push([from, Math.min(data.length, to)]);
  }

  function readTable(at: number): readonly Field[] | undefined {
    if (at + 2 > data.length) return undefined;
    const count = u16(at);
    if (count > MOST_FIELDS || at + 2 + 12 * count > data.length) return undefined;
    return Array.from({ length: count }, (_, i): Field => {
      const place = at + 2 + 12 * i;
      const [type, values] = [u16(place + 2), u32(place + 4)];
      const bytes = (TYPE_BYTES[type] ?? 0) * values;
      return {
        at: place,
        tag: u16(place),
        type,
        count: values,
        from: bytes <= 4 ? place + 8 : u32(place + 8),
        bytes,
      };
    });
  }

  function numbersOf({ type, count, from }: Field): readonly number[] {
    const size = TYPE_BYTES[type] ?? 0;
    const read = type === 3 ? u16 : type === 4 || type === 13 ? u32 : undefined;
    if (read === undefined || from + size * count > data.length) return [];
    return Array.from({ length: count }, (_, i) => read(from + size * i));
  }

  /** What is to be done with one field; false when the structure is not understood. */
  function look(field: Field): boolean {
    const { tag, from } = field;
    const to = Math.min(data.length, from + field.bytes);
    const value = (): Buffer => data.subarray(from, to);
    switch (tag) {
      case TAG.gpsIfd: {
        const at = u32(field.at + 8);
        const gps = readTable(at);
        if (gps !== undefined) {
          blank(at, at + 2 + 12 * gps.length + 4);
          for (const one of gps) if (one.bytes > 4) blank(one.from, one.from + one.bytes);
        }
        dropped.push(field);
        note('position (EXIF)');
        return true;
      }
      case TAG.exifIfd:
      case TAG.interopIfd:
        queue.push(u32(field.at + 8));
        return true;
      case TAG.subIfds:
        kept.push([from, to]);
        queue.push(...numbersOf(field).slice(0, MOST_IFDS));
        return true;
      case TAG.xmp:
        return replaced(() => cleanXmp(value(), note), 'XMP that could not be understood');
      case TAG.iptc:
        return replaced(() => cleanIptc(value(), note), 'IPTC data that could not be understood');
      case TAG.photoshop:
        return replaced(
          () => cleanPhotoshop(value(), note, cleanThumbnail),
          'data of a picture editor that could not be understood',
        );
      default:
    }
    if (MAP_FIELDS.includes(tag)) {
      blank(from, to);
      dropped.push(field);
      note('position on a map (GeoTIFF)');
    } else if (tag === TAG.makerNote || !isKnownField(tag)) {
      if (value().some((byte) => byte !== 0)) {
        note(tag === TAG.makerNote ? "the maker's notes" : 'fields that only their maker knows');
      }
      blank(from, to);
    } else if (from < to) kept.push([from, to]);
    return true;

    function replaced(clean: () => boolean, what: string): boolean {
      kept.push([from, to]);
      rewritten.push([from, to]);
      inside.push(() => {
        if (from >= to || clean()) return;
        data.fill(0, from, to);
        note(what);
      });
      return true;
    }
  }

  function thumbnail(from: number, bytes: number): void {
    const to = Math.min(data.length, from + bytes);
    if (from >= to) return;
    kept.push([from, to]);
    inside.push(() => {
      if (
        cleanThumbnail(data.subarray(from, to), (what) => {
          note(`in the thumbnail: ${what}`);
        })
      )
        return;
      data.fill(0, from, to);
      note('a thumbnail that could not be understood');
    });
  }

  function addPictures(fields: readonly Field[], offsets: number, sizes: number): void {
    const [at, bytes] = [offsets, sizes].map((tag) => fields.find((field) => field.tag === tag));
    if (at === undefined || bytes === undefined) return;
    const lengths = numbersOf(bytes);
    for (const [i, from] of numbersOf(at).entries())
      pictures.push([from, Math.min(data.length, from + (lengths[i] ?? 0))]);
  }

  /** Takes fields out of their table; those behind move up, which no other place depends on. */
  function dropFrom(at: number, fields: readonly Field[]): void {
    const gone = fields.filter((field) => dropped.includes(field));
    if (gone.length === 0) return;
    const end = at + 2 + 12 * fields.length;
    const next = end + 4 <= data.length ? Buffer.from(data.subarray(end, end + 4)) : Buffer.alloc(4);
    const left = fields
      .filter((field) => !dropped.includes(field))
      .map((field) => Buffer.from(data.subarray(field.at, field.at + 12)));
    const table = Buffer.concat([...left, next]);
    data.fill(0, at + 2, Math.min(data.length, end + 4));
    if (little) data.writeUInt16LE(left.length, at);
    else data.writeUInt16BE(left.length, at);
    data.set(table, at + 2);
  }
}

/** Blanks what lies between the ranges: remains of what a program has taken out without clearing it. */
function fillGaps(data: Buffer, ranges: readonly Range[]): void {
  let at = 0;
  for (const [from, to] of [...ranges].sort((a, b) => a[0] - b[0])) {
    const end = Math.min(from, data.length);
    if (end > at) data.fill(0, at, end);
    at = Math.max(at, to);
  }
  if (at < data.length) data.fill(0, at);
}
