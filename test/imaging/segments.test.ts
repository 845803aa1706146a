import { describe, expect, test } from 'vitest';
import { colourEdges } from '../../src/imaging/colourEdges.js';
import { edgeSegments, type Segment } from '../../src/imaging/segments.js';
import { expectClose } from '../helpers/closeTo.js';

const [WIDTH, HEIGHT] = [300, 220];

/** Straight pieces of a picture drawn by which pixels are inside, its edges softened by 4 × 4 points a pixel. */
function segmentsOf(inside: (x: number, y: number) => boolean, leastPx = 20): Segment[] {
  const data = new Uint8Array(3 * WIDTH * HEIGHT);
  for (let row = 0; row < HEIGHT; row += 1) {
    for (let column = 0; column < WIDTH; column += 1) {
      let share = 0;
      for (let i = 0; i < 16; i += 1) {
        const [x, y] = [column + ((i % 4) + 0.5) / 4, row + (Math.floor(i / 4) + 0.5) / 4];
        if (inside(x, y)) share += 1 / 16;
      }
      data.set([60, 40 + Math.round(120 * share), 90], 3 * (row * WIDTH + column));
    }
  }
  const edges = colourEdges({ data, widthPx: WIDTH, heightPx: HEIGHT }, [20, 44]);
  return edgeSegments(edges, WIDTH, leastPx);
}

const lengthOf = ({ x0, y0, x1, y1 }: Segment) => Math.hypot(x1 - x0, y1 - y0);

describe('edgeSegments', () => {
  // Source: closed form: the box that was drawn.
  test('a box has four, each along its side to half a px and not much shorter', () => {
    const segments = segmentsOf((x, y) => x > 50.4 && x < 240.7 && y > 40.2 && y < 180.9);
    expect(segments.length).toBe(4);
    const levels = segments.filter(({ x0, x1, y0, y1 }) => Math.abs(x1 - x0) > Math.abs(y1 - y0));
    const heights = levels.map(({ y0, y1 }) => (y0 + y1) / 2).sort((a, b) => a - b);
    expectClose(heights, [40.2, 180.9], { abs: 0.5, why: 'ridges lie on whole px' });
    // Of 190.3 px: within a few px of a corner the gradients turn by more than the 22.5° that a piece may hold.
    for (const one of levels) expect(lengthOf(one)).toBeGreaterThan(180);
  });

  test('a slanted edge is one piece of the right slope', () => {
    const [first, ...others] = segmentsOf((x, y) => y > 60 + 0.3 * x);
    expect(others).toEqual([]);
    expectClose((first!.y1 - first!.y0) / (first!.x1 - first!.x0), 0.3, { abs: 0.005, why: 'a px over 300' });
  });

  test('a circle has only short ones, an even picture none', () => {
    const round = segmentsOf((x, y) => Math.hypot(x - 150, y - 110) < 80);
    // A chord c of a circle of radius R bends by c² ÷ 8R, which is 0.298 of that rms: 0.7 px at 39 px, and ridges lie
    // on whole px, which hides some more.
    expect(Math.max(...round.map(lengthOf))).toBeLessThan(50);
    expect(segmentsOf(() => false)).toEqual([]);
  });

  test('pieces shorter than asked for are left out', () => {
    expect(segmentsOf((x, y) => x > 50 && x < 66 && y > 40 && y < 56, 20)).toEqual([]);
    expect(segmentsOf((x, y) => x > 50 && x < 66 && y > 40 && y < 56, 10).length).toBe(4);
  });
});
