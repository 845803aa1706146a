import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { PointPx } from '../../src/core/image.js';
import {
  applyHomography,
  homographyFromPoints,
  homographyFromSquare,
  invertHomography,
  localScale,
} from '../../src/imaging/homography.js';
import { expectClose } from '../helpers/closeTo.js';
import { readJson } from '../helpers/readReference.js';
import { seeded } from '../synth/random.js';

/** An exact pinhole picture of an ID-1 card, computed apart from this code: test/reference/homography_pose.json. */
const pose = readJson('homography_pose.json') as {
  H: number[][];
  card_mm: PointPx[];
  card_px: PointPx[];
  probe_mm: PointPx[];
  probe_px: PointPx[];
};

const board = readJson('chessboard_views.json') as {
  views: Record<
    string,
    {
      corners_px: PointPx[];
      rectify_4corner_rms_mm: { raw: number };
      rectify_4corner_max_mm: { raw: number };
    }
  >;
};

/** Homographies like those of a hand-held photo: any turn and place, scale within 100, tilt up to strong. */
const homographies = fc
  .record({
    turn: fc.double({ min: -Math.PI, max: Math.PI, noNaN: true }),
    logScale: fc.double({ min: -2, max: 2, noNaN: true }),
    shear: fc.double({ min: -0.3, max: 0.3, noNaN: true }),
    stretch: fc.double({ min: 0.5, max: 2, noNaN: true }),
    shift: fc.tuple(
      fc.double({ min: -3000, max: 3000, noNaN: true }),
      fc.double({ min: -3000, max: 3000, noNaN: true }),
    ),
    tilt: fc.tuple(
      fc.double({ min: -0.004, max: 0.004, noNaN: true }),
      fc.double({ min: -0.004, max: 0.004, noNaN: true }),
    ),
  })
  .map(({ turn, logScale, shear, stretch, shift, tilt }) => {
    const scale = 10 ** logScale;
    const [c, s] = [scale * Math.cos(turn), scale * Math.sin(turn)];
    const [g, h] = tilt;
    return Float64Array.of(
      c + shift[0] * g,
      stretch * (shear * c - s) + shift[0] * h,
      shift[0],
      s + shift[1] * g,
      stretch * (shear * s + c) + shift[1] * h,
      shift[1],
      g,
      h,
      1,
    );
  });

const BOX: readonly PointPx[] = [
  [0, 0],
  [90, 0],
  [90, 70],
  [0, 70],
];
const GRID: readonly PointPx[] = Array.from({ length: 25 }, (_, k): PointPx => [
  22 * (k % 5),
  17 * Math.floor(k / 5),
]);

describe('homographyFromPoints', () => {
  test('recovers the exact pinhole case and places points it has not seen', () => {
    const h = homographyFromPoints(pose.card_mm, pose.card_px);
    expectClose(h, pose.H.flat(), { rel: 1e-9, why: 'double precision, coordinates up to 2,400' });
    pose.probe_mm.forEach(([x, y], i) => {
      expectClose(applyHomography(h, x, y), pose.probe_px[i]!, { abs: 1e-8, why: 'as above' });
    });
  });

  test.each(Object.entries(board.views))(
    'flattens the photographed chessboard %s as the reference does',
    (_, view) => {
      // Source: OpenCV's sample photographs, corners measured apart from this code, board of 9 × 6 corners at
      // 25 mm: test/reference/chessboard_views.json. The error is the lens's, not the homography's.
      const inMm = (k: number): PointPx => [25 * (k % 9), 25 * Math.floor(k / 9)];
      const outer = [0, 8, 53, 45];
      const h = homographyFromPoints(
        outer.map((k) => view.corners_px[k]!),
        outer.map(inMm),
      );
      const errors = view.corners_px.map(([x, y], k) => {
        const [u, v] = applyHomography(h, x, y);
        return Math.hypot(u - inMm(k)[0], v - inMm(k)[1]);
      });
      const rms = Math.sqrt(errors.reduce((sum, error) => sum + error * error, 0) / errors.length);
      const why = 'corners printed to 0.001 px, errors to 0.0001 mm';
      expectClose(rms, view.rectify_4corner_rms_mm.raw, { abs: 1e-3, why });
      expectClose(Math.max(...errors), view.rectify_4corner_max_mm.raw, { abs: 2e-3, why });
    },
  );

  test.each([
    ['four', BOX],
    ['twenty-five', GRID],
  ])('recovers any homography from %s exact points', (_, points) => {
    // Source: the definition; the points are its own images.
    fc.assert(
      fc.property(homographies, (h) => {
        const images = points.map(([x, y]) => applyHomography(h, x, y));
        const found = homographyFromPoints(points, images);
        const size = Math.max(...images.flat().map(Math.abs));
        for (const [x, y] of GRID) {
          const why = 'rounding of coordinates, amplified by the tilt';
          expectClose(applyHomography(found, x, y), applyHomography(h, x, y), { abs: 1e-9 * size, why });
        }
      }),
    );
  });

  test('averages over more points than four', () => {
    // Source: least squares: error of a prediction goes down with the number of points.
    const random = seeded(5);
    const h = Float64Array.from(pose.H.flat());
    const rms = (points: readonly PointPx[]): number => {
      let sum = 0;
      for (let run = 0; run < 300; run += 1) {
        const images = points.map(([x, y]): PointPx => {
          const [u, v] = applyHomography(h, x, y);
          return [u + random.normal(), v + random.normal()];
        });
        const [u, v] = applyHomography(homographyFromPoints(points, images), 45, 35);
        const [u0, v0] = applyHomography(h, 45, 35);
        sum += ((u - u0) ** 2 + (v - v0) ** 2) / 2 / 300;
      }
      return Math.sqrt(sum);
    };
    const four = rms(BOX);
    // The middle is where the diagonals cross; each diagonal is off there by the mean of its two ends: 1/√2.
    expectClose(four, Math.SQRT1_2, { rel: 0.1, why: 'perspective (5 %), and 300 runs (3 %)' });
    expect(rms(GRID)).toBeLessThan(0.6 * four);
  });

  test('scales to unit length where the origin goes to infinity', () => {
    // x ↦ 1/x, y ↦ y/x: the origin has no image.
    const points: PointPx[] = [
      [1, 1],
      [2, 1],
      [2, 3],
      [1, 2],
    ];
    const h = homographyFromPoints(
      points,
      points.map(([x, y]): PointPx => [1 / x, y / x]),
    );
    expectClose(Math.hypot(...h), 1, { abs: 1e-12, why: 'rounding' });
    expectClose(applyHomography(h, 4, 6), [0.25, 1.5], { abs: 1e-12, why: 'rounding' });
  });

  test('does not change its input', () => {
    const [from, to] = [structuredClone(BOX), structuredClone(pose.card_px)];
    homographyFromPoints(from, to);
    expect(from).toEqual(BOX);
    expect(to).toEqual(pose.card_px);
  });

  test('refuses degenerate points', () => {
    const line: PointPx[] = [
      [0, 0],
      [1, 1],
      [2, 2],
      [0, 5],
    ];
    expect(() => homographyFromPoints(line, BOX)).toThrow(/degenerate points/);
    expect(() => homographyFromPoints(BOX, line)).toThrow(/degenerate points/);
    expect(() => homographyFromPoints(line, line)).toThrow(/degenerate points/);
    const same: PointPx[] = [BOX[0]!, BOX[0]!, BOX[2]!, BOX[3]!];
    expect(() => homographyFromPoints(same, BOX)).toThrow(/degenerate points/);
    const one: PointPx[] = [BOX[0]!, BOX[0]!, BOX[0]!, BOX[0]!];
    expect(() => homographyFromPoints(one, BOX)).toThrow(/points that differ/);
    const wild: PointPx[] = [[NaN, 0], BOX[1]!, BOX[2]!, BOX[3]!];
    expect(() => homographyFromPoints(wild, BOX)).toThrow(/finite points/);
    expect(() => homographyFromPoints(BOX.slice(0, 3), BOX.slice(0, 3))).toThrow(/at least four pairs/);
    expect(() => homographyFromPoints(BOX, GRID)).toThrow(/received 4 and 25 points/);
  });
});

