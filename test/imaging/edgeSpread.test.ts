import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage } from '../../src/core/image.js';
import { edgeSpreadPx } from '../../src/imaging/edgeSpread.js';
import { linearLut } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const LUT = linearLut(8);
const SIDES = [1200, 1600] as const;
/** Squares of the board, px. */
const SQUARE = 120;

/** Integral of the normal distribution. Source: Abramowitz & Stegun 7.1.26, to 1.5e-7 (from memory). */
function normalCdf(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const series =
    t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const erf = 1 - series * Math.exp(-x * x);
  return z < 0 ? (1 - erf) / 2 : (1 + erf) / 2;
}

/** A square wave of −1 and 1 that a Gaussian has blurred. Source: closed form, the sum of its steps. */
function blurredWave(length: number, sigmaPx: number): Float64Array {
  return Float64Array.from({ length }, (_, i) => {
    let value = -1;
    for (let k = 0; k * SQUARE < length; k += 1) {
      const z = (i + 0.5 - (k + 0.4) * SQUARE) / sigmaPx;
      value += (k % 2 === 0 ? 2 : -2) * normalCdf(z);
    }
    return value;
  });
}

/** A board whose squares are blurred by one Gaussian along the rows and by another down the columns. */
function board(acrossPx: number, downPx: number, noise = 0): CodeImage {
  const [rows, columns] = SIDES;
  const [down, across] = [blurredWave(rows, downPx), blurredWave(columns, acrossPx)];
  const random = seeded(11);
  // Codes by the sRGB curve (IEC 61966-2-1) of light between 0.15 and 0.65.
  const codes = Uint8Array.from({ length: rows * columns }, (_, i) => {
    const light = 0.4 + 0.25 * down[(i / columns) | 0]! * across[i % columns]! + random.even(-noise, noise);
    return Math.round(255 * (1.055 * light ** (1 / 2.4) - 0.055));
  });
  return ndarray(codes, [rows, columns]);
}

describe('edgeSpreadPx', () => {
  test.each([2, 3, 5, 8, 12])('tells a Gaussian of %d px that a closed form has drawn', (sigmaPx) => {
    const why =
      'corners of the squares and the next square at three standard deviations of the coarser scale';
    expectClose(edgeSpreadPx(board(sigmaPx, sigmaPx), LUT)!, sigmaPx, { rel: 0.1, why });
  });

  test('noise makes little difference', () => {
    const why = 'the fifth of the edges that look sharpest by the noise';
    expectClose(edgeSpreadPx(board(5, 5, 0.03), LUT)!, 5, { rel: 0.15, why });
  });

  test('a sharp edge spreads by less than a px', () => {
    expect(edgeSpreadPx(board(0.6, 0.6), LUT)!).toBeLessThan(1);
  });

  test('a camera shaken to one side blurs the edges of one direction, and that counts', () => {
    const why = 'as above';
    expectClose(edgeSpreadPx(board(6, 0.7), LUT)!, 6, { rel: 0.1, why });
    expectClose(edgeSpreadPx(board(0.7, 6), LUT)!, 6, { rel: 0.1, why });
  });

  test('turning the photo changes nothing', () => {
    const codes = board(4, 4);
    expect(edgeSpreadPx(codes.transpose(1, 0), LUT)).toBe(edgeSpreadPx(codes, LUT));
  });

  test('an even picture, or one smaller than its kernels, tells nothing', () => {
    const even = ndarray(new Uint8Array(SIDES[0] * SIDES[1]).fill(120), [...SIDES]);
    expect(edgeSpreadPx(even, LUT)).toBeUndefined();
    expect(edgeSpreadPx(ndarray(new Uint8Array(12).fill(9), [3, 4]), LUT)).toBeUndefined();
  });
});
