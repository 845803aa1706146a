import ndarray from 'ndarray';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { photoFault } from '../../src/face/photoFault.js';
import { linearLut } from '../../src/imaging/tone.js';
import { seeded } from '../synth/random.js';
import { drawDesk, type Patch } from './drawnDesk.js';

const LUT = linearLut(8);
const TOWER: Patch = {
  cornersPx: [
    [300, 250],
    [900, 260],
    [895, 710],
    [305, 700],
  ],
  rgb: [190, 90, 40],
};
const CARD: Patch = {
  cornersPx: [
    [980, 300],
    [1460, 310],
    [1455, 670],
    [975, 660],
  ],
  rgb: [60, 90, 170],
};
const sharpDesk = drawDesk([CARD, TOWER]).codes;

const changed = (change: (code: number) => number): CodeImage =>
  ndarray(Uint8Array.from(sharpDesk.data, change), [...sharpDesk.shape]);

/** Blurred by libvips. */
async function blurred(sigmaPx: number): Promise<CodeImage> {
  const [height = 0, width = 0] = sharpDesk.shape;
  const raw = { width, height, channels: 1 } as const;
  const data = await sharp(sharpDesk.data, { raw }).blur(sigmaPx).toColourspace('b-w').raw().toBuffer();
  return ndarray(new Uint8Array(data), [height, width]);
}

describe('photoFault', () => {
  test('a sharp, well lit photo has none', () => {
    expect(photoFault(sharpDesk, LUT)).toBeUndefined();
  });

  test('one whose bright parts lie below code 44 is too dark, one just above is not', () => {
    // The ground has code 152 with a noise of ±1.5, and only what is smaller than a twentieth is brighter.
    const dark = changed((code) => (code * 42) / 154);
    expect(photoFault(dark, LUT)).toMatchObject({ reason: 'too-dark', limit: 44 });
    expect(photoFault(dark, LUT)!.value).toBeLessThan(43);
    expect(
      photoFault(
        changed((code) => (code * 48) / 154),
        LUT,
      ),
    ).toBeUndefined();
  });

  test('one burnt out over more than a fifth is glare, with less it is not', () => {
    const burntTo = (share: number) => {
      const codes = sharpDesk.data.slice();
      codes.fill(255, 0, Math.round(share * codes.length));
      return ndarray(codes as Uint8Array, [...sharpDesk.shape]);
    };
    const burnt = photoFault(burntTo(0.22), LUT)!;
    expect(burnt).toMatchObject({ reason: 'glare', limit: 0.2 });
    expect(burnt.value).toBeGreaterThan(0.21);
    expect(photoFault(burntTo(0.18), LUT)).toBeUndefined();
  });

  test('blurred by 5 px it is blurred, by 1.5 px it is not', async () => {
    expect(photoFault(await blurred(5), LUT)).toMatchObject({ reason: 'blurred', limit: 3 });
    expect(photoFault(await blurred(1.5), LUT)).toBeUndefined();
  });

  test('neither an even picture nor noise is called blurred', () => {
    const even = changed(() => 130);
    const random = seeded(3);
    const noise = changed(() => random.even(60, 190));
    expect([photoFault(even, LUT), photoFault(noise, LUT)]).toEqual([undefined, undefined]);
  });
});