describe('invertHomography', () => {
  test('leads back', () => {
    fc.assert(
      fc.property(homographies, (h) => {
        const back = invertHomography(h);
        for (const [x, y] of GRID) {
          expectClose(applyHomography(back, ...applyHomography(h, x, y)), [x, y], {
            abs: 1e-6,
            why: 'coordinates of 10⁵ against a scale of 0.01, in rounding',
          });
        }
      }),
    );
  });

  test('refuses a singular one', () => {
    expect(() => invertHomography(Float64Array.of(1, 2, 3, 2, 4, 6, 0, 0, 1))).toThrow(/a singular one/);
    expect(() => invertHomography(new Float64Array(9))).toThrow(/a singular one/);
    expect(() => invertHomography(new Float64Array(9).fill(NaN))).toThrow(/a singular one/);
  });
});

describe('localScale', () => {
  test('is the size of a small step', () => {
    // Source: finite differences of the mapping.
    fc.assert(
      fc.property(homographies, fc.constantFrom(...GRID), (h, [x, y]) => {
        const step = 1e-4;
        const length = (dx: number, dy: number): number => {
          const [a, b] = [applyHomography(h, x + dx, y + dy), applyHomography(h, x - dx, y - dy)];
          return Math.hypot(a[0] - b[0], a[1] - b[1]) / (2 * step);
        };
        const { alongX, alongY } = localScale(h, x, y);
        const why = 'central difference';
        expectClose(alongX, length(step, 0), { rel: 1e-5, abs: 1e-6, why });
        expectClose(alongY, length(0, step), { rel: 1e-5, abs: 1e-6, why });
      }),
    );
  });
});

describe('homographyFromSquare', () => {
  // Source: the direct linear transform, which the reference file holds against published values.
  test.each([
    [
      [10, 20],
      [110, 25],
      [120, 90],
      [5, 80],
    ],
    [
      [0, 0],
      [100, 0],
      [100, 50],
      [0, 50],
    ],
    [
      [300, 10],
      [310, 400],
      [-20, 380],
      [0, 0],
    ],
  ] as const)('is the one of the general way: %j %j %j %j', (...corners) => {
    const square = [
      [0, 0],
      [1, 0],
      [1, 1],
      [0, 1],
    ] as const;
    const general = homographyFromPoints(square, corners);
    expectClose(homographyFromSquare(corners), general, { abs: 1e-9, rel: 1e-9, why: 'rounding' });
  });

  test('three corners on a line are refused', () => {
    expect(() =>
      homographyFromSquare([
        [0, 0],
        [5, 5],
        [10, 10],
        [0, 10],
      ]),
    ).toThrow(RangeError);
  });
});
