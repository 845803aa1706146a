import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage, PointPx } from '../../src/core/image.js';
import { cornerOf, type EdgeLine } from '../../src/imaging/edgeLine.js';
import { fitEdgeLine } from '../../src/imaging/fitEdgeLine.js';
import { fitTextureEnd } from '../../src/imaging/fitTextureEnd.js';
import { linearLut, linearToSrgb } from '../../src/imaging/tone.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const LUT8 = linearLut(8);
const LUT16 = linearLut(16);

interface Drawn {
  readonly codes: CodeImage;
  readonly from: PointPx;
  readonly to: PointPx;
  /** Distance of a point from the true edge, px, positive outside. */
  readonly outside: (point: PointPx) => number;
}

/** Normal distribution by Abramowitz & Stegun 7.1.26, |error| < 1.5e-7. */
function normal(z: number): number {
  const t = 1 / (1 + (0.3275911 * Math.abs(z)) / Math.SQRT2);
  const series = [1.061405429, -1.453152027, 1.421413741, -0.284496736, 0.254829592];
  const erfc = series.reduce((sum, a) => t * (sum + a), 0) * Math.exp((-z * z) / 2);
  return z > 0 ? 1 - erfc / 2 : erfc / 2;
}

/**
 * A blurred half plane seen by square pixels: the mean of the Gaussian's integral over 4 × 4 points of each pixel, or
 * for no blur the share of 64 × 64 points.
 */
function drawEdge(options: {
  readonly angle: number;
  readonly shift: number;
  readonly sigmaPx: number;
  readonly bits?: 8 | 16;
  readonly inside?: number;
  readonly beyond?: number;
  readonly noise?: Float64Array;
  /** Where the true edge deviates outwards from its line, px by the way along it. */
  readonly wave?: (along: number) => number;
}): Drawn {
  const { angle, shift, sigmaPx, bits = 16, inside = 0.6, beyond = 0.2, noise, wave = () => 0 } = options;
  const size = 240;
  const middle = size / 2;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  // Direction (c, s) with the inside on the right hand (y down): the normal out of it is (s, −c).
  const outside = ([x, y]: PointPx) => s * (x - middle) - c * (y - middle) - shift;
  const along = (x: number, y: number) => c * (x - middle) + s * (y - middle);
  const fine = sigmaPx > 0 ? 4 : 64;
  const top = 2 ** bits - 1;
  const data = bits === 8 ? new Uint8Array(size * size) : new Uint16Array(size * size);
  for (let row = 0; row < size; row += 1) {
    for (let column = 0; column < size; column += 1) {
      let share = 0;
      const away = outside([column + 0.5, row + 0.5]);
      if (Math.abs(away) > 5 * sigmaPx + 5) share = away > 0 ? 0 : 1;
      else {
        for (let i = 0; i < fine * fine; i += 1) {
          const x = column + ((i % fine) + 0.5) / fine;
          const y = row + (Math.floor(i / fine) + 0.5) / fine;
          const d = outside([x, y]) - wave(along(x, y));
          share += (sigmaPx > 0 ? normal(-d / sigmaPx) : d < 0 ? 1 : 0) / (fine * fine);
        }
      }
      const light = beyond + (inside - beyond) * share + (noise?.[row * size + column] ?? 0);
      data[row * size + column] = Math.round(top * linearToSrgb(Math.min(1, Math.max(0, light))));
    }
  }
  const end = (sign: number, error: number): PointPx => [
    middle + sign * 100 * c + s * (shift + error),
    middle + sign * 100 * s - c * (shift + error),
  ];
  const codes = ndarray(data as Uint8Array, [size, size]);
  return { codes, from: end(-1, 1.7), to: end(1, -2.3), outside };
}

function fit(drawn: Drawn, bits: 8 | 16 = 16): EdgeLine {
  const line = fitEdgeLine(drawn.codes, bits === 8 ? LUT8 : LUT16, drawn.from, drawn.to, { reachPx: 6 });
  if (line === undefined) throw new Error('no edge was found');
  return line;
}

/** By how much a line lies outside the true one, where a point on the true line has its foot. */
const bias = ({ normal: n, offsetPx }: EdgeLine, at: PointPx) => offsetPx - (n[0] * at[0] + n[1] * at[1]);

const ANGLES = [0, 3, 11, 26, 44, 46, 63, 90, 117, 135, 171, 180, 200, 225, 260, 270, 301, 340];

