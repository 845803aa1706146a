/** sRGB's primaries at D50, as every sRGB profile has them (ICC.1, from memory). */
const COLORANTS = {
  rXYZ: [0.4361, 0.2225, 0.0139],
  gXYZ: [0.3851, 0.7169, 0.0971],
  bXYZ: [0.1431, 0.0606, 0.7141],
  wtpt: [0.9642, 1, 0.8249],
} as const;

/**
 * The smallest colour profile of sRGB's colours with codes in proportion to light, as editors of raw photos write.
 * @returns The profile.
 * @see ICC.1:2001-04 (version 2): header, XYZ and curve types (from memory).
 */
export function linearProfile(): Uint8Array {
  const curve = Buffer.concat([Buffer.from('curv\0\0\0\0\0\0\0\0', 'latin1'), Buffer.alloc(4)]);
  const text = Buffer.from('text\0\0\0\0none\0\0\0\0', 'latin1');
  const xyz = (values: readonly number[]) => {
    const tag = Buffer.alloc(20);
    tag.write('XYZ ', 'latin1');
    for (const [i, value] of values.entries()) tag.writeInt32BE(Math.round(value * 65_536), 8 + 4 * i);
    return tag;
  };
  const tags: readonly (readonly [string, Buffer])[] = [
    ...Object.entries(COLORANTS).map(([name, values]) => [name, xyz(values)] as const),
    ...['rTRC', 'gTRC', 'bTRC'].map((name) => [name, curve] as const),
    ['cprt', text],
  ];
  const table = Buffer.alloc(4 + 12 * tags.length);
  table.writeUInt32BE(tags.length);
  let at = 128 + table.length;
  for (const [i, [name, data]] of tags.entries()) {
    table.write(name, 4 + 12 * i, 'latin1');
    table.writeUInt32BE(at, 8 + 12 * i);
    table.writeUInt32BE(data.length, 12 + 12 * i);
    at += data.length;
  }
  const header = Buffer.alloc(128);
  header.writeUInt32BE(at);
  header.writeUInt32BE(0x02200000, 8);
  header.write('mntrRGB XYZ ', 12, 'latin1');
  header.write('acsp', 36, 'latin1');
  for (const [i, value] of COLORANTS.wtpt.entries())
    header.writeInt32BE(Math.round(value * 65_536), 68 + 4 * i);
  return Buffer.concat([header, table, ...tags.map(([, data]) => data)]);
}
