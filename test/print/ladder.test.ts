import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  ladderHeightsAt,
  ladderHzAt,
  ladderIndexAt,
  ladderRangeHz,
  ladderSlopeHzPerMm,
  layerAt,
  layerCentreMm,
  makeLadder,
  type Ladder,
} from '../../src/print/ladder.js';
import type { PrintRecord } from '../../src/print/record.js';
import { expectClose } from '../helpers/closeTo.js';

type Told = PrintRecord['ladder'];
const EXACT = { rel: 1e-12, abs: 1e-12, why: 'rounding of double precision' };

/** 15 → 60 Hz over a tower of 60 mm, 300 layers of 0.2 mm. */
const TRADE: Told = { kind: 'linear', fromHz: 15, toHz: 60, firstLayer: 2, lastLayer: 299 };
/** The trade's formula takes the layer's lower edge. Common practice, no source. */
const edgeFormHz = (heightMm: number) => 15 + (((heightMm - 0.4) / 0.2) * 45) / 297;

function hzOf(ladder: Ladder, heightMm: number): number {
  const hz = ladderHzAt(ladder, heightMm);
  if (hz === undefined) throw new Error(`the ladder says nothing at ${heightMm} mm`);
  return hz.value;
}

describe('layers', () => {
  test('layer k fills [k, k + 1) layer heights, whatever rounding does to the boundary', () => {
    // Closed form: DESIGN 3. 0.6 / 0.2 is 2.9999999999999996 in double precision.
    for (const layer of [0, 1, 2, 3, 57, 319]) {
      expect(layerAt(layer * 0.2, 0.2, 0.2)).toBe(layer);
      expect(layerAt(layer * 0.2 + 0.199, 0.2, 0.2)).toBe(layer);
      expectClose(layerCentreMm(layer, 0.2, 0.2), (layer + 0.5) * 0.2, EXACT);
    }
  });

  test('a first layer of its own height moves all others', () => {
    // By hand: 0.3, then 0.2 each: layer 1 fills 0.3 to 0.5, layer 10 fills 2.1 to 2.3.
    expect(layerAt(0.29, 0.2, 0.3)).toBe(0);
    expect(layerAt(0.3, 0.2, 0.3)).toBe(1);
    expect(layerAt(2.1, 0.2, 0.3)).toBe(10);
    expectClose(layerCentreMm(0, 0.2, 0.3), 0.15, EXACT);
    expectClose(layerCentreMm(10, 0.2, 0.3), 2.2, EXACT);
  });

  test('a centre lies in its own layer', () => {
    const height = fc.double({ min: 0.01, max: 1.2, noNaN: true });
    fc.assert(
      fc.property(fc.nat(5000), height, height, (layer, each, first) => {
        expect(layerAt(layerCentreMm(layer, each, first), each, first)).toBe(layer);
      }),
      { seed: 11 },
    );
  });

  test('below the bed there is none', () => {
    expect(() => layerAt(-0.1, 0.2, 0.2)).toThrow(/Expected a height ≥ 0 mm but received -0\.1/);
    expect(() => layerAt(Number.NaN, 0.2, 0.2)).toThrow(RangeError);
  });
});

describe('facts of the trade (common practice, no source)', () => {
  const ladder = makeLadder(TRADE, 0.2, 0.2);

  test('edge form: 19 mm is 29.09 Hz and 16.3 mm is 27.05 Hz', () => {
    const told = { abs: 0.005, why: 'the facts are told to two decimals' };
    expectClose(edgeFormHz(19), 29.09, told);
    expectClose(edgeFormHz(16.3), 27.05, told);
  });

  test('ours passes through layer centres, half a layer (slope × 0.1 mm = 0.076 Hz) below the edge form', () => {
    const slope = 45 / 297 / 0.2;
    for (const heightMm of [0.5, 16.3, 19, 42, 59.9]) {
      expectClose(hzOf(ladder, heightMm), edgeFormHz(heightMm) - slope * 0.1, EXACT);
      expectClose(ladderSlopeHzPerMm(ladder, heightMm), slope, EXACT);
    }
    // The two agree where the edge form is right: a layer's frequency, told by its lower edge or by its centre.
    for (const layer of [2, 93, 299]) {
      expectClose(hzOf(ladder, (layer + 0.5) * 0.2), edgeFormHz(layer * 0.2), EXACT);
    }
  });

  test('off below the first layer, unknown above the last', () => {
    expect(ladderHzAt(ladder, 0.39)).toBeUndefined();
    expect(hzOf(ladder, 0.4)).toBe(15);
    expect(hzOf(ladder, 60)).toBe(60);
    expect(ladderHzAt(ladder, 60.01)).toBeUndefined();
    expect(ladderSlopeHzPerMm(ladder, 0.39)).toBe(0);
    expect(ladderSlopeHzPerMm(ladder, 60.01)).toBe(0);
    expect(ladderHzAt(ladder, -1)).toBeUndefined();
    expect(ladderHzAt(ladder, Number.NaN)).toBeUndefined();
  });
});

