/** A box of a HEIF file: where it begins, how long it is, where its content begins. */
interface Box {
  readonly at: number;
  readonly size: number;
  readonly content: number;
}

/** Boxes that begin with a version and flags. */
const FULL = new Set(['meta', 'pitm', 'iloc', 'ipma']);

/**
 * Adds properties to the main picture of a HEIF file as heif-enc writes it.
 * @param file - The file; not modified.
 * @param properties - Whole boxes, in the order in which they are to be carried out.
 * @returns The file with them.
 * @see ISO/IEC 14496-12 (boxes, `iloc`) and ISO/IEC 23008-12 (`ipco`, `ipma`, `irot`, `imir`); from memory.
 */
export function withProperties(file: Uint8Array, properties: readonly Uint8Array[]): Uint8Array {
  const from = Buffer.from(file);
  const meta = boxIn(from, 'meta', { at: 0, size: from.length, content: 0 });
  const iprp = boxIn(from, 'iprp', meta);
  const ipco = boxIn(from, 'ipco', iprp);
  const ipma = boxIn(from, 'ipma', iprp);
  const primary = from.readUInt16BE(boxIn(from, 'pitm', meta).content);
  const known = [...boxesIn(from, ipco)].length;
  const { countAt, end } = associationsOf(from, ipma, primary);
  // The highest bit: the property must be understood.
  const associations = Uint8Array.from(properties, (_, i) => 0x80 | (known + 1 + i));
  const added = Buffer.concat(properties);
  const grown = added.length + associations.length;
  from.writeUInt8(from.readUInt8(countAt) + properties.length, countAt);
  for (const [box, by] of [
    [meta, grown],
    [iprp, grown],
    [ipco, added.length],
    [ipma, associations.length],
  ] as const) {
    from.writeUInt32BE(box.size + by, box.at);
  }
  moveData(from, boxIn(from, 'iloc', meta).content, grown);
  const ipcoEnd = ipco.at + ipco.size;
  return Buffer.concat([
    from.subarray(0, ipcoEnd),
    added,
    from.subarray(ipcoEnd, end),
    associations,
    from.subarray(end),
  ]);
}

/**
 * A box.
 * @param type - Four letters.
 * @param content - What is in it.
 * @returns Its bytes.
 */
export function box(type: string, content: Uint8Array): Uint8Array {
  const size = Buffer.alloc(4);
  size.writeUInt32BE(8 + content.length);
  return Buffer.concat([size, Buffer.from(type, 'latin1'), content]);
}

/** Quarter turns against the clock, and mirroring: 0 top to bottom, 1 left to right. */
const TURN = (quarters: number) => box('irot', Uint8Array.of(quarters));
const MIRROR = (axis: number) => box('imir', Uint8Array.of(axis));

/** The boxes that turn a picture as an EXIF orientation does; the turn is carried out first. */
export const BOXES_OF_ORIENTATION: readonly (readonly [orientation: number, boxes: readonly Uint8Array[]])[] =
  [
    [1, [TURN(0)]],
    [2, [MIRROR(1)]],
    [3, [TURN(2)]],
    [4, [MIRROR(0)]],
    [5, [TURN(3), MIRROR(1)]],
    [6, [TURN(3)]],
    [7, [TURN(1), MIRROR(1)]],
    [8, [TURN(1)]],
  ];

function* boxesIn(file: Buffer, { content, at, size }: Box): Generator<Box & { readonly type: string }> {
  for (let start = content; start < at + size;) {
    const length = file.readUInt32BE(start);
    const type = file.toString('latin1', start + 4, start + 8);
    yield { type, at: start, size: length, content: start + (FULL.has(type) ? 12 : 8) };
    start += length;
  }
}

function boxIn(file: Buffer, type: string, outer: Box): Box {
  for (const one of boxesIn(file, outer)) if (one.type === type) return one;
  throw new Error(`There is no ${type} box.`);
}

/** Where the number of an item's properties stands, and where their list ends. */
function associationsOf(
  file: Buffer,
  { content }: Box,
  item: number,
): { readonly countAt: number; readonly end: number } {
  let at = content + 4;
  for (let left = file.readUInt32BE(content); left > 0; left -= 1) {
    const count = file.readUInt8(at + 2);
    if (file.readUInt16BE(at) === item) return { countAt: at + 2, end: at + 3 + count };
    at += 3 + count;
  }
  throw new Error(`Item ${item} has no properties.`);
}

/** What lies in the file behind the boxes has moved; what lies in a box of its own has not. */
function moveData(file: Buffer, content: number, by: number): void {
  const places = file.readUInt8(content - 4) === 0 ? 0 : 2;
  let at = content + 4;
  for (let left = file.readUInt16BE(content + 2); left > 0; left -= 1) {
    const inFile = places === 0 || file.readUInt16BE(at + 2) === 0;
    const base = at + 4 + places;
    if (inFile) file.writeUInt32BE(file.readUInt32BE(base) + by, base);
    at = base + 6 + 8 * file.readUInt16BE(base + 4);
  }
}
