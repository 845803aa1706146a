import { describe, expect, test } from 'vitest';
import type { ColourImage } from '../../src/core/image.js';
import { colourEdges } from '../../src/imaging/colourEdges.js';
import { openCvEdges } from '../helpers/openCv.js';

/** A picture from a colour for each pixel. */
function picture(widthPx: number, heightPx: number, colour: (x: number, y: number) => number[]): ColourImage {
  const data = new Uint8Array(3 * widthPx * heightPx);
  for (let y = 0; y < heightPx; y += 1) {
    for (let x = 0; x < widthPx; x += 1) data.set(colour(x, y), 3 * (y * widthPx + x));
  }
  return { data, widthPx, heightPx };
}

/** Whole numbers from 0 to 255 that look like chance: a linear congruential generator, constants of Numerical Recipes. */
function noise(): () => number {
  let state = 7;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state >>> 24;
  };
}

const countOfRidges = (ridge: Uint8Array) => ridge.filter((value) => value === 255).length;

describe('colourEdges', () => {
  // Source: OpenCV 4.3.0 (package opencv-wasm), Sobel and Canny; the strongest channel is taken between the two.
  describe('as OpenCV, px by px', () => {
    const random = noise();
    const rings = (x: number, y: number) =>
      [0, 40, 90].map((at) => 120 + 100 * Math.sin((x * x + y * y) / 900 + at));
    const pictures: readonly (readonly [string, ColourImage])[] = [
      ['noise', picture(120, 90, () => [random(), random(), random()])],
      ['soft rings in three colours', picture(150, 140, rings)],
      [
        'faint noise, where beginnings are few',
        picture(130, 110, () => [0, 0, 0].map(() => 100 + random() / 18)),
      ],
      ['one px', picture(1, 1, () => [9, 90, 200])],
      ['one column', picture(1, 30, () => [random(), random(), random()])],
      ['one row', picture(30, 1, () => [random(), random(), random()])],
      ['two by two', picture(2, 2, () => [random(), random(), random()])],
    ];
    test.each(pictures)('%s', (_, image) => {
      for (const thresholds of [
        [20, 44],
        [50, 100],
      ] as const) {
        const { ridge, gradientX, gradientY } = colourEdges(image, thresholds);
        const theirs = openCvEdges(image, thresholds);
        expect(gradientX).toEqual(theirs.gradientX);
        expect(gradientY).toEqual(theirs.gradientY);
        expect(ridge).toEqual(theirs.ridge);
      }
    });

    test('in the faint noise some of what may be an edge is kept, and some is not', () => {
      const faint = pictures[2]![1];
      const ridges = countOfRidges(colourEdges(faint, [20, 44]).ridge);
      expect(ridges).toBeGreaterThan(50);
      expect(ridges).toBeLessThan(countOfRidges(colourEdges(faint, [20, 20]).ridge));
    });
  });

  // Source: closed form: Sobel's kernel [1 2 1] × [−1 0 1] gives 4 times the step on both px beside it.
  test('an edge of one channel only is an edge, with the gradient of that channel', () => {
    const image = picture(20, 12, (x) => [90, 90, x < 10 ? 40 : 100]);
    const { ridge, gradientX, gradientY } = colourEdges(image, [50, 100]);
    const at = (x: number) => 6 * 20 + x;
    expect([gradientX[at(9)], gradientX[at(10)], gradientX[at(5)]]).toEqual([240, 240, 0]);
    expect(gradientY[at(9)]).toBe(0);
    const columns = Array.from({ length: 20 }, (_, x) => x).filter((x) => ridge[at(x)] === 255);
    expect(columns.length).toBe(1);
    expect([9, 10]).toContain(columns[0]);
  });

  test('equal brightness and another colour is an edge', () => {
    const image = picture(20, 12, (x) => (x < 10 ? [120, 60, 60] : [60, 90, 60]));
    expect(countOfRidges(colourEdges(image, [50, 100]).ridge)).toBeGreaterThan(0);
  });

  test('a picture without px is refused', () => {
    const empty: ColourImage = { data: new Uint8Array(0), widthPx: 0, heightPx: 0 };
    expect(() => colourEdges(empty, [50, 100])).toThrow(RangeError);
  });
});
