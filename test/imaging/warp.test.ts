import fc from 'fast-check';
import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage, PointPx } from '../../src/core/image.js';
import { applyHomography, homographyFromPoints } from '../../src/imaging/homography.js';
import { distortPoint, type Lens } from '../../src/imaging/lens.js';
import { uprightView } from '../../src/imaging/orientation.js';
import { linearLut, linearToSrgb } from '../../src/imaging/tone.js';
import { rectify } from '../../src/imaging/warp.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

/** Light proportional to the code: with 16 bits a drawn picture keeps its values to 1e-5. */
const PROPORTIONAL = Float32Array.from({ length: 65536 }, (_, code) => code / 65535);
const IDENTITY = Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1);

const shifted = (dx: number, dy: number): Float64Array => Float64Array.of(1, 0, dx, 0, 1, dy, 0, 0, 1);

/** A picture of 16-bit codes from a function of px coordinates, centres at +0.5. */
function draw(rows: number, columns: number, code: (x: number, y: number) => number): CodeImage {
  const data = new Uint16Array(rows * columns);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      data[row * columns + column] = Math.round(code(column + 0.5, row + 0.5));
    }
  }
  return ndarray(data, [rows, columns]);
}

function noise(rows: number, columns: number, seed: number): CodeImage {
  const random = seeded(seed);
  return ndarray(
    Uint8Array.from({ length: rows * columns }, () => Math.floor(random.even(0, 256))),
    [rows, columns],
  );
}

