import { describe, expect, test } from 'vitest';
import type { ColourImage } from '../../src/core/image.js';
import { coloursOf, contrastView } from '../../src/imaging/contrastView.js';
import { expectClose } from '../helpers/closeTo.js';
import { seeded } from '../synth/random.js';

const [WIDTH, HEIGHT] = [120, 90];
/** A level edge in the middle: above it one colour, below it another. */
function halves(
  above: readonly [number, number, number],
  below: readonly [number, number, number],
  noise: readonly [number, number, number] = [0, 0, 0],
): ColourImage {
  const random = seeded(5);
  const data = Uint8Array.from({ length: 3 * WIDTH * HEIGHT }, (_, at) => {
    const colour = at % 3;
    const code = (at / 3 / WIDTH < HEIGHT / 2 ? above : below)[colour]!;
    return Math.round(code + random.even(-noise[colour]!, noise[colour]!));
  });
  return { data, widthPx: WIDTH, heightPx: HEIGHT };
}

/** Mean and standard deviation of light in some rows of a view. */
function lightIn(image: ColourImage, firstRow: number): { readonly mean: number; readonly sd: number } {
  const view = contrastView(image, [20, HEIGHT / 2], [100, HEIGHT / 2])!;
  const light: number[] = [];
  for (let y = firstRow; y < firstRow + 8; y += 1) {
    for (let x = 30; x < 90; x += 1) light.push(view.lut[view.codes.get(y - view.top, x - view.left)]!);
  }
  const mean = light.reduce((sum, one) => sum + one, 0) / light.length;
  return { mean, sd: Math.sqrt(light.reduce((sum, one) => sum + (one - mean) ** 2, 0) / light.length) };
}

describe('contrastView', () => {
  test('takes in the edge with its margin, inside the picture', () => {
    const view = contrastView(halves([200, 90, 40], [60, 90, 40]), [20, 45], [100, 45])!;
    // 14 px around the edge from (20, 45) to (100, 45).
    expect([view.left, view.top]).toEqual([6, 31]);
    expect(view.codes.shape).toEqual([28, 108]);
  });

  test('an edge that only one colour shows is shown in it, however loud the others are', () => {
    // Grey by Rec. 709 would drown the step of 30 codes of blue, weight 0.0722, in the noise of green, weight 0.7152.
    const image = halves([120, 120, 150], [120, 120, 120], [0, 30, 0]);
    const [above, below] = [lightIn(image, 33), lightIn(image, 49)];
    const apart = Math.abs(above.mean - below.mean);
    // Green is left out but for what 48 pairs of places leave to chance.
    expect(apart).toBeGreaterThan(5 * Math.max(above.sd, below.sd));
  });

  test('a step of equal brightness stays a step', () => {
    // Source: Rec. 709 luminance (IEC 61966-2-1): light 0.3 · 0.2126 + 0.19 · 0.7152 and so on, both 0.2.
    const image = halves([149, 121, 16], [63, 124, 207]);
    expect(Math.abs(lightIn(image, 33).mean - lightIn(image, 49).mean)).toBeGreaterThan(0.2);
  });

  test('tells nothing of an edge outside the picture', () => {
    expect(contrastView(halves([200, 90, 40], [60, 90, 40]), [300, 300], [400, 300])).toBeUndefined();
  });
});

test('coloursOf: red, green and blue of each px', () => {
  const [red, green, blue] = coloursOf(halves([200, 90, 40], [60, 80, 41]));
  const at = (y: number) => [red!.get(y, 5), green!.get(y, 5), blue!.get(y, 5)];
  expectClose([...at(3), ...at(80)], [200, 90, 40, 60, 80, 41], { abs: 0, why: 'no copy changes a code' });
});