describe('kinds of ladder', () => {
  test('linear with a first layer of its own height: each layer has its own frequency at its centre', () => {
    // Source: DESIGN 3, f = from + (to − from)·(k − first)/(last − first), written out again.
    for (const firstLayer of [0, 3]) {
      const told: Told = { kind: 'linear', fromHz: 20, toHz: 60, firstLayer, lastLayer: 100 };
      const ladder = makeLadder(told, 0.2, 0.35);
      for (const layer of [firstLayer, firstLayer + 1, 50, 100]) {
        const centreMm = layer === 0 ? 0.175 : 0.35 + (layer - 0.5) * 0.2;
        const hz = 20 + (40 * (layer - firstLayer)) / (100 - firstLayer);
        expectClose(hzOf(ladder, centreMm), hz, EXACT);
      }
    }
    const bent = makeLadder(
      { kind: 'linear', fromHz: 20, toHz: 60, firstLayer: 0, lastLayer: 100 },
      0.2,
      0.35,
    );
    expectClose(hzOf(bent, 0.35), 20.2, EXACT); // halfway between layers 0 and 1, by hand
  });

  test('linear by heights takes them as they stand', () => {
    const ladder = makeLadder({ kind: 'linear', fromHz: 60, toHz: 20, fromMm: 5, toMm: 45 }, 0.2, 0.2);
    expect(hzOf(ladder, 5)).toBe(60);
    expect(hzOf(ladder, 45)).toBe(20);
    expectClose(hzOf(ladder, 15), 50, EXACT);
    expect(hzOf(ladder, 4.9)).toBe(60);
    expect(hzOf(ladder, 45.1)).toBe(20);
    expect(ladderHzAt(ladder, 4.89)).toBeUndefined();
    expect(ladderHzAt(ladder, 45.11)).toBeUndefined();
    expect(ladderSlopeHzPerMm(ladder, 15)).toBe(-1);
    expect(ladderRangeHz(ladder)).toEqual({ lowHz: 20, highHz: 60 });
  });

  test('table: interpolated, and read back at every height that has the frequency', () => {
    const points = [
      { mm: 0, hz: 20 },
      { mm: 10, hz: 40 },
      { mm: 20, hz: 40 },
      { mm: 40, hz: 20 },
    ];
    const ladder = makeLadder({ kind: 'table', points }, 0.2, 0.2);
    expectClose([hzOf(ladder, 5), hzOf(ladder, 15), hzOf(ladder, 35)], [30, 40, 25], EXACT);
    expectClose(
      ladderHeightsAt(ladder, 30).map(({ value }) => value),
      [5, 30],
      EXACT,
    );
    // A flat piece is one height: its middle, rectangular over its 10 mm (GUM 4.3.7: half-width ÷ √3).
    const flat = ladderHeightsAt(ladder, 40);
    expectClose(
      flat.map(({ value }) => value),
      [15],
      EXACT,
    );
    expectClose(
      flat.map(({ sd }) => sd),
      [Math.hypot(5, 0.1) / Math.sqrt(3)],
      EXACT,
    );
    expect(ladderHeightsAt(ladder, 40.1)).toEqual([]);
    expect(ladderRangeHz(ladder)).toEqual({ lowHz: 20, highHz: 40 });
  });

  test('stepped: exact inside a step, off in a gap, read back at the centre', () => {
    const bands = [
      { fromMm: 0, toMm: 5, hz: 30 },
      { fromMm: 5, toMm: 8, hz: 34 },
      { fromMm: 10, toMm: 20, hz: 30 },
    ];
    const ladder = makeLadder({ kind: 'stepped', bands }, 0.2, 0.2);
    expect(ladderHzAt(ladder, 4.99)).toEqual({ value: 30, sd: 0 });
    expect(ladderHzAt(ladder, 5)).toEqual({ value: 34, sd: 0 });
    expect(ladderHzAt(ladder, 9)).toBeUndefined();
    expect(ladderHzAt(ladder, 20)).toBeUndefined();
    // GUM 4.3.7: a rectangular distribution of half-width a has the standard uncertainty a ÷ √3.
    const heights = ladderHeightsAt(ladder, 30);
    expectClose(
      heights.map(({ value }) => value),
      [2.5, 15],
      EXACT,
    );
    expectClose(
      heights.map(({ sd }) => sd),
      [2.5 / Math.sqrt(3), 5 / Math.sqrt(3)],
      EXACT,
    );
    // Between the centres of touching steps at 2.5 and 6.5 mm, by hand; not across the gap.
    expectClose(
      ladderHeightsAt(ladder, 32).map(({ value }) => value),
      [4.5],
      EXACT,
    );
    expectClose(ladderSlopeHzPerMm(ladder, 4), 1, EXACT);
    expect(ladderSlopeHzPerMm(ladder, 15)).toBe(0);
    expect(ladderSlopeHzPerMm(ladder, 9)).toBe(0);
    expect(ladderRangeHz(ladder)).toEqual({ lowHz: 30, highHz: 34 });
  });

  test('touching steps of one frequency are one step', () => {
    const bands = [
      { fromMm: 0, toMm: 5, hz: 30 },
      { fromMm: 5, toMm: 7, hz: 30 },
      { fromMm: 7, toMm: 9, hz: 32 },
    ];
    const ladder = makeLadder({ kind: 'stepped', bands }, 0.2, 0.2);
    expectClose(
      ladderHeightsAt(ladder, 30).map(({ value }) => value),
      [3.5],
      EXACT,
    );
  });

  test('fixed and off say nothing of height', () => {
    const fixed = makeLadder({ kind: 'fixed', hz: 40 }, 0.2, 0.2);
    expect(ladderHzAt(fixed, 17)).toEqual({ value: 40, sd: 0 });
    expect(ladderHeightsAt(fixed, 40)).toEqual([]);
    expect(ladderRangeHz(fixed)).toEqual({ lowHz: 40, highHz: 40 });
    expect(ladderSlopeHzPerMm(fixed, 17)).toBe(0);
    const off = makeLadder({ kind: 'off' }, 0.2, 0.2);
    expect(ladderHzAt(off, 17)).toBeUndefined();
    expect(ladderHeightsAt(off, 40)).toEqual([]);
    expect(ladderRangeHz(off)).toBeUndefined();
    expect(ladderSlopeHzPerMm(off, 17)).toBe(0);
  });

  test('a linear ladder without ends breaks the contract', () => {
    expect(() => makeLadder({ kind: 'linear', fromHz: 20, toHz: 60 }, 0.2, 0.2)).toThrow(RangeError);
  });
});

