import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import { lightReader, pointInStrip, stripFrame, stripProfile } from '../../src/imaging/strip.js';

// Source: closed form: brightness that rises evenly is read exactly between px.

const [ROWS, COLUMNS] = [40, 60];
/** As bright as its code. */
const LUT = Float32Array.from({ length: 256 }, (_, code) => code);
/** Code 10 + 3 · column + row, at px centres. */
const slope = ndarray(
  Uint8Array.from({ length: ROWS * COLUMNS }, (_, i) => 10 + 3 * (i % COLUMNS) + Math.floor(i / COLUMNS)),
  [ROWS, COLUMNS],
);
const lightAt = (x: number, y: number) => 10 + 3 * (x - 0.5) + (y - 0.5);

describe('a strip of the photo', () => {
  test('runs from one point to another, and its other axis a quarter turn clockwise', () => {
    const frame = stripFrame([10, 20], [13, 24]);
    expect(frame.along).toEqual([0.6, 0.8]);
    expect(frame.across).toEqual([-0.8, 0.6]);
    expect(pointInStrip(frame, 5, 0)).toEqual([13, 24]);
    const [x, y] = pointInStrip(frame, 0, 5);
    expect(x).toBeCloseTo(6, 12);
    expect(y).toBeCloseTo(23, 12);
    expect(() => stripFrame([1, 2], [1, 2])).toThrow(/two points that differ/);
  });

  test('light between px is interpolated, and the border goes on', () => {
    const read = lightReader(slope, LUT);
    for (const [x, y] of [
      [0.5, 0.5],
      [17.3, 9.8],
      [59.5, 39.5],
    ] as const) {
      expect(read(x, y)).toBeCloseTo(lightAt(x, y), 9);
    }
    expect(read(-5, 10)).toBeCloseTo(lightAt(0.5, 10), 9);
    expect(read(30, 100)).toBeCloseTo(lightAt(30, 39.5), 9);
  });

  test('its profile is the mean over its width, a sample for each px', () => {
    const frame = stripFrame([12, 15], [42, 20]);
    const profile = stripProfile(slope, LUT, frame, 20, 4);
    expect(profile).toHaveLength(20);
    for (const [i, light] of profile.entries()) {
      // Both sides of the middle line even out.
      expect(light).toBeCloseTo(lightAt(...pointInStrip(frame, i + 0.5, 0)), 6);
    }
    const thin = stripProfile(slope, LUT, frame, 3, 0);
    expect(thin[2]).toBeCloseTo(lightAt(...pointInStrip(frame, 2.5, 0)), 6);
  });
});
