import { describe, expect, test } from 'vitest';
import type { CornersPx, PointPx } from '../../src/core/image.js';
import { checkCorners } from '../../src/face/corners.js';
import { inputErrorOf } from '../helpers/thrown.js';
import { box } from './facts.js';

const WIDTH = 640;
const HEIGHT = 480;
const check = (corners: CornersPx) => () => {
  checkCorners(corners, WIDTH, HEIGHT);
};
const [TL, TR, BR, BL]: CornersPx = [
  [100, 80],
  [500, 90],
  [490, 400],
  [110, 390],
];

describe('checkCorners', () => {
  test.each<[string, CornersPx]>([
    ['an ordinary face', [TL, TR, BR, BL]],
    ['upside down', [BR, BL, TL, TR]],
    ['on its left side', [TR, BR, BL, TL]],
    ['on its right side', [BL, TL, TR, BR]],
    ['in perspective', [TL, [500, 200], [490, 250], BL]],
    ['the whole photo', box(0, 0, WIDTH, HEIGHT)],
    ['on the edge, as far as a click may miss it', box(-1, -1, WIDTH + 2, HEIGHT + 2)],
  ])('%s passes', (_, corners) => {
    expect(check(corners)).not.toThrow();
  });

  test.each<[string, CornersPx]>([
    ['crossed', [TL, BR, TR, BL]],
    ['crossed the other way', [TR, TL, BR, BL]],
    ['anticlockwise', [TL, BL, BR, TR]],
    ['mirrored', [TR, TL, BL, BR]],
    ['one corner pushed in', [TL, TR, [200, 150], BL]],
    ['two corners in one place', [TL, TR, TR, BL]],
    ['three on a line', [TL, [300, 80], [500, 80], BL]],
    ['all in one place', [TL, TL, TL, TL]],
  ])('%s is refused', async (_, corners) => {
    const error = await inputErrorOf(check(corners));
    expect(error).toMatchObject({ code: 'corners-crossed', field: 'facePx' });
    expect(error.advice).toMatch(/top-left, top-right, bottom-right, bottom-left/);
  });

  test.each<PointPx>([
    [-1.01, 80],
    [100, -1.01],
    [641.01, 80],
    [100, 481.01],
  ])('a corner at %d, %d lies outside', async (x, y) => {
    const error = await inputErrorOf(check([[x, y], TR, BR, BL]));
    expect(error).toMatchObject({ code: 'corners-outside', field: 'facePx' });
    expect(error.message).toContain(`${x},${y}`);
    expect(error.message).toContain('640 × 480 px');
  });
});
