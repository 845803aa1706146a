import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { CornersPx } from '../../src/core/image.js';
import {
  answered,
  drawnCorners,
  onTo,
  placed,
  redone,
  toldCorners,
  undone,
  UNSEEN,
  type CornerIndex,
  type Corners,
  type History,
} from '../../src/page/corners.js';

const FOUND: CornersPx = [
  [10, 10],
  [90, 12],
  [88, 70],
  [11, 71],
];

const found = answered(UNSEEN, FOUND);

describe('what a measurement is told of the corners', () => {
  test('nothing where the face was found by itself, though it is drawn', () => {
    expect(toldCorners(found)).toBeNull();
    expect(drawnCorners(found)).toEqual(FOUND);
  });

  test('all four as drawn, once one of them was moved', () => {
    const moved = placed(found, 1, [91.5, 12.1]);
    expect(toldCorners(moved)).toEqual([
      [10, 10],
      [91.5, 12.1],
      [88, 70],
      [11, 71],
    ]);
    expect(drawnCorners(moved)).toEqual(toldCorners(moved));
  });

  test('those that were placed, where the others were found by them', () => {
    const one = placed(UNSEEN, 2, [88, 70]);
    expect(toldCorners(one)).toEqual([null, null, [88, 70], null]);
    const helped = answered(one, FOUND);
    expect(toldCorners(helped)).toEqual([null, null, [88, 70], null]);
    expect(drawnCorners(helped)).toEqual(FOUND);
  });

  test('those that were placed stay where the search finds nothing', () => {
    const one = placed(UNSEEN, 2, [88, 70]);
    expect(drawnCorners(answered(one, null))).toEqual([null, null, [88, 70], null]);
  });

  test('nothing again when the last of them is taken away', () => {
    expect(toldCorners(placed(placed(UNSEEN, 0, [1, 1]), 0, null))).toBeNull();
  });
});

test('any number of steps can be undone and done again', () => {
  const step = fc.record({
    index: fc.constantFrom<CornerIndex>(0, 1, 2, 3),
    x: fc.integer({ min: 0, max: 100 }),
  });
  fc.assert(
    fc.property(fc.array(step, { maxLength: 12 }), (steps) => {
      const start: History<Corners> = { past: [], now: found, future: [] };
      const all = steps.reduce<History<Corners>>(
        (history, { index, x }) => onTo(history, placed(history.now, index, [x, 50])),
        start,
      );
      const back = steps.reduce((history) => undone(history), all);
      expect(back.now).toEqual(found);
      expect(undone(back)).toEqual(back);
      expect(steps.reduce((history) => redone(history), back).now).toEqual(all.now);
    }),
  );
});