describe('Hz and height lead back to each other', () => {
  const hz = fc.double({ min: 1, max: 500, noNaN: true });
  const layerMm = fc.double({ min: 0.01, max: 1.2, noNaN: true });
  /** A point inside a ladder, as a share of its way. */
  const share = fc.double({ min: 0, max: 1, noNaN: true });
  const LOOSE = { rel: 1e-9, abs: 1e-9, why: 'rounding, magnified where a ladder is steep' };

  function expectRoundTrip(ladder: Ladder, heightMm: number): void {
    const found = ladderHeightsAt(ladder, hzOf(ladder, heightMm));
    const nearest = found.map(({ value }) => Math.abs(value - heightMm)).sort((a, b) => a - b)[0];
    expectClose(nearest ?? Number.NaN, 0, { abs: 1e-6, why: 'rounding ÷ a slope of at least 1e-3 Hz/mm' });
  }

  test('linear by layers, with any first layer', () => {
    fc.assert(
      fc.property(
        hz,
        hz,
        fc.nat(50),
        fc.integer({ min: 1, max: 1000 }),
        layerMm,
        layerMm,
        share,
        (...drawn) => {
          const [fromHz, toHz, firstLayer, count, each, first, at] = drawn;
          fc.pre(Math.abs(toHz - fromHz) > 1e-3 * count * each + 1e-3);
          const lastLayer = firstLayer + count;
          const ladder = makeLadder({ kind: 'linear', fromHz, toHz, firstLayer, lastLayer }, each, first);
          const low = layerCentreMm(firstLayer, each, first);
          expectRoundTrip(ladder, low + at * (layerCentreMm(lastLayer, each, first) - low));
          const wanted = fromHz * (1 - at) + toHz * at;
          const [height] = ladderHeightsAt(
            ladder,
            Math.min(Math.max(wanted, Math.min(fromHz, toHz)), Math.max(fromHz, toHz)),
          );
          expectClose(hzOf(ladder, height!.value), wanted, LOOSE);
        },
      ),
      { seed: 21, numRuns: 500 },
    );
  });

  test('table and linear by heights', () => {
    const climb = fc.array(fc.record({ gapMm: fc.double({ min: 0.1, max: 20, noNaN: true }), hz }), {
      minLength: 2,
      maxLength: 8,
    });
    fc.assert(
      fc.property(climb, layerMm, share, (gaps, each, at) => {
        let mm = 0;
        const points = gaps.map((gap) => ({ mm: (mm += gap.gapMm), hz: gap.hz }));
        fc.pre(points.every((point, i) => i === 0 || Math.abs(point.hz - points[i - 1]!.hz) > 0.02));
        const [first, last] = [points[0]!, points.at(-1)!];
        const heightMm = first.mm + at * (last.mm - first.mm);
        const ladder = makeLadder({ kind: 'table', points }, each, each);
        expectRoundTrip(ladder, heightMm);
        for (const { value } of ladderHeightsAt(ladder, hzOf(ladder, heightMm))) {
          expectClose(hzOf(ladder, value), hzOf(ladder, heightMm), LOOSE);
        }
        const ends: Told = {
          kind: 'linear',
          fromHz: first.hz,
          toHz: last.hz,
          fromMm: first.mm,
          toMm: last.mm,
        };
        fc.pre(Math.abs(first.hz - last.hz) > 1);
        expectRoundTrip(makeLadder(ends, each, each), heightMm);
      }),
      { seed: 22, numRuns: 500 },
    );
  });

  test('stepped: the step of a frequency has that frequency at its centre', () => {
    const widths = fc.array(
      fc.record({
        gapMm: fc.constantFrom(0, 0, 1.5),
        widthMm: fc.integer({ min: 1, max: 40 }),
        hz: fc.integer({ min: 1, max: 500 }),
      }),
      { minLength: 1, maxLength: 10 },
    );
    fc.assert(
      fc.property(widths, (drawn) => {
        let top = 0;
        const bands = drawn.map(({ gapMm, widthMm, hz: step }) => {
          const fromMm = top + gapMm;
          top = fromMm + widthMm / 2;
          return { fromMm, toMm: top, hz: step };
        });
        const ladder = makeLadder({ kind: 'stepped', bands }, 0.2, 0.2);
        for (const band of bands) {
          const centreMm = (band.fromMm + band.toMm) / 2;
          expect(hzOf(ladder, centreMm)).toBe(band.hz);
          const found = ladderHeightsAt(ladder, band.hz);
          expect(found.some(({ value }) => hzOf(ladder, value) === band.hz)).toBe(true);
        }
      }),
      { seed: 23 },
    );
  });

  test('fixed: its frequency at every height, and no height for any frequency', () => {
    fc.assert(
      fc.property(hz, fc.double({ min: 0, max: 1000, noNaN: true }), (fixedHz, heightMm) => {
        const ladder = makeLadder({ kind: 'fixed', hz: fixedHz }, 0.2, 0.2);
        expect(hzOf(ladder, heightMm)).toBe(fixedHz);
        expect(ladderHeightsAt(ladder, fixedHz)).toEqual([]);
      }),
      { seed: 24, numRuns: 50 },
    );
  });
});