describe('fitEdgeLine', () => {
  // Source: closed form: area under a blurred half plane. The issue asks for 0.02 px.
  test.each([0, 0.4, 0.8, 1.5, 3])('finds a clean edge of blur %s px at all angles to 0.02 px', (sigmaPx) => {
    for (const [i, degrees] of ANGLES.entries()) {
      const angle = (degrees * Math.PI) / 180;
      const shift = (i * 0.37) % 1;
      const drawn = drawEdge({ angle, shift, sigmaPx });
      const line = fit(drawn);
      const at: PointPx = [120 + Math.sin(angle) * shift, 120 - Math.cos(angle) * shift];
      // With no blur at all an edge along the pixels leaves one grey pixel to tell its place.
      const abs = sigmaPx === 0 ? 0.03 : 0.02;
      expectClose(bias(line, at), 0, { abs, why: `bias allowed at ${degrees}°` });
      expectClose(line.normal, [Math.sin(angle), -Math.cos(angle)], { abs: 4e-4, why: '0.02 px over 50' });
      expect(line.support).toBeGreaterThan(0.95);
      expect(line.sdPx).toBeLessThan(0.02);
    }
  });

  // Source: closed form: a box of 1 px has the variance 1/12.
  test.each([0.8, 1.5, 3])('tells the blur %s px, a pixel included', (sigmaPx) => {
    const { blurPx } = fit(drawEdge({ angle: 0.2, shift: 0.3, sigmaPx }));
    expectClose(blurPx, Math.sqrt(sigmaPx ** 2 + 1 / 12), { rel: 0.03, why: 'a box is no Gaussian' });
  });

  test('points lie along the edge in order, and the corner of two lines is on both', () => {
    const line = fit(drawEdge({ angle: Math.PI, shift: 0.2, sigmaPx: 0.8 }));
    const xs = line.points.map(([x]) => x);
    expect(xs).toEqual([...xs].sort((a, b) => b - a));
    const other = fit(drawEdge({ angle: 0.4, shift: 0.1, sigmaPx: 0.8 }));
    const [x, y] = cornerOf(line, other);
    for (const { normal: n, offsetPx } of [line, other]) {
      expectClose(n[0] * x + n[1] * y, offsetPx, { abs: 1e-9, why: 'both equations hold' });
    }
    expect(() => cornerOf(line, line)).toThrow(RangeError);
  });

  test('8-bit codes, and an edge whose beyond is brighter', () => {
    const drawn = drawEdge({ angle: 0.3, shift: 0.45, sigmaPx: 0.8, bits: 8, inside: 0.1, beyond: 0.7 });
    const at: PointPx = [120 + Math.sin(0.3) * 0.45, 120 - Math.cos(0.3) * 0.45];
    expectClose(bias(fit(drawn, 8), at), 0, { abs: 0.02, why: 'bias allowed' });
  });

  // 40 drawn edges each: a true sd is told to 11 %, so 1.5 times off would be four sigmas.
  test.each([
    { what: 'white noise', noiseSd: 0.03, waveSd: 0 },
    { what: 'a wavy edge', noiseSd: 0.003, waveSd: 0.3 },
  ])('claims an uncertainty that its errors have: $what', { timeout: 60_000 }, ({ noiseSd, waveSd }) => {
    const ratios: number[] = [];
    for (let seed = 1; seed <= 40; seed += 1) {
      const random = seeded(seed).normal;
      const noise = Float64Array.from({ length: 240 * 240 }, () => noiseSd * random());
      // Waves of all lengths from 15 px on, also such that do not end within the edge.
      const waves = Array.from({ length: 12 }, (_, i) => {
        const [a, b] = [waveSd * random(), waveSd * random()];
        const perPx = (2 * Math.PI * (i + 0.5)) / (12 * 15);
        return (along: number) => (a * Math.sin(perPx * along) + b * Math.cos(perPx * along)) / Math.sqrt(12);
      });
      const wave = (along: number) => waves.reduce((sum, one) => sum + one(along), 0);
      const angle = 0.1 * seed;
      const drawn = drawEdge({ angle, shift: 0.5, sigmaPx: 0.8, noise, wave });
      const line = fit(drawn);
      const at: PointPx = [120 + Math.sin(angle) * 0.5, 120 - Math.cos(angle) * 0.5];
      ratios.push(bias(line, at) / line.sdPx);
    }
    const rms = Math.sqrt(ratios.reduce((sum, r) => sum + r * r, 0) / ratios.length);
    expect(rms).toBeGreaterThan(0.5);
    expect(rms).toBeLessThan(1.5);
  });

  test('a third of the edge that lies 3 px off does not draw it there', () => {
    const wave = (along: number) => (along > 33 ? 3 : 0);
    const angle = 0.15;
    const drawn = drawEdge({ angle, shift: 0, sigmaPx: 0.8, wave });
    const line = fit(drawn);
    expectClose(bias(line, [120, 120]), 0, { abs: 0.1, why: 'robust' });
    expect(line.support).toBeLessThan(0.75);
  });

  test('an even picture has no edge, and one fainter than asked for is none', () => {
    const even = drawEdge({ angle: 0.2, shift: 0, sigmaPx: 1, inside: 0.4, beyond: 0.4 });
    expect(fitEdgeLine(even.codes, LUT16, even.from, even.to, { reachPx: 6 })).toBeUndefined();
    const faint = drawEdge({ angle: 0.2, shift: 0, sigmaPx: 1, inside: 0.41, beyond: 0.4 });
    const search = { reachPx: 6, leastStep: 0.05 };
    expect(fitEdgeLine(faint.codes, LUT16, faint.from, faint.to, search)).toBeUndefined();
  });

  test('a line of no length or no reach is refused', () => {
    const { codes, from, to } = drawEdge({ angle: 0, shift: 0, sigmaPx: 1 });
    expect(() => fitEdgeLine(codes, LUT16, from, from, { reachPx: 6 })).toThrow(RangeError);
    expect(() => fitEdgeLine(codes, LUT16, from, to, { reachPx: 0 })).toThrow(RangeError);
  });

  test('a bend that is allowed is fitted, and the line is what is left without it', () => {
    const angle = 0.15;
    // Outwards by 2.4 px in the middle of the 200 px asked for, by a parabola.
    const wave = (along: number) => 2.4 * (1 - (along / 100) ** 2);
    const drawn = drawEdge({ angle, shift: 0.2, sigmaPx: 0.8, wave });
    const bow = { at: (share: number) => 4 * share * (1 - share), lowPx: -5, highPx: 5 };
    const line = fitEdgeLine(drawn.codes, LUT16, drawn.from, drawn.to, { reachPx: 6, bends: [bow] });
    const at: PointPx = [120 + Math.sin(angle) * 0.2, 120 - Math.cos(angle) * 0.2];
    expectClose(bias(line!, at), 0, {
      abs: 0.05,
      why: 'the bend is asked for along the line given, 2 px off',
    });
    expectClose(line!.bendsPx, [2.4], { abs: 0.05, why: 'amplitude drawn' });
    const held = { ...bow, lowPx: 0, highPx: 1 };
    const limited = fitEdgeLine(drawn.codes, LUT16, drawn.from, drawn.to, { reachPx: 6, bends: [held] });
    expect(limited!.bendsPx).toEqual([1]);
  });
});

