/**
 * The script that one would write first: FFT of each millimetre of height, smallest amplitude wins. It is the
 * baseline that stillband's accuracy is held against, not a part of it.
 *
 *   npx tsx scripts/plainScript.ts
 *
 * prints what it says of every photo in testimages. It knows nothing of the travel map, of decay, of stripes of
 * fixed pitch or of doubt: it always has an answer. A Hann window before the FFT was tried: nearer on three of
 * the photos, further off on the two others.
 */
import { pathToFileURL } from 'node:url';
import type { Hz, Mm } from '../src/core/units.js';
import { readFace } from '../src/face/readFace.js';
import type { Face } from '../src/face/rectifyFace.js';
import { seeFace, SHRUNK_PX } from '../src/face/seeFace.js';
import { decodeShrunk, decodeWhole, inspectPhoto } from '../src/photo/decode.js';
import { ladderHzAt } from '../src/print/ladder.js';
import { settlePrint, type PrintSettings } from '../src/print/settle.js';
import { nextPowerOfTwo, realSpectrum } from '../src/signal/fft.js';
import { readPhotos, readRecord, readTruth, type Photo } from './bench/photos.js';

/** What the plain script says of a face. */
export interface PlainResult {
  /** Middle of the band with the smallest amplitude, above the bed. */
  readonly heightMm: Mm;
  /** The ladder's frequency there; undefined where the shaper was off. */
  readonly ladderHz: Hz | undefined;
  /** Speed ÷ spacing in the band with the largest amplitude. */
  readonly spacingHz: Hz;
}

/** Where ringing of printers lies; common practice, no source. */
const LOW_HZ = 12;
const HIGH_HZ = 150;

/**
 * Looks for the band with the smallest ripples.
 * @param face - The flattened face, shape (rows, columns); not modified.
 * @param settings - The print's settings: speed and ladder.
 * @returns Best height with its frequency, and the frequency by spacing.
 */
export function plainScript(face: Face, settings: PrintSettings): PlainResult {
  const [rows, columns] = face.image.shape as [number, number];
  const { alongHeight, alongWall } = face.imagePxPerMm;
  const bands = Array.from({ length: Math.floor(face.heightMm) }, (_, mm) => {
    // Mean brightness of the rows in this millimetre, counted from the bottom, less its own mean.
    const sum = new Float64Array(columns);
    for (let y = Math.ceil(rows - (mm + 1) * alongHeight); y < rows - mm * alongHeight; y += 1) {
      for (let x = 0; x < columns; x += 1) sum[x]! += face.image.get(y, x);
    }
    const mean = sum.reduce((total, value) => total + value, 0) / columns;
    const padded = new Float64Array(nextPowerOfTwo(4 * columns));
    padded.set(sum.map((value) => value / mean - 1));
    const { re, im } = realSpectrum(padded);
    // Cycles per px → per mm → per second; the highest line in the ringing range is the band's amplitude.
    const hzPerBin = (alongWall / padded.length) * settings.speedMmPerS.value;
    let best = { amplitude: 0, hz: 0 };
    for (let k = Math.ceil(LOW_HZ / hzPerBin); k * hzPerBin <= HIGH_HZ; k += 1) {
      const amplitude = Math.hypot(re[k]!, im[k]!);
      if (amplitude > best.amplitude) best = { amplitude, hz: k * hzPerBin };
    }
    return { heightMm: face.bottomMm + mm + 0.5, ...best };
  });
  bands.sort((a, b) => a.amplitude - b.amplitude);
  const [smallest, largest] = [bands[0]!, bands.at(-1)!];
  const ladderHz = ladderHzAt(settings.ladder, smallest.heightMm)?.value;
  return { heightMm: smallest.heightMm, ladderHz, spacingHz: largest.hz };
}

/**
 * The same from a photo on; the face is flattened as stillband does it.
 * @param photo - The photo.
 * @returns Best height with its frequency, and the frequency by spacing.
 */
export async function plainResult(photo: Photo): Promise<PlainResult> {
  const { settings } = settlePrint(readRecord(photo));
  const info = await inspectPhoto(photo.bytes);
  const codes = await decodeWhole(photo.bytes, info);
  const shrunk = () => decodeShrunk(photo.bytes, info, SHRUNK_PX);
  const search = await seeFace({ info, codes, shrunk }, settings);
  const read = 'cornersPx' in search ? readFace(codes, info, settings, search) : undefined;
  if (read?.state !== 'read') throw new Error(`No face is read in ${photo.name}.`);
  return plainScript(read.face, settings);
}

async function main(): Promise<void> {
  for (const photo of readPhotos()) {
    const { heightMm, ladderHz, spacingHz } = await plainResult(photo);
    const truth = readTruth(photo);
    const best = `${heightMm.toFixed(1)} mm, ${ladderHz?.toFixed(1) ?? '-'} Hz`;
    console.log(`${photo.name}: best at ${best} (truth ${truth.nullHz?.toFixed(1) ?? '-'})`);
    console.log(`  by spacing ${spacingHz.toFixed(1)} Hz (truth ${truth.dampedHz.toFixed(1)})`);
  }
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) await main();
