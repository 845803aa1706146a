/** A field: number, type, and its value as bytes, or a directory that it points at. */
export interface FieldSpec {
  readonly tag: number;
  readonly type: number;
  readonly value: Buffer | Directory;
}
/** Fields in rising order. */
export type Directory = readonly FieldSpec[];

const BYTES: Readonly<Record<number, number>> = { 1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1 };

/** Text that no file holds by chance: it stands where a position would, and must be gone. */
export const SECRET = 'SECRETPLACE';

/** How a block is written. */
export interface ExifOptions {
  readonly little: boolean;
  /** JPEG file for the second directory. */
  readonly thumbnail?: Buffer;
  /** Bytes that no field names, as remains of an edited position. */
  readonly remains?: Buffer;
}

/**
 * Writes a TIFF structure.
 * @param first - Its first directory.
 * @param options - How.
 * @returns The block.
 * @see TIFF 6.0 (1992), section 2 (from memory).
 */
export function tiffBlock(first: Directory, options: ExifOptions): Buffer {
  const { little, thumbnail, remains } = options;
  const out: Buffer[] = [];
  let length = 0;
  const add = (bytes: Buffer): number => {
    const at = length;
    const padded = bytes.length % 2 === 0 ? bytes : Buffer.concat([bytes, Buffer.alloc(1)]);
    out.push(padded);
    length += padded.length;
    return at;
  };
  const u16 = (value: number): Buffer => {
    const bytes = Buffer.alloc(2);
    if (little) bytes.writeUInt16LE(value);
    else bytes.writeUInt16BE(value);
    return bytes;
  };
  const u32 = (value: number): Buffer => {
    const bytes = Buffer.alloc(4);
    if (little) bytes.writeUInt32LE(value);
    else bytes.writeUInt32BE(value);
    return bytes;
  };
  const table = (directory: Directory, next: number): number => {
    const fields = directory.map(({ tag, type, value }) => {
      if (!Buffer.isBuffer(value)) return Buffer.concat([u16(tag), u16(type), u32(1), u32(table(value, 0))]);
      const count = value.length / BYTES[type]!;
      const place =
        value.length > 4 ? u32(add(value)) : Buffer.concat([value, Buffer.alloc(4 - value.length)]);
      return Buffer.concat([u16(tag), u16(type), u32(count), place]);
    });
    return add(Buffer.concat([u16(fields.length), ...fields, u32(next)]));
  };
  const header = Buffer.concat([Buffer.from(little ? 'II' : 'MM'), u16(42), u32(0)]);
  add(header);
  if (remains !== undefined) add(remains);
  let second = 0;
  if (thumbnail !== undefined) {
    const at = add(thumbnail);
    second = table(
      [
        { tag: 0x0103, type: 3, value: u16(6) },
        { tag: 0x0201, type: 4, value: u32(at) },
        { tag: 0x0202, type: 4, value: u32(thumbnail.length) },
      ],
      0,
    );
  }
  const root = table(first, second);
  u32(root).copy(header, 4);
  return Buffer.concat(out);
}

/**
 * What a phone would write, with a secret wherever a position may lie.
 * @param options - How.
 * @param withSecrets - Without them it is what must be left.
 * @returns The block.
 */
