import ndarray from 'ndarray';
import { describe, expect, test } from 'vitest';
import { stripFrame } from '../../src/imaging/strip.js';
import { linearLut } from '../../src/imaging/tone.js';
import { traceMarks, type TracedMarks } from '../../src/imaging/traceMarks.js';
import { expectClose } from '../helpers/closeTo.js';
import { drawMarks, type DrawnMarks } from './drawnMarks.js';

// Source: closed form: marks that were drawn.

const LUT = linearLut(8);
/** The axis runs 20 px inside the marks' beginning. */
const MARKS: DrawnMarks = {
  from: [200, 300],
  angleDeg: 8,
  spacingPx: 15,
  count: 41,
  low: -20,
  high: 50,
  everyTenthHigh: 110,
  marks: 40,
  ground: 200,
};

function traced(marks: DrawnMarks, sign: 1 | -1 = 1): TracedMarks | undefined {
  const { from, angleDeg, spacingPx, count } = marks;
  const angle = (angleDeg * Math.PI) / 180;
  const length = (count - 1) * spacingPx;
  const frame = stripFrame(from, [from[0] + length * Math.cos(angle), from[1] + length * Math.sin(angle)]);
  const places = Array.from({ length: count }, (_, k) => k * spacingPx);
  return traceMarks(
    drawMarks(1100, 700, [marks]),
    LUT,
    frame,
    places,
    places.map(() => spacingPx),
    sign,
  );
}

/** A step is a quarter of the spacing: an end is told to one. */
const STEP = { abs: 15 / 4, why: 'a step of a quarter of the spacing' } as const;

describe('traceMarks', () => {
  test.each([0, 0.12, -0.2])('both ends of each mark, and a lean of %d', (lean) => {
    const { low, high, leanAt } = traced({ ...MARKS, lean })!;
    expect([low.length, high.length]).toEqual([41, 41]);
    for (let k = 0; k < 41; k += 1) {
      expectClose(low[k]!, -20, STEP);
      expectClose(high[k]!, k % 10 === 0 ? 110 : 50, STEP);
    }
    for (const x of [0, 300, 600]) expectClose(leanAt(x), lean, { abs: 0.02, why: 'half a px on 25' });
  });

  test('bright marks on a dark ground, when asked for', () => {
    const bright = { ...MARKS, marks: 200, ground: 40 };
    expectClose(traced(bright, -1)!.high[1]!, 50, STEP);
    expect(traced(bright, 1)).toBeUndefined();
    expect(traced(MARKS, -1)).toBeUndefined();
  });

  test('marks that hardly differ from their ground are none', () => {
    // Linear light goes as the code to the power of 2.2: 4 % of the code are 9 %, 10 % are 21 %.
    expect(traced({ ...MARKS, marks: 192 })).toBeUndefined();
    expect(traced({ ...MARKS, marks: 180 })).toBeDefined();
  });

  test('stripes that begin on no line are none', () => {
    const marks = { ...MARKS, low: -290, high: 390, everyTenthHigh: 390 };
    expect(traced(marks)).toBeUndefined();
  });

  test('the strides of the photo do not matter', () => {
    const image = drawMarks(1100, 700, [MARKS]);
    const columns = new Uint8Array(image.data.length);
    for (let x = 0; x < 1100; x += 1) for (let y = 0; y < 700; y += 1) columns[700 * x + y] = image.get(y, x);
    const turned = ndarray(columns, [700, 1100], [1, 700]);
    const frame = stripFrame(MARKS.from, [795, 384]);
    const places = Array.from({ length: 40 }, (_, k) => 15 * k);
    const of = (codes: typeof image) =>
      traceMarks(
        codes,
        LUT,
        frame,
        places,
        places.map(() => 15),
        1,
      );
    expect(of(turned)!.high).toEqual(of(image)!.high);
  });
});