describe('uncertainty by brute force', () => {
  // Source: GUM (JCGM 100:2008) 4.3.7 and its supplement JCGM 101:2008, propagation by drawing. For a
  // rectangular distribution the kurtosis is 1.8, so the sd of n draws scatters by √(0.8 / 4n).
  const DRAWS = 40_000;
  const ALLOWED = { rel: 4 * Math.sqrt(0.8 / (4 * DRAWS)), why: 'four times the scatter of 40,000 draws' };

  /** Evenly drawn shares of [0, 1): a linear congruential generator. Source: Numerical Recipes' constants, from memory. */
  function shares(seed: number): readonly number[] {
    let state = seed;
    return Array.from({ length: DRAWS }, () => {
      state = (Math.imul(1664525, state) + 1013904223) >>> 0;
      return state / 2 ** 32;
    });
  }

  function rms(values: readonly number[]): number {
    return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
  }

  test.each([
    ['0.2 mm layers', 0.2, 0.2, 80],
    ['a thick first layer, above it', 0.2, 0.5, 80],
    ['a thick first layer, inside it', 0.2, 0.5, 0],
  ])('within one layer the frequency is one value: %s', (_, each, first, layer) => {
    // A table, so that the first layer's slope is the same as elsewhere and its lower half is not cut off.
    const ladder = makeLadder(
      {
        kind: 'table',
        points: [
          { mm: 0, hz: 18 },
          { mm: 64, hz: 66 },
        ],
      },
      each,
      first,
    );
    const thickness = layer === 0 ? first : each;
    const bottomMm = layerCentreMm(layer, each, first) - thickness / 2;
    const set = hzOf(ladder, layerCentreMm(layer, each, first));
    const errors = shares(5).map((share) => hzOf(ladder, bottomMm + share * thickness) - set);
    expectClose(ladderHzAt(ladder, bottomMm + 0.3 * thickness)!.sd, rms(errors), ALLOWED);
    const heightErrors = shares(6).map((share) => (share - 0.5) * thickness);
    const [height] = ladderHeightsAt(ladder, set);
    expectClose(height!.sd, rms(heightErrors), ALLOWED);
  });

  test('within one step the height is open', () => {
    const ladder = makeLadder({ kind: 'stepped', bands: [{ fromMm: 5, toMm: 9, hz: 34 }] }, 0.2, 0.2);
    const [height] = ladderHeightsAt(ladder, 34);
    const errors = shares(7).map((share) => 5 + 4 * share - height!.value);
    expectClose(height!.sd, rms(errors), ALLOWED);
  });
});