export function phoneExif(options: ExifOptions, withSecrets = true): Buffer {
  const { little } = options;
  const short = (value: number): Buffer => {
    const bytes = Buffer.alloc(2);
    if (little) bytes.writeUInt16LE(value);
    else bytes.writeUInt16BE(value);
    return bytes;
  };
  const ratio = (over: number, under: number): Buffer => {
    const bytes = Buffer.alloc(8);
    for (const [i, value] of [over, under].entries()) {
      if (little) bytes.writeUInt32LE(value, 4 * i);
      else bytes.writeUInt32BE(value, 4 * i);
    }
    return bytes;
  };
  const secret = Buffer.from(`${SECRET} in degrees`);
  const gps: Directory = [
    { tag: 0x0000, type: 1, value: Buffer.from([2, 3, 0, 0]) },
    { tag: 0x0001, type: 2, value: Buffer.from('N\0') },
    { tag: 0x0002, type: 5, value: Buffer.concat([ratio(48, 1), ratio(12, 1), ratio(0x5ec23712, 1000)]) },
    { tag: 0x001c, type: 7, value: secret },
  ];
  const exif: Directory = [
    { tag: 0x829a, type: 5, value: ratio(1, 120) },
    { tag: 0x9003, type: 2, value: Buffer.from('2026:03:14 18:02:11\0') },
    { tag: 0x920a, type: 5, value: ratio(57, 10) },
    ...(withSecrets
      ? [{ tag: 0x927c, type: 7, value: Buffer.from(`MAKER\0${SECRET} in a form of its own`) }]
      : []),
    { tag: 0x9286, type: 7, value: Buffer.from('ASCII\0\0\0raking light') },
    ...(withSecrets ? [{ tag: 0x9999, type: 2, value: Buffer.from(`{"place":"${SECRET}"}\0`) }] : []),
    { tag: 0xa405, type: 3, value: short(26) },
  ];
  return tiffBlock(
    [
      { tag: 0x010f, type: 2, value: Buffer.from('camera of nobody\0') },
      { tag: 0x0112, type: 3, value: short(6) },
      ...(withSecrets
        ? [
            { tag: 0x02bc, type: 1, value: Buffer.from(xmpPacket('attribute')) },
            { tag: 0x83bb, type: 1, value: iptcBlock() },
          ]
        : []),
      { tag: 0x8769, type: 4, value: exif },
      ...(withSecrets ? [{ tag: 0x8825, type: 4, value: gps }] : []),
    ],
    options,
  );
}

/**
 * An XMP packet with a secret place.
 * @param how - Where it stands.
 * @returns XML (ISO 16684-1, from memory).
 */
export function xmpPacket(how: 'attribute' | 'element' | 'structure' | 'file'): string {
  const places = {
    attribute: [`exif:GPSLatitude="${SECRET}" photoshop:City='${SECRET}'`, ''],
    element: [
      '',
      `<exif:GPSLatitude>${SECRET}</exif:GPSLatitude><photoshop:State>${SECRET}</photoshop:State>`,
    ],
    structure: [
      '',
      `<Iptc4xmpExt:LocationShown><rdf:Bag><rdf:li rdf:parseType="Resource"><Iptc4xmpExt:City>${SECRET}</Iptc4xmpExt:City></rdf:li></rdf:Bag></Iptc4xmpExt:LocationShown>`,
    ],
    file: ['', `<xmpGImg:image>${Buffer.from(SECRET.repeat(300)).toString('base64')}</xmpGImg:image>`],
  } as const;
  const [attribute, element] = places[how];
  return `<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:exif="http://ns.adobe.com/exif/1.0/" xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" xmlns:Iptc4xmpExt="http://iptc.org/std/Iptc4xmpExt/2008-02-29/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:xmpGImg="http://ns.adobe.com/xap/1.0/g/img/" xmp:Rating="4" ${attribute}>
<xmp:CreateDate>2026-03-14T18:02:11</xmp:CreateDate>${element}
</rdf:Description></rdf:RDF></x:xmpmeta>
${' '.repeat(100)}
<?xpacket end="w"?>`;
}

/**
 * An IPTC block whose city is secret.
 * @returns Datasets 2:05 (title) and 2:90 (city) of IPTC-IIM 4.2 (from memory).
 */
export function iptcBlock(): Buffer {
  const dataset = (number: number, text: string): Buffer =>
    Buffer.concat([Buffer.from([0x1c, 2, number, 0, text.length]), Buffer.from(text)]);
  return Buffer.concat([dataset(5, 'tower'), dataset(90, SECRET)]);
}
