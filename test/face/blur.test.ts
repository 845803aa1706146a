import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import { blurOfFace } from '../../src/face/blur.js';
import { findLayers } from '../../src/face/findLayers.js';
import { qualityByRegion } from '../../src/face/regions.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const edge = (blurPx: number) => ({ blurPx });

describe('blur over a face', () => {
  test('by its edges: theirs next to them, between them in the middle', () => {
    const even = blurOfFace([edge(2), edge(2), edge(2), edge(2)])!;
    expectClose(even.byRegion.flat(), new Array<number>(9).fill(2), { rel: 1e-12, why: 'rounding' });
    const left = blurOfFace([undefined, edge(1), undefined, edge(4)])!;
    // Closed form: weights 36 and 36/25 next to an edge; both alike in the middle.
    expectClose(
      left.byRegion[1]!,
      [Math.sqrt((25 * 16 + 1) / 26), Math.sqrt(8.5), Math.sqrt((25 + 16) / 26)],
      {
        rel: 1e-12,
        why: 'rounding',
      },
    );
    expectClose(left.blurPx, Math.sqrt(8.5), { rel: 1e-12, why: 'the median of the nine' });
    expect(blurOfFace([undefined, undefined, undefined, undefined])).toBeUndefined();
  });

  test('by its layer lines: more where they are fainter by what a Gaussian takes away', () => {
    // Source: transform of a Gaussian; lines of 4 px blurred by 0.8 px in the left third, 1.2 and 1.6 px further right.
    const blurs = [0.8, 1.2, 1.6];
    const light = Float32Array.from({ length: 900 * 900 }, (_, k) => {
      const s = blurs[Math.floor((k % 900) / 300)]!;
      const kept = Math.exp(-2 * (Math.PI * (s / 4)) ** 2);
      return 0.4 * (1 + 0.3 * kept * Math.cos((Math.PI / 2) * (Math.floor(k / 900) + 0.5)));
    });
    const image = ndarray(light, [900, 900]);
    const layers = findLayers({ image, imagePxPerMm: { alongWall: 20, alongHeight: 20 } }, 0.2)!;
    // An edge that is rounded tells too much; the sharpest one is taken for what the clearest lines have.
    const { byRegion } = blurOfFace([edge(3), edge(3), edge(0.8), edge(3)], layers)!;
    for (const row of [0, 1]) {
      expectClose(byRegion[row]!, blurs, { abs: 0.05, why: 'a stripe of 2 mm lies across each third' });
    }
  });
});

describe('quality by region', () => {
  test('finds burnt-out light where it is, and the noise that was put in', () => {
    const random = seeded(3);
    // 5 % of noise, on a slope of light; a burnt-out patch of a quarter of the region in the middle.
    const light = Float32Array.from({ length: 300 * 300 }, (_, k) => {
      const [x, y] = [k % 300, Math.floor(k / 300)];
      if (x >= 125 && x < 175 && y >= 125 && y < 175) return 1;
      return (0.3 + 0.001 * x) * (1 + 0.05 * random.normal());
    });
    const { clippedShare, noise } = qualityByRegion(ndarray(light, [300, 300]), 0.995);
    expectClose(clippedShare.flat(), [0, 0, 0, 0, 0.25, 0, 0, 0, 0], { abs: 1e-9, why: 'counted' });
    const around = noise.flat().filter((_, i) => i !== 4) as number[];
    expectClose(around, new Array<number>(8).fill(0.05), { rel: 0.1, why: 'a median of 1400 differences' });
    const black = qualityByRegion(ndarray(new Float32Array(9), [3, 3]), 0.995);
    expect(black.noise.flat()).toEqual(new Array<undefined>(9).fill(undefined));
  });
});