describe('fitTextureEnd', () => {
  /** Lines of a period along x, down from y = top, on ground of their mean brightness; blurred a little. */
  function drawLines(top: number, slope: number): CodeImage {
    const size = 260;
    const data = new Uint16Array(size * size);
    for (let row = 0; row < size; row += 1) {
      for (let column = 0; column < size; column += 1) {
        const down = row + 0.5 - top - slope * column;
        // A wave of 5 px that begins in its trough, through an edge blurred by 0.8 px.
        const light = 0.4 - 0.15 * normal(down / 0.8) * Math.cos((2 * Math.PI * (down - 2)) / 5);
        data[row * size + column] = Math.round(65535 * linearToSrgb(light));
      }
    }
    return ndarray(data as unknown as Uint8Array, [size, size]);
  }

  test.each([
    [100.3, 0.02],
    [90.8, -0.05],
  ])('finds where lines end on a ground of their own brightness (top %s, slope %s)', (top, slope) => {
    const codes = drawLines(top, slope);
    const at = (x: number, error: number): PointPx => [x, top + slope * x + error];
    const line = fitTextureEnd(codes, LUT16, at(20, 2), at(240, -1.5), { reachPx: 6 });
    const steepness = Math.hypot(1, slope);
    expectClose(line!.normal, [slope / steepness, -1 / steepness], { abs: 3e-3, why: 'a px over 220' });
    // The outermost flank lies within a quarter of a period of the end.
    expectClose(bias(line!, at(130, 0)), 0, {
      abs: 1,
      why: 'which part of a wave is its end is a convention',
    });
    expect(line!.support).toBeGreaterThan(0.5);
  });

  test('even ground has no such end', () => {
    const even = drawEdge({ angle: 0, shift: 0, sigmaPx: 1, inside: 0.4, beyond: 0.4 });
    expect(fitTextureEnd(even.codes, LUT16, even.from, even.to, { reachPx: 6 })).toBeUndefined();
  });
});