describe('several ladders', () => {
  const lower: Told = { kind: 'linear', fromHz: 20, toHz: 70, firstLayer: 0, lastLayer: 99 };
  const upper: Told = { kind: 'linear', fromHz: 60, toHz: 30, firstLayer: 100, lastLayer: 199 };
  const two = makeLadder({ kind: 'several', ladders: [lower, upper] }, 0.2, 0.2);

  // Source: closed form of each ladder by itself, f = from + (to − from)·(k − first)/(last − first) at layer centres.
  test('each layer has the frequency of its own ladder', () => {
    for (const layer of [0, 50, 99, 100, 150, 199]) {
      const hz = layer < 100 ? 20 + (50 * layer) / 99 : 60 - (30 * (layer - 100)) / 99;
      expectClose(hzOf(two, layerCentreMm(layer, 0.2, 0.2)), hz, EXACT);
      expect(ladderIndexAt(two, layerCentreMm(layer, 0.2, 0.2))).toBe(layer < 100 ? 0 : 1);
    }
    // Layer 99 fills [19.8, 20): the boundary belongs to the upper ladder.
    expect([19.99, 20, 20.01].map((mm) => ladderIndexAt(two, mm))).toEqual([0, 1, 1]);
    expect(ladderHzAt(two, 40.5)).toBeUndefined();
    expect(ladderIndexAt(two, 40.5)).toBeUndefined();
  });

  test('a frequency that both have lies at two heights, one between their ends at none', () => {
    const heights = ladderHeightsAt(two, 45).map(({ value }) => value);
    // By hand: 25 of 50 Hz, and 15 of 30 Hz, over 99 layers of 0.2 mm each.
    expectClose(heights, [0.1 + 9.9, 20.1 + 9.9], { abs: 1e-9, why: 'rounding' });
    expect(ladderHeightsAt(two, 65).length).toBe(1);
    // The frequency jumps from 70 to 60 Hz there, and passes none.
    expect(ladderHeightsAt(two, 75)).toEqual([]);
    expect(ladderRangeHz(two)).toEqual({ lowHz: 20, highHz: 70 });
    expectClose(ladderSlopeHzPerMm(two, 10), 50 / 19.8, EXACT);
    expectClose(ladderSlopeHzPerMm(two, 30), -30 / 19.8, EXACT);
  });

  test('with a gap between them it is off there', () => {
    const apart = makeLadder({ kind: 'several', ladders: [lower, { ...upper, firstLayer: 120 }] }, 0.2, 0.2);
    expect(ladderHzAt(apart, 22)).toBeUndefined();
    expect(ladderHzAt(apart, 24.1)?.value).toBe(60);
  });
});
