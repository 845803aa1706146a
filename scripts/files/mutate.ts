import sharp, { type Sharp } from 'sharp';
import { seeded, type Random } from '../../test/synth/random.js';

/** A whole file that mutations start from. */
export interface WholeFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** A file with something done to it. */
export interface Mutation {
  readonly kind: MutationKind;
  readonly file: string;
  readonly bytes: Uint8Array;
}

export const MUTATION_KINDS = [
  'header',
  'scan',
  'exif',
  'truncated',
  'huge',
  'hole',
  'moved',
  'spliced',
] as const;
export type MutationKind = (typeof MUTATION_KINDS)[number];

/**
 * The files that are mutated: one picture in every format and manner that is read, and some that are not.
 * @param picture - Upright, with its EXIF.
 * @param heic - HEIC files, which no package here can make.
 * @returns The files.
 */
export async function wholeFiles(
  picture: () => Sharp,
  heic: readonly WholeFile[],
): Promise<readonly WholeFile[]> {
  const { width, height } = await picture().metadata();
  const white = { create: { width, height, channels: 3 as const, background: '#fff' } };
  const pages = [await picture().png().toBuffer(), await sharp(white).png().toBuffer()];
  const moving = () => sharp(pages, { join: { animated: true } });
  const made: readonly (readonly [name: string, from: Sharp])[] = [
    ['jpeg', picture().jpeg({ quality: 90 })],
    ['jpeg, progressive', picture().jpeg({ quality: 90, progressive: true })],
    ['jpeg, CMYK', picture().toColourspace('cmyk').withIccProfile('cmyk').jpeg({ quality: 90 })],
    ['png', picture().png({ compressionLevel: 1 })],
    [
      'png, 16 bits and opacity',
      picture().ensureAlpha(0.9).toColourspace('rgb16').png({ compressionLevel: 1 }),
    ],
    ['webp', picture().webp({ quality: 90, effort: 0 })],
    ['webp, moving', moving().webp({ quality: 80, effort: 0 })],
    ['tiff', picture().tiff({ compression: 'deflate' })],
    ['tiff, pages', moving().tiff({ compression: 'jpeg', quality: 90 })],
    ['avif', picture().avif({ quality: 80, effort: 0 })],
    ['gif, moving', moving().gif({ effort: 1 })],
  ];
  const files: WholeFile[] = [...heic];
  for (const [name, from] of made) files.push({ name, bytes: await from.toBuffer() });
  return files;
}

/**
 * Does one thing to one file.
 * @param files - Whole files.
 * @param seed - The same for the same mutation.
 * @returns The file with it.
 */
export function mutate(files: readonly WholeFile[], seed: number): Mutation {
  const random = seeded(seed);
  const { name, bytes } = random.pick(files);
  const kind = random.pick(MUTATION_KINDS);
  const another = () => random.pick(files).bytes;
  return { kind, file: name, bytes: MUTATIONS[kind](Buffer.from(bytes), random, another) };
}

type Change = (bytes: Buffer, random: Random, another: () => Uint8Array) => Uint8Array;

const HEADER_BYTES = 700;

const MUTATIONS: Readonly<Record<MutationKind, Change>> = {
  header: (bytes, random) => flipped(bytes, random, 0, HEADER_BYTES),
  scan: (bytes, random) => flipped(bytes, random, HEADER_BYTES, bytes.length),
  exif: (bytes, random) => {
    const at = Math.max(0, bytes.indexOf('Exif'), bytes.indexOf('MM\0*'), bytes.indexOf('II*\0'));
    return flipped(bytes, random, at, at + 400);
  },
  truncated: (bytes, random) => bytes.subarray(0, wholeNumber(random, 0, bytes.length - 1)),
  huge: (bytes, random) => withSides(bytes, random),
  hole: (bytes, random) => {
    const at = wholeNumber(random, 0, bytes.length - 1);
    const end = Math.min(bytes.length, at + wholeNumber(random, 1, 5000));
    return bytes.fill(random.pick([0, 0xff]), at, end);
  },
  moved: (bytes, random) => {
    const [at, length] = [wholeNumber(random, 0, bytes.length - 1), wholeNumber(random, 1, 3000)];
    const piece = bytes.subarray(at, at + length);
    const to = wholeNumber(random, 0, bytes.length - 1);
    return random.chance(0.5)
      ? Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + length)])
      : Buffer.concat([bytes.subarray(0, to), piece, bytes.subarray(to)]);
  },
  spliced: (bytes, random, another) => {
    const other = another();
    return Buffer.concat([
      bytes.subarray(0, wholeNumber(random, 1, bytes.length)),
      other.subarray(wholeNumber(random, 0, other.length - 1)),
    ]);
  },
};

function wholeNumber(random: Random, low: number, high: number): number {
  return Math.min(high, Math.floor(random.even(low, high + 1)));
}

/** Up to sixteen bytes changed to others. */
function flipped(bytes: Buffer, random: Random, from: number, to: number): Buffer {
  for (let left = wholeNumber(random, 1, 16); left > 0; left -= 1) {
    const at = wholeNumber(random, Math.min(from, bytes.length - 1), Math.min(to, bytes.length) - 1);
    bytes[at] = wholeNumber(random, 0, 255);
  }
  return bytes;
}

const SIDES = [0, 1, 7, 2000, 9000, 12_000, 16_383, 30_000, 65_535] as const;

/**
 * Other sides where the header tells them: JPEG frame header (ITU-T T.81 B.2.2), PNG IHDR, `ispe` box of HEIF, VP8 frame
 * header, TIFF tags 256 and 257; from memory.
 */
function withSides(bytes: Buffer, random: Random): Buffer {
  const [a, b] = [random.pick(SIDES), random.pick(SIDES)];
  const frame =
    [0xc0, 0xc1, 0xc2].map((mark) => bytes.indexOf(Uint8Array.of(0xff, mark))).find((at) => at > 0) ?? -1;
  const ispe = bytes.lastIndexOf('ispe', 4096);
  const vp8 = bytes.indexOf(Uint8Array.of(0x9d, 0x01, 0x2a));
  if (bytes.subarray(1, 4).toString('latin1') === 'PNG') {
    bytes.writeUInt32BE(a, 16);
    bytes.writeUInt32BE(b, 20);
  } else if (ispe > 0) {
    bytes.writeUInt32BE(a, ispe + 8);
    bytes.writeUInt32BE(b, ispe + 12);
  } else if (bytes.subarray(0, 4).toString('latin1') === 'RIFF' && vp8 > 0) {
    bytes.writeUInt16LE(a & 0x3fff, vp8 + 3);
    bytes.writeUInt16LE(b & 0x3fff, vp8 + 5);
  } else if (bytes.subarray(0, 2).toString('latin1') === 'II') {
    for (const [tag, side] of [
      [0, a],
      [1, b],
    ] as const) {
      const at = bytes.indexOf(Uint8Array.of(tag, 1));
      if (at > 0) bytes.writeUInt16LE(side, Math.min(at + 8, bytes.length - 2));
    }
  } else if (frame > 0) {
    bytes.writeUInt16BE(a, frame + 5);
    bytes.writeUInt16BE(b, frame + 7);
  } else return flipped(bytes, random, 4, 12);
  return bytes;
}