describe('rectify', () => {
  test('leaves a picture as it is under the identity, to the last bit', () => {
    const picture = noise(9, 13, 1);
    const lut = linearLut(8);
    const flat = rectify(picture, lut, IDENTITY, 9, 13);
    expect(flat.shape).toEqual([9, 13]);
    expect(flat.data).toEqual(Float32Array.from(picture.data, (code) => lut[code]!));
  });

  test('repeats the border beyond the picture, however far', () => {
    const picture = noise(6, 7, 2);
    const lut = linearLut(8);
    const light = (row: number, column: number): number =>
      lut[picture.get(Math.min(5, Math.max(0, row)), Math.min(6, Math.max(0, column)))]!;
    const flat = rectify(picture, lut, shifted(-4, 3), 8, 16);
    for (let row = 0; row < 8; row += 1) {
      for (let column = 0; column < 16; column += 1) {
        expect(flat.get(row, column)).toBe(light(row + 3, column - 4));
      }
    }
    for (const far of [1e4, 3e9, 1e15]) {
      expect(rectify(picture, lut, shifted(far, far), 1, 1).get(0, 0)).toBe(light(5, 6));
      expect(rectify(picture, lut, shifted(-far, -far), 1, 1).get(0, 0)).toBe(light(0, 0));
    }
  });

  test('spreads a single px as Keys’ kernel does', () => {
    // Source: Keys 1981, a = −0.5 (from memory): h(0) = 1, h(½) = 0.5625, h(1) = 0, h(1½) = −0.0625, h(2) = 0;
    // h(¼) = 1.5/64 − 2.5/16 + 1 = 0.8671875.
    const picture = draw(12, 12, (x, y) => (x === 6.5 && y === 6.5 ? 65535 : 0));
    const along = (dx: number, dy: number): number[] =>
      Array.from({ length: 6 }, (_, k) => {
        const flat = rectify(picture, PROPORTIONAL, shifted(dx, dy), 12, 12);
        return dx === 0 ? flat.get(4 + k, 6) : flat.get(6, 4 + k);
      });
    expectClose(along(0.5, 0), [-0.0625, 0.5625, 0.5625, -0.0625, 0, 0], { abs: 1e-7, why: 'float32' });
    expectClose(along(0, 0.5), along(0.5, 0), { abs: 0, why: 'rows and columns are treated alike' });
    expectClose(along(0.25, 0)[2]!, 0.8671875, { abs: 1e-7, why: 'float32' });
  });

  test('reproduces quadratics exactly, under any homography', () => {
    // Source: Keys 1981: with a = −0.5 the interpolation is exact for polynomials of second degree.
    const quadratic = (x: number, y: number): number => {
      const [i, j] = [x - 0.5, y - 0.5];
      return 4000 + 30 * i + 20 * j + 2 * i * i - i * j + 3 * j * j;
    };
    const picture = draw(80, 100, quadratic);
    const inside = fc.tuple(
      fc.double({ min: 0, max: 18, noNaN: true }),
      fc.double({ min: 0, max: 15, noNaN: true }),
    );
    fc.assert(
      fc.property(inside, inside, inside, inside, (a, b, c, d) => {
        const corners: PointPx[] = [
          [4 + a[0], 4 + a[1]],
          [96 - b[0], 4 + b[1]],
          [96 - c[0], 76 - c[1]],
          [4 + d[0], 76 - d[1]],
        ];
        const box: PointPx[] = [
          [0, 0],
          [50, 0],
          [50, 40],
          [0, 40],
        ];
        const h = homographyFromPoints(box, corners);
        const flat = rectify(picture, PROPORTIONAL, h, 40, 50);
        const expected = Array.from({ length: 2000 }, (_, k) =>
          quadratic(...applyHomography(h, (k % 50) + 0.5, Math.floor(k / 50) + 0.5)),
        );
        expectClose(
          flat.data,
          expected.map((code) => code / 65535),
          { rel: 5e-7, why: 'float32 in table and result' },
        );
      }),
      { numRuns: 40 },
    );
  });

  test('moves and weakens a grating as Keys’ kernel must, and not at all on the average of shifts', () => {
    // Source: Keys 1981 (from memory), the kernel as printed: its response to e^{jωx} at a shift of s px.
    // Coarse fractions of a px would move it more: 0.036 px in one library.
    const kernel = (x: number): number => {
      const d = Math.abs(x);
      return d <= 1 ? 1.5 * d ** 3 - 2.5 * d ** 2 + 1 : -0.5 * d ** 3 + 2.5 * d ** 2 - 4 * d + 2;
    };
    for (const periodPx of [8, 15, 40]) {
      const omega = (2 * Math.PI) / periodPx;
      const picture = draw(12, 440, (x) => 32768 + 25000 * Math.cos(omega * x));
      // As many columns as whole periods hold.
      const columns = periodPx * Math.floor(400 / periodPx);
      let meanMovedPx = 0;
      for (let k = 0; k < 20; k += 1) {
        const s = k / 20;
        const flat = rectify(picture, PROPORTIONAL, shifted(20 + s, 2.3), 6, 400);
        let [re, im] = [0, 0];
        for (let column = 0; column < columns; column += 1) {
          const light = (2 * flat.get(3, column) * 65535) / 25000 / columns;
          re += light * Math.cos(omega * (column + 20.5 + s));
          im += light * Math.sin(omega * (column + 20.5 + s));
        }
        let [gain, lag] = [0, 0];
        for (let tap = -1; tap <= 2; tap += 1) {
          gain += kernel(s - tap) * Math.cos(omega * (tap - s));
          lag -= kernel(s - tap) * Math.sin(omega * (tap - s));
        }
        expectClose([re, im], [gain, lag], { abs: 1e-5, why: '16-bit codes, averaged over a line' });
        const movedPx = Math.atan2(im, re) / omega;
        meanMovedPx += movedPx / 20;
        // What the doc comment promises: the kernel's own response has its largest displacement at s ≈ 0.21.
        expect(Math.abs(movedPx), `${periodPx} px, shift ${s}`).toBeLessThan(0.66 / periodPx ** 2);
      }
      expectClose(meanMovedPx, 0, { abs: 1e-5, why: 'px; 16-bit codes' });
    }
  });

  test('does not move a grating in a tilted 8-bit photo', () => {
    // Source: closed form, as above; sRGB codes of a grating drawn in the plane of the face.
    const h = Float64Array.of(1.02, 0.05, 21.3, -0.03, 0.97, 25.7, 1.1e-4, -0.6e-4, 1);
    const [rows, columns, periodPx] = [60, 300, 12];
    const omega = (2 * Math.PI) / periodPx;
    const corners: PointPx[] = [
      [0, 0],
      [columns, 0],
      [columns, rows],
      [0, rows],
    ];
    const back = homographyFromPoints(
      corners.map(([x, y]) => applyHomography(h, x, y)),
      corners,
    );
    const random = seeded(3);
    const codes = new Uint8Array(120 * 360);
    for (let k = 0; k < codes.length; k += 1) {
      const [x] = applyHomography(back, (k % 360) + 0.5, Math.floor(k / 360) + 0.5);
      const light = 0.4 + 0.2 * Math.cos(omega * x);
      // Half a code of dither, so that rounding does not follow the grating.
      codes[k] = Math.floor(255 * linearToSrgb(light) + random.even(0, 1));
    }
    const flat = rectify(ndarray(codes, [120, 360]), linearLut(8), h, rows, columns);
    let [re, im] = [0, 0];
    for (let row = 0; row < rows; row += 1) {
      for (let column = 0; column < columns; column += 1) {
        re += flat.get(row, column) * Math.cos(omega * (column + 0.5));
        im += flat.get(row, column) * Math.sin(omega * (column + 0.5));
      }
    }
    expectClose(Math.atan2(im, re) / omega, 0, {
      abs: 0.002,
      why: 'px; noise of 18,000 dithered px is 0.0002',
    });
    const amplitude = (2 * Math.hypot(re, im)) / (rows * columns);
    expectClose(amplitude, 0.2, { rel: 0.01, why: 'the kernel’s mean loss at 12 px is 0.4 %' });
  });

  test('takes one warp as two', () => {
    // Source: composition of maps; a smooth picture, whole-px step second, so that no interpolation is added.
    const picture = noise(30, 40, 4);
    const lut = linearLut(8);
    const h = Float64Array.of(0.9, 0.1, 5.2, -0.05, 0.95, 6.1, 1e-3, 5e-4, 1);
    const whole = rectify(picture, lut, h, 20, 25);
    const afterShift = homographyAfterShift(h, 3, 2);
    const part = rectify(picture, lut, afterShift, 17, 21);
    for (let row = 0; row < 17; row += 1) {
      for (let column = 0; column < 21; column += 1) {
        expectClose(part.get(row, column), whole.get(row + 2, column + 3), { abs: 1e-6, why: 'float32' });
      }
    }
  });

  test('reads strided views as their copies', () => {
    const picture = noise(24, 31, 6);
    const lut = linearLut(8);
    const h = Float64Array.of(0.8, 0.1, 2.2, -0.1, 0.85, 3.1, 1e-3, -1e-3, 1);
    for (let orientation = 1; orientation <= 8; orientation += 1) {
      const view = uprightView(picture, orientation).lo(1, 2);
      const [rows, columns] = view.shape as [number, number];
      const copy = ndarray(
        Uint8Array.from({ length: rows * columns }, (_, k) => view.get(Math.floor(k / columns), k % columns)),
        [rows, columns],
      );
      expect(rectify(view, lut, h, 22, 22).data).toEqual(rectify(copy, lut, h, 22, 22).data);
    }
  });

  test('gives 16 bits the light of 8 bits', () => {
    const eight = noise(10, 10, 8);
    const sixteen = ndarray(
      Uint16Array.from(eight.data, (code) => 257 * code),
      [10, 10],
    );
    const h = shifted(0.3, 0.7);
    expectClose(
      rectify(sixteen, linearLut(16), h, 10, 10).data,
      rectify(eight, linearLut(8), h, 10, 10).data,
      {
        abs: 1e-6,
        why: 'float32',
      },
    );
  });

  test('keeps a constant, and does not change its input', () => {
    const picture = ndarray(new Uint8Array(100).fill(128), [10, 10]);
    const h = Float64Array.of(1.5, 0.3, -4, -0.2, 1.4, -3, 0.01, 0.02, 1);
    const flat = rectify(picture, linearLut(8), h, 12, 12);
    expectClose(flat.data, new Float32Array(144).fill(0.215860500114), {
      rel: 1e-6,
      why: 'float32; sRGB 128',
    });
    expect(picture.data).toEqual(new Uint8Array(100).fill(128));
  });

  test('takes out a lens: the homography first, then the lens, point by point', () => {
    // Source: composition of maps; Keys' kernel is exact for a plane of light, so the result is where it was read.
    const h = Float64Array.of(0.9, 0.1, 5.2, -0.05, 0.95, 6.1, 1e-3, 5e-4, 1);
    for (const k1 of [-0.2, 0.3]) {
      const lens: Lens = { k1, centrePx: [21.3, 14.2], focalPx: 30 };
      for (const axis of [0, 1]) {
        const picture = draw(60, 70, (x, y) => 500 + 800 * (axis === 0 ? x : y));
        const flat = rectify(picture, PROPORTIONAL, h, 20, 25, lens);
        const expected = Array.from({ length: 500 }, (_, k) => {
          const straight = applyHomography(h, (k % 25) + 0.5, Math.floor(k / 25) + 0.5);
          return (500 + 800 * distortPoint(lens, straight)[axis]!) / 65535;
        });
        expectClose(flat.data, expected, { abs: 2e-7, why: 'float32, of values up to 0.8' });
      }
    }
    const picture = noise(24, 31, 12);
    const none: Lens = { k1: 0, centrePx: [15, 12], focalPx: 30 };
    expect(rectify(picture, linearLut(8), h, 9, 8, none)).toEqual(rectify(picture, linearLut(8), h, 9, 8));
  });

  test('refuses what it cannot do', () => {
    const folding: Lens = { k1: -0.5, centrePx: [2, 2], focalPx: 4 };
    expect(() => rectify(noise(5, 5, 9), linearLut(8), IDENTITY, 5, 6, folding)).toThrow(/side of the fold/);
    const picture = noise(5, 5, 9);
    expect(() => rectify(picture, linearLut(8), IDENTITY, 0, 5)).toThrow(/at least one row and column/);
    expect(() => rectify(picture, linearLut(8), IDENTITY, 2.5, 5)).toThrow(/at least one row and column/);
    expect(() => rectify(picture, new Float32Array(10), IDENTITY, 5, 5)).toThrow(/table of 256 codes/);
    const sixteen = ndarray(new Uint16Array(25), [5, 5]);
    expect(() => rectify(sixteen, linearLut(8), IDENTITY, 5, 5)).toThrow(/table of 65536 codes/);
    const horizon = Float64Array.of(1, 0, 0, 0, 1, 0, -0.3, 0, 1);
    expect(() => rectify(picture, linearLut(8), horizon, 5, 5)).toThrow(/horizon crosses it/);
    expect(() => rectify(picture, linearLut(8), new Float64Array(9).fill(NaN), 5, 5)).toThrow(/horizon/);
    // The same homography times −1 is the same map.
    const minus = IDENTITY.map((value) => -value);
    expect(rectify(picture, linearLut(8), minus, 5, 5)).toEqual(
      rectify(picture, linearLut(8), IDENTITY, 5, 5),
    );
  });
});

/** First a shift by whole px, then the homography. */
function homographyAfterShift(h: Float64Array, dx: number, dy: number): Float64Array {
  return h.map((value, k) => (k % 3 === 2 ? h[k - 2]! * dx + h[k - 1]! * dy + value : value));
}
