import { describe, expect, test } from 'vitest';
import { cornerForm } from '../../src/imaging/cornerRounding.js';

// Source: closed form: corners that were drawn, of the radius that ISO/IEC 7810 gives cards, 3.18 mm.

const RADIUS_MM = 3.18;
const PX_PER_MM = 12;
/** Ten mm of the object lie at (100, 80) px. */
const mmToPx = Float64Array.of(PX_PER_MM, 0, 100, 0, PX_PER_MM, 80, 0, 0, 1);

type Reader = (x: number, y: number) => number;

/** Bright inside, dark outside; inside where the distance is negative, mm. */
const drawn =
  (distanceMm: (x: number, y: number) => number, inside = 0.8, outside = 0.1): Reader =>
  (x, y) => {
    const mm = distanceMm((x - 100) / PX_PER_MM, (y - 80) / PX_PER_MM);
    const cover = Math.min(1, Math.max(0, 0.5 - mm * PX_PER_MM));
    return outside + cover * (inside - outside);
  };

/** The object's top-left corner at (0, 0), rounded by a radius. */
const rounded =
  (radiusMm: number) =>
  (x: number, y: number): number => {
    if (x >= radiusMm || y >= radiusMm) return -Math.min(x, y);
    return Math.hypot(x - radiusMm, y - radiusMm) - radiusMm;
  };

const form = (readers: readonly Reader[], corner: 'known' | 'guessed' = 'known') =>
  cornerForm(readers, mmToPx, [0, 0], [1, 1], RADIUS_MM, corner);

describe('the form of a corner', () => {
  test('round with the radius asked about, or square', () => {
    expect(form([drawn(rounded(RADIUS_MM))])).toBe('round');
    expect(form([drawn(rounded(0))])).toBe('square');
  });

  test('as well where the object is the darker one, or shows in one colour only', () => {
    expect(form([drawn(rounded(RADIUS_MM), 0.1, 0.8)])).toBe('round');
    const even: Reader = () => 0.5;
    expect(form([even, drawn(rounded(RADIUS_MM)), even])).toBe('round');
  });

  test('unclear where it is rounder, and where nothing is to be seen', () => {
    // From the centre asked about to an arc of 1.5 radii at 45° it is 1.5 − 0.5 · √2 = 0.79 radii, not 1 and not √2.
    expect(form([drawn(rounded(1.5 * RADIUS_MM))])).toBe('unclear');
    expect(form([() => 0.5])).toBe('unclear');
  });

  test('a guessed corner may lie further off than a known one', () => {
    // The whole corner 0.15 radii further out along the diagonal.
    const off = (0.15 * RADIUS_MM) / Math.SQRT2;
    const moved = drawn((x, y) => rounded(RADIUS_MM)(x + off, y + off));
    expect(form([moved], 'known')).not.toBe('round');
    expect(form([moved], 'guessed')).toBe('round');
  });

  test('inwards tells which corner of the object it is', () => {
    const mirrored = drawn((x, y) => rounded(RADIUS_MM)(-x, -y));
    expect(cornerForm([mirrored], mmToPx, [0, 0], [-1, -1], RADIUS_MM, 'known')).toBe('round');
  });
});
