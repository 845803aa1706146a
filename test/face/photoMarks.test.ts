import { describe, expect, test } from 'vitest';
import { photoMarks } from '../../src/face/photoMarks.js';
import { expectClose } from '../helpers/closeTo.js';
import { box, infoOf, locateGiven, settingsOf } from './facts.js';

/** A face of 80 × 60 mm, upright at 20 px per mm from (400, 300) on. */
const facePx = box(400, 300, 1600, 1200);
const told = (face: object, more: object = {}) =>
  settingsOf({ facePx, face: { widthMm: 80, heightMm: 60, leadingCorner: 'left', ...face }, ...more });
const marksOf = (settings: ReturnType<typeof told>) => photoMarks(locateGiven(infoOf(), settings), settings);
const ROUNDING = { abs: 1e-6, why: 'rounding' } as const;

// Source: closed form: layers of 0.2 mm, 4 px each, counted from the bed.
describe('photoMarks', () => {
  test('layers at the leading corner, by their lower edges, outwards', () => {
    const { layers } = marksOf(told({}));
    // 300 layers: with at most 8 ticks every 50th.
    expect(layers.map(({ layer }) => layer)).toEqual([0, 50, 100, 150, 200, 250]);
    for (const { layer, edgePx, outPx } of layers) {
      expectClose(edgePx, [400, 1500 - 4 * layer], ROUNDING);
      // 2.5 % of the width.
      expectClose(outPx, [360, 1500 - 4 * layer], ROUNDING);
    }
  });

  test('with the leading corner at the right they stand there', () => {
    const { layers } = marksOf(told({ leadingCorner: 'right' }));
    expectClose(layers[1]!.edgePx, [2000, 1300], ROUNDING);
    expectClose(layers[1]!.outPx, [2040, 1300], ROUNDING);
  });

  test('a face that begins higher begins with a higher layer, a thick first layer lifts the others', () => {
    const raised = marksOf(told({ bottomMm: 12 })).layers[0]!;
    // 12 mm are 60 layers, so the first round one is 100, 8 mm above the lower edge.
    expect(raised.layer).toBe(100);
    expectClose(raised.edgePx, [400, 1500 - 20 * 8], ROUNDING);
    const thick = marksOf(told({}, { firstLayerHeightMm: 0.3 })).layers[1]!;
    // The lower edge of layer 50: 0.3 mm and 49 layers.
    expectClose(thick.edgePx, [400, 1500 - 20 * (0.3 + 49 * 0.2)], ROUNDING);
  });

  test('a round length along the wall, less than half of it', () => {
    const { lengthMm, fromPx, toPx } = marksOf(told({})).bar;
    // The largest of 1, 2 and 5 times a power of ten below 45 % of 80 mm.
    expect(lengthMm).toBe(20);
    // From 5 % of the width on, 5 % of the height above the lower edge.
    expectClose([...fromPx, ...toPx], [480, 1440, 880, 1440], ROUNDING);
  });
});
