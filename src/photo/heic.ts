import { createRequire } from 'node:module';
import { Worker } from 'node:worker_threads';
import ndarray from 'ndarray';
import sharp from 'sharp';
import { InputError } from '../core/errors.js';
import type { CodeImage, ColourImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { damagedError, formatError } from './photoError.js';
import { tiffOf } from './tiff.js';

/** The decoder that is used when it is installed. */
const LIBRARY = 'libheif-js/wasm-bundle';

/** A HEIC photo, decoded. */
export interface HeicPicture {
  readonly widthPx: Px;
  readonly heightPx: Px;
  /** The file tells by its own boxes how the picture is turned, and it is turned so: EXIF has no say. */
  readonly turned: boolean;
  /** Grey codes, shape (heightPx, widthPx). */
  readonly codes: CodeImage;
  /** A shrunk copy in colour, not turned by EXIF either. */
  readonly small: ColourImage;
}

/** How a HEIC photo is decoded. */
export interface HeicOptions {
  /** The longer side of the shrunk copy is at least this, where the photo's own is, and less than twice it. */
  readonly smallPx: Px;
  /** Module of the decoder. @default 'libheif-js/wasm-bundle' */
  readonly library?: string;
}

/** Rows that are fetched from the worker at once, px: little memory, and few messages. */
const STRIP_PX = 4e6;

/** A decoder that is not through by then hangs: an idle machine takes about 0.001 ms per byte. */
const TIME_LIMIT = { baseMs: 60_000, msPerByte: 0.2 } as const;

/** Transfer characteristics PQ and HLG of ITU-T H.273 (from memory): brightness scales that are not sRGB's. */
const HDR_TRANSFERS: ReadonlySet<number> = new Set([16, 18]);

/**
 * A HEIC photo by its brands.
 * @param bytes - The file.
 * @returns True when its pictures are coded by HEVC.
 * @see ISO/IEC 14496-12 (`ftyp` box), ISO/IEC 23008-12 annex B (HEVC brands), AVIF (`avif`); from memory.
 */
export function isHeic(bytes: Uint8Array): boolean {
  const head = new TextDecoder('latin1').decode(bytes.subarray(0, 64));
  const brands = head.slice(8, bytes[3]); // the box is never as long as 256 bytes
  return head.slice(4, 8) === 'ftyp' && /hei[cxms]|hev[cxms]/.test(brands) && !brands.includes('avif');
}

/**
 * Decodes a HEIC photo in a worker of its own, which gives all its memory back when it ends.
 * @param bytes - The file; not modified.
 * @param options - How.
 * @returns The picture, turned as the file's own boxes say.
 * @throws {InputError} `heic-reader-missing` when libheif-js is not installed, `photo-damaged`, or `photo-format` when the
 * brightness scale is not one that is read.
 */
export async function decodeHeic(bytes: Uint8Array, options: HeicOptions): Promise<HeicPicture> {
  const library = findLibrary(options.library ?? LIBRARY);
  // Before the worker begins: what it says while nobody listens would be lost.
  const { icc } = await sharp(bytes).metadata();
  // What the library prints stays in the worker's own streams.
  const worker = new Worker(new URL('heicWorker.js', import.meta.url), {
    workerData: { bytes, library },
    stdout: true,
    stderr: true,
  });
  const decoder = listenedTo(worker);
  const timer = setTimeout(
    () => void worker.terminate(),
    TIME_LIMIT.baseMs + TIME_LIMIT.msPerByte * bytes.length,
  );
  try {
    return await fetchPicture(decoder, icc, options.smallPx);
  } finally {
    clearTimeout(timer);
    await worker.terminate();
  }
}

function findLibrary(name: string): string {
  try {
    return createRequire(import.meta.url).resolve(name);
  } catch {
    throw new InputError(
      'heic-reader-missing',
      'The photo is HEIC, and the optional package that reads it is not installed.',
      'Export the photo as JPEG, or install the package: npm install libheif-js.',
    );
  }
}

interface Header {
  readonly width: Px;
  readonly height: Px;
  readonly channels: 3 | 4;
  readonly transfer: number;
  readonly turned: boolean;
}

interface Answer {
  readonly header?: Header;
  readonly strip?: Uint8Array;
  readonly failed?: string;
}

/** A worker, and what is heard of it when it ends, whenever that is. */
interface Decoder {
  readonly worker: Worker;
  /** Never fulfilled; rejected when the worker fails or ends. */
  readonly ended: Promise<never>;
}

/**
 * Listens to a worker from its beginning on. It may end while nobody waits for an answer (its time is up while a strip is converted): listened for only then,
 * the end would be missed, and its next answer waited for without end.
 * @param worker - Just started.
 * @returns The worker with its end.
 * @internal
 */
export function listenedTo(worker: Worker): Decoder {
  const ended = new Promise<never>((_, reject) => {
    worker
      .once('error', (error) => {
        reject(damagedError(error));
      })
      .once('exit', () => {
        reject(damagedError('its decoding does not come to an end'));
      });
  });
  // It is raced against each answer; one that is rejected after the last answer is nobody's.
  ended.catch(() => undefined);
  return { worker, ended };
}

/**
 * The worker's next word.
 * @param decoder - The worker, and its end.
 * @returns What it says.
 * @throws {InputError} `photo-damaged` when it fails or ends, also when it has ended before.
 * @internal
 */
export async function answerOf({ worker, ended }: Decoder): Promise<Answer> {
  const next = new Promise<Answer>((resolve) => {
    worker.once('message', resolve);
  });
  const answer = await Promise.race([next, ended]);
  if (answer.failed !== undefined) throw damagedError(answer.failed);
  return answer;
}

/** The picture, its colour profile taken out. */
async function fetchPicture(
  decoder: Decoder,
  profile: Uint8Array | undefined,
  smallPx: Px,
): Promise<HeicPicture> {
  const { worker } = decoder;
  const { header } = await answerOf(decoder);
  if (header === undefined) throw damagedError('no picture in it');
  if (HDR_TRANSFERS.has(header.transfer)) {
    throw formatError('The photo has the brightness scale of a high dynamic range (HDR).');
  }
  const { width, height, channels } = header;
  const factor = Math.max(1, Math.floor(Math.max(width, height) / smallPx));
  const codes = new Uint8Array(width * height);
  const small = {
    data: new Uint8Array(3 * Math.floor(width / factor) * Math.floor(height / factor)),
    widthPx: Math.floor(width / factor),
    heightPx: Math.floor(height / factor),
  };
  const rows = factor * Math.max(1, Math.floor(STRIP_PX / width / factor));
  const undecodedPx = new Uint32Array(256);
  for (let top = 0; top < height; top += rows) {
    worker.postMessage({ top, rows });
    const { strip } = await answerOf(decoder);
    if (strip === undefined) throw damagedError('a part of it is missing');
    countUndecoded(strip, channels, undecodedPx);
    const size = { widthPx: width, heightPx: strip.length / channels / width, channels };
    const grey = await sharp(tiffOf(strip, size, profile))
      .flatten()
      .toColourspace('b-w')
      .raw()
      .toBuffer();
    codes.set(grey, top * width);
    averageBlocks(strip, size, factor, small.data.subarray(3 * small.widthPx * (top / factor)));
  }
  if (Math.max(...undecodedPx) > MOST_UNDECODED_PX) throw damagedError('a part of it is not decoded');
  const { turned } = header;
  return { widthPx: width, heightPx: height, turned, codes: ndarray(codes, [height, width]), small };
}

/** The smallest block that HEVC codes by itself, px (ITU-T H.265, 16 × 16; from memory). */
const MOST_UNDECODED_PX = 256;
/**
 * Luma and chroma 0 come out as this green, without red or blue: 77 to 136 by ITU-R BT.709 or BT.601, in a full or a
 * limited range, and some more for other matrices (computed from their coefficients, which are from memory).
 */
const UNDECODED_GREEN = [64, 160] as const;
/** A row of a block that HEVC codes by itself: as many px side by side are all the same where nothing was decoded. */
const BLOCK_PX = 16;

/**
 * Counts px that the decoder left as they were: luma and chroma 0, which is one green without red or blue. Where the data
 * of a slice is damaged, the decoder gives up on the rest of it without a word. A tower may be green without red or blue
 * as well, but its px are not all of one green; so those of each green are counted apart, and only where at least a
 * block's width of them stand side by side.
 * @param codes - Rows of px.
 * @param channels - Codes for each px.
 * @param counts - By green, 256 of them; what is found is added.
 * @internal
 */
export function countUndecoded(codes: Uint8Array, channels: number, counts: Uint32Array): void {
  let [green, run] = [-1, 0];
  const close = () => {
    if (run >= BLOCK_PX) counts[green] = (counts[green] ?? 0) + run;
  };
  for (let at = 0; at < codes.length; at += channels) {
    const one = codes[at] === 0 && codes[at + 2] === 0 ? (codes[at + 1] ?? 0) : -1;
    const isUndecoded = one >= UNDECODED_GREEN[0] && one <= UNDECODED_GREEN[1];
    if (isUndecoded && one === green) run += 1;
    else {
      close();
      [green, run] = isUndecoded ? [one, 1] : [-1, 0];
    }
  }
  close();
}

/** Means of blocks of factor × factor px. What is left over at the right and the bottom falls away. */
function averageBlocks(
  codes: Uint8Array,
  { widthPx, heightPx, channels }: { readonly widthPx: Px; readonly heightPx: Px; readonly channels: number },
  factor: number,
  into: Uint8Array,
): void {
  const columns = Math.floor(widthPx / factor);
  const sums = new Uint32Array(3 * columns);
  for (let y = 0; y + factor <= heightPx; y += factor) {
    sums.fill(0);
    for (let row = y; row < y + factor; row += 1) {
      for (let x = 0; x < columns * factor; x += 1) {
        const from = channels * (row * widthPx + x);
        const to = 3 * Math.floor(x / factor);
        for (let channel = 0; channel < 3; channel += 1) {
          sums[to + channel] = (sums[to + channel] ?? 0) + (codes[from + channel] ?? 0);
        }
      }
    }
    for (const [i, sum] of sums.entries()) into[(y / factor) * sums.length + i] = sum / factor ** 2 + 0.5;
  }
}
