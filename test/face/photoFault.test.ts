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

  test('one whose bright parts lie below code 44 is too dark for any face, below 88 for a dark one', () => {
    // The ground has code 152 with a noise of ±1.5, and only what is smaller than a twentieth is brighter.
    const darkenedTo = (code: number) =>
      photoFault(
        changed((one) => (one * code) / 154),
        LUT,
      );
    expect(darkenedTo(42)).toMatchObject({ reason: 'too-dark', limit: 44, isGrave: true });
    expect(darkenedTo(42)!.value).toBeLessThan(43);
    expect(darkenedTo(48)).toMatchObject({ reason: 'too-dark', limit: 88, isGrave: false });
    expect(darkenedTo(85)).toMatchObject({ reason: 'too-dark', limit: 88, isGrave: false });
    expect(darkenedTo(92)).toBeUndefined();
  });

  test('a photo with 8 % of the light is too dark', () => {
    // Source: IEC 61966-2-1, by the power law of 1/2.2 (from memory).
    const dark = photoFault(
      changed((code) => code * 0.08 ** (1 / 2.2)),
      LUT,
    );
    expect(dark).toMatchObject({ reason: 'too-dark' });
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
    // JPEG stirs what is burnt out.
    const stirred = burntTo(0.22);
    const random = seeded(5);
    for (let i = 0; i < 0.22 * stirred.data.length; i += 1)
      stirred.data[i] = Math.round(random.even(253, 255));
    expect(photoFault(stirred, LUT)).toMatchObject({ reason: 'glare', isGrave: false });
  });

  test('blurred by 5 px or 12 px it is blurred for any face, by 2.5 px for a small one, by 1 px it is not', async () => {
    for (const px of [5, 12]) {
      expect(photoFault(await blurred(px), LUT)).toMatchObject({
        reason: 'blurred',
        limit: 3,
        isGrave: true,
      });
    }
    expect(photoFault(await blurred(2.5), LUT)).toMatchObject({
      reason: 'blurred',
      limit: 1.4,
      isGrave: false,
    });
    expect(photoFault(await blurred(1), LUT)).toBeUndefined();
  });

  test('neither an even picture nor noise is called blurred', () => {
    const even = changed(() => 130);
    const random = seeded(3);
    const noise = changed(() => random.even(60, 190));
    expect([photoFault(even, LUT), photoFault(noise, LUT)]).toEqual([undefined, undefined]);
  });
});
