import { describe, expect, test } from 'vitest';
import type { ColourImage, PointPx } from '../../src/core/image.js';
import { loadVision, visionHeapBytes } from '../../src/imaging/opencv.js';
import { applyHomography } from '../../src/imaging/homography.js';

/** A picture from a colour for each pixel. */
function picture(widthPx: number, heightPx: number, colour: (x: number, y: number) => number[]): ColourImage {
  const data = new Uint8Array(3 * widthPx * heightPx);
  for (let y = 0; y < heightPx; y += 1) {
    for (let x = 0; x < widthPx; x += 1) data.set(colour(x, y), 3 * (y * widthPx + x));
  }
  return { data, widthPx, heightPx };
}

describe('loadVision', () => {
  test('leaves no handler of its own on the process, and none of others away', () => {
    const mine = () => undefined;
    process.on('uncaughtException', mine);
    const before = process.eventNames().map((event) => [event, process.listenerCount(event)]);
    loadVision();
    expect(process.eventNames().map((event) => [event, process.listenerCount(event)])).toEqual(before);
    process.removeListener('uncaughtException', mine);
  });

  test('its heap does not grow over 200 calls', { timeout: 60_000 }, () => {
    const vision = loadVision();
    const image = picture(1000, 700, (x) => [x < 500 ? 20 : 200, 100, 100]);
    vision.colourEdges(image, [50, 100]);
    const bytes = visionHeapBytes();
    // The heap begins with 134 MB. One matrix that stays of each call, 0.7 MB or more, outgrows it.
    for (let i = 0; i < 200; i += 1) vision.colourEdges(image, [50, 100]);
    expect(visionHeapBytes()).toBe(bytes);
    expect(bytes).toBeLessThan(140e6);
  });

  test('what it throws is an error with a text, not a number', () => {
    const empty: ColourImage = { data: new Uint8Array(0), widthPx: 0, heightPx: 0 };
    expect(() => loadVision().colourEdges(empty, [50, 100])).toThrow(/OpenCV/);
  });
});

describe('colourEdges', () => {
  // Source: closed form: Sobel's kernel [1 2 1] × [−1 0 1] gives 4 times the step on both px beside it.
  test('an edge of one channel only is an edge, with the gradient of that channel', () => {
    const image = picture(20, 12, (x) => [90, 90, x < 10 ? 40 : 100]);
    const { ridge, gradientX, gradientY } = loadVision().colourEdges(image, [50, 100]);
    const at = (x: number) => 6 * 20 + x;
    expect([gradientX[at(9)], gradientX[at(10)], gradientX[at(5)]]).toEqual([240, 240, 0]);
    expect(gradientY[at(9)]).toBe(0);
    const columns = Array.from({ length: 20 }, (_, x) => x).filter((x) => ridge[at(x)] === 255);
    expect(columns.length).toBe(1);
    expect([9, 10]).toContain(columns[0]);
  });

  test('equal brightness and another colour is an edge', () => {
    const image = picture(20, 12, (x) => (x < 10 ? [120, 60, 60] : [60, 90, 60]));
    expect(
      loadVision()
        .colourEdges(image, [50, 100])
        .ridge.some((value) => value === 255),
    ).toBe(true);
  });
});

describe('robustHomography', () => {
  const truth = Float64Array.of(1.1, 0.05, 30, -0.04, 0.95, 12, 1e-4, -2e-4, 1);
  const from = Array.from({ length: 30 }, (_, i): PointPx => [(i * 37) % 200, (i * 91) % 150]);
  const to = from.map(([x, y], i): PointPx => {
    const [u, v] = applyHomography(truth, x, y);
    return i % 3 === 0 ? [u + 40 + i, v - 35 + 2 * i] : [u, v];
  });

  test('a third of false pairs is left out, and the rest tells the homography', () => {
    const found = loadVision().robustHomography(from, to, 1);
    expect(found?.agrees).toEqual(from.map((_, i) => i % 3 !== 0));
    for (const [i, value] of truth.entries()) expect(found?.homography[i]).toBeCloseTo(value, 6);
  });

  test('points on one line tell none', () => {
    const line = from.map((_, i): PointPx => [i, 2 * i]);
    expect(loadVision().robustHomography(line, line, 1)).toBeUndefined();
  });

  test('too few pairs are refused', () => {
    expect(() => loadVision().robustHomography(from.slice(0, 3), to.slice(0, 3), 1)).toThrow(RangeError);
  });
});
