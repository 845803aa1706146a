import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import type { CodeImage, PointPx } from '../../src/core/image.js';
import { findCombs, type Comb } from '../../src/imaging/findCombs.js';
import { seeded } from '../synth/random.js';
import { drawMarks, type DrawnMarks } from './drawnMarks.js';

// Source: closed form: marks that were drawn.

const MARKS: DrawnMarks = {
  from: [300, 420],
  angleDeg: 12,
  spacingPx: 12,
  count: 61,
  low: 0,
  high: 70,
  marks: 30,
  ground: 210,
};

/** How far a point lies off the band of marks, across it, px: 0 within it. */
function offBand([x, y]: PointPx, { from, angleDeg, low, high }: DrawnMarks): number {
  const angle = (angleDeg * Math.PI) / 180;
  const across = -(x - from[0]) * Math.sin(angle) + (y - from[1]) * Math.cos(angle);
  return Math.max(0, low - across, across - high);
}

const lengthOf = ({ from, to }: Comb) => Math.hypot(to[0] - from[0], to[1] - from[1]);
const angleOf = ({ from, to }: Comb) =>
  ((((Math.atan2(to[1] - from[1], to[0] - from[0]) * 180) / Math.PI) % 180) + 180) % 180;

describe('findCombs', () => {
  test.each([0, 12, 47, 90, 135])(
    'a row of marks at %d° is the strongest, along its whole length',
    (angleDeg) => {
      const drawn = { ...MARKS, angleDeg, from: angleDeg > 90 ? ([1100, 250] as const) : MARKS.from };
      const [best] = findCombs(drawMarks(1400, 1200, [drawn]), 5);
      const off = Math.abs(angleOf(best!) - angleDeg);
      // Directions are voted for in bins of 3°, and a cell for the next bin, too.
      expect(Math.min(off, 180 - off)).toBeLessThan(4.5);
      expect(Math.max(offBand(best!.from, drawn), offBand(best!.to, drawn))).toBeLessThan(
        best!.halfWidthPx + 9,
      );
      // 60 spacings of 12 px; where the ground ends, 36 px beyond either end, brightness changes as well; cells of 9 px.
      expect(lengthOf(best!)).toBeGreaterThan(720 - 18);
      expect(lengthOf(best!)).toBeLessThan(720 + 72 + 18);
    },
  );

  test('marks of more contrast come first, and no more than asked for are given', () => {
    const faint = { ...MARKS, from: [300, 800] as const, marks: 150 };
    const image = drawMarks(1400, 1200, [MARKS, faint]);
    const combs = findCombs(image, 2);
    expect(combs.length).toBe(2);
    expect(offBand(combs[0]!.from, MARKS)).toBeLessThan(20);
    expect(combs[0]!.strength).toBeGreaterThan(combs[1]!.strength);
    expect(findCombs(image, 1)).toEqual(combs.slice(0, 1));
  });

  test('no more stripes than a row of marks: an area of them does not stand out of its surroundings', () => {
    const random = seeded(3);
    const codes = (of: (x: number, y: number) => number): CodeImage =>
      ndarray(
        Uint8Array.from({ length: 1400 * 1200 }, (_, i) => of(i % 1400, Math.floor(i / 1400))),
        [1200, 1400],
      );
    const noise = codes(() => Math.round(random.even(120, 124)));
    expect(findCombs(noise, 5)).toEqual([]);
    const row = findCombs(drawMarks(1400, 1200, [MARKS]), 1)[0]!;
    const area = findCombs(
      codes((x) => Math.round(120 + 90 * Math.sin((2 * Math.PI * x) / 12))),
      1,
    );
    // The same contrast over 17 times the height: in proportion to its length it stands out less.
    for (const one of area)
      expect(one.strength / lengthOf(one)).toBeLessThan((2 * row.strength) / lengthOf(row));
  });
});
