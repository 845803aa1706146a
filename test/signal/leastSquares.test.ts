import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  combineColumns,
  invertSymmetric,
  normalMatrix,
  orthonormalise,
  solveSymmetric,
} from '../../src/signal/leastSquares.js';
import { expectClose } from '../helpers/closeTo.js';
import { readJson } from '../helpers/readReference.js';

/** Thousandths: squares of numbers near the smallest float vanish, and no profile has such. */
const column = (n: number) =>
  fc
    .array(fc.integer({ min: -10_000, max: 10_000 }), { minLength: n, maxLength: n })
    .map((values) => Float64Array.from(values, (value) => value / 1000));

describe('orthonormalise', () => {
  test('gives orthonormal columns that span the given ones', () => {
    // Source: definition of an orthonormal basis.
    fc.assert(
      fc.property(fc.array(column(12), { minLength: 1, maxLength: 6 }), (columns) => {
        const basis = orthonormalise(columns);
        basis.forEach((q, i) => {
          basis.forEach((other, j) => {
            const product = q.reduce((sum, value, k) => sum + value * other[k]!, 0);
            expectClose(product, i === j ? 1 : 0, { abs: 1e-12, why: 'rounding' });
          });
        });
        for (const one of columns) {
          const rest = one.slice();
          for (const q of basis) {
            const share = q.reduce((sum, value, k) => sum + value * one[k]!, 0);
            q.forEach((value, k) => (rest[k] = rest[k]! - share * value));
          }
          expectClose(rest, new Float64Array(12), {
            abs: 1e-7,
            why: 'dropped columns leave 1e-10 of their length',
          });
        }
      }),
    );
  });

  test('keeps columns orthogonal that are nearly dependent', () => {
    // Source: Läuchli's matrix, the usual example where one pass of Gram–Schmidt fails (from memory).
    const e = 1e-8;
    const basis = orthonormalise([
      Float64Array.of(1, e, 0, 0),
      Float64Array.of(1, 0, e, 0),
      Float64Array.of(1, 0, 0, e),
    ]);
    expect(basis).toHaveLength(3);
    const product = basis[1]!.reduce((sum, value, k) => sum + value * basis[2]![k]!, 0);
    expectClose(product, 0, { abs: 1e-15, why: 'rounding' });
  });

  test('drops what depends on columns before it, and columns of zeros', () => {
    const a = Float64Array.of(1, 2, 3, 4);
    const b = Float64Array.of(1, 0, 1, 0);
    const sum = a.map((value, i) => 2 * value - b[i]!);
    expect(orthonormalise([a, b, sum])).toHaveLength(2);
    expect(orthonormalise([new Float64Array(4), a])).toHaveLength(1);
    expect(orthonormalise([])).toEqual([]);
  });

  test('drops by the tolerance asked for', () => {
    const a = Float64Array.of(1, 0);
    const b = Float64Array.of(1, 1e-3);
    expect(orthonormalise([a, b], 1e-4)).toHaveLength(2);
    expect(orthonormalise([a, b], 1e-2)).toHaveLength(1);
  });

  test('does not change its input, and refuses columns of two lengths', () => {
    const a = Float64Array.of(3, 4);
    orthonormalise([a]);
    expect(a).toEqual(Float64Array.of(3, 4));
    expect(() => orthonormalise([a, Float64Array.of(1)])).toThrow(
      /columns of length 2 but received one of 1/,
    );
  });
});

describe('solveSymmetric and invertSymmetric', () => {
  test('invert the Hilbert matrix', () => {
    // Source: Choi, "Tricks or treats with the Hilbert matrix", Amer. Math. Monthly 90, 1983 (from memory):
    // the inverse of the 4 × 4 Hilbert matrix in whole numbers.
    const expected = [
      16, -120, 240, -140, -120, 1200, -2700, 1680, 240, -2700, 6480, -4200, -140, 1680, -4200, 2800,
    ];
    const hilbert = Float64Array.from({ length: 16 }, (_, k) => 1 / (Math.floor(k / 4) + (k % 4) + 1));
    const why = 'condition 15,514 times rounding';
    expectClose(invertSymmetric(hilbert, 4)!, expected, { rel: 1e-11, why });
    expectClose(solveSymmetric(hilbert, Float64Array.of(1, 0, 0, 0))!, expected.slice(0, 4), {
      rel: 1e-11,
      why,
    });
  });

  test('solve what a product with a known answer gives', () => {
    fc.assert(
      fc.property(fc.array(column(8), { minLength: 3, maxLength: 3 }), column(3), (columns, x) => {
        // A diagonal keeps the matrix away from singular.
        const matrix = normalMatrix(columns).map((value, k) => value + (k % 4 === 0 ? 1 : 0));
        const rhs = Float64Array.from({ length: 3 }, (_, i) =>
          x.reduce((sum, value, j) => sum + matrix[3 * i + j]! * value, 0),
        );
        expectClose(solveSymmetric(matrix, rhs)!, x, {
          abs: 1e-9,
          why: 'condition below 2,500 times rounding',
        });
      }),
    );
  });

  test('say so when the matrix is not positive definite', () => {
    expect(solveSymmetric(Float64Array.of(1, 2, 2, 1), Float64Array.of(1, 1))).toBeUndefined();
    expect(solveSymmetric(Float64Array.of(1, 1, 1, 1), Float64Array.of(1, 1))).toBeUndefined();
    expect(invertSymmetric(Float64Array.of(0), 1)).toBeUndefined();
    expect(invertSymmetric(Float64Array.of(NaN), 1)).toBeUndefined();
    // Singular up to rounding: thirds are not exact.
    const third = 1 / 3;
    expect(invertSymmetric(Float64Array.of(1, third, third, third * third), 2)).toBeUndefined();
  });

  test('read the lower triangle only', () => {
    const x = solveSymmetric(Float64Array.of(4, 99, 2, 3), Float64Array.of(6, 5))!;
    expectClose(x, [1, 1], { abs: 1e-15, why: 'rounding' });
  });

  test('refuse a matrix of the wrong size', () => {
    expect(() => solveSymmetric(new Float64Array(5), new Float64Array(2))).toThrow(/4 matrix elements/);
    expect(() => invertSymmetric(new Float64Array(4), 3)).toThrow(/9 matrix elements/);
  });
});

describe('combineColumns', () => {
  test('fits the line of GUM example H.3 with its covariance', () => {
    // Source: GUM (JCGM 100:2008) H.3, thermometer calibration: test/reference/uncertainty.json.
    const gum = (
      readJson('uncertainty.json') as { GUM_H3: Record<string, number> & { t: number[]; b: number[] } }
    ).GUM_H3;
    const columns = [new Float64Array(11).fill(1), Float64Array.from(gum.t, (t) => t - 20)];
    const [y1, y2] = combineColumns(columns, Float64Array.from(gum.b))! as unknown as [number, number];
    const why = 'recomputed values, 15 digits';
    expectClose([y1, y2], [gum['y1']!, gum['y2']!], { rel: 1e-11, why });
    const squares = gum.b.reduce((sum, b, i) => sum + (b - y1 - y2 * columns[1]![i]!) ** 2, 0);
    const sd = Math.sqrt(squares / 9);
    expectClose(sd, gum['s']!, { rel: 1e-11, why });
    const inverse = invertSymmetric(normalMatrix(columns), 2)!;
    expectClose(
      [
        sd * Math.sqrt(inverse[0]!),
        sd * Math.sqrt(inverse[3]!),
        inverse[1]! / Math.sqrt(inverse[0]! * inverse[3]!),
      ],
      [gum['s_y1']!, gum['s_y2']!, gum['r']!],
      { rel: 1e-11, why },
    );
    // The correction at 30 °C and its uncertainty: variance of y1 + 10 y2 with their covariance.
    const at30 = y1 + 10 * y2;
    const at30Sd = sd * Math.sqrt(inverse[0]! + 20 * inverse[1]! + 100 * inverse[3]!);
    expectClose([at30, at30Sd], [gum['b_30']!, gum['u_b30']!], { rel: 1e-11, why });
    // As the GUM prints them (from memory): -0.1712(29), 0.00218(67), -0.930, 0.0035, -0.1494, 0.0041.
    const [u1, u2] = [sd * Math.sqrt(inverse[0]!), sd * Math.sqrt(inverse[3]!)];
    const printed = [
      ...[y1.toFixed(4), u1.toFixed(4), y2.toFixed(5), u2.toFixed(5)],
      ...[(inverse[1]! / Math.sqrt(inverse[0]! * inverse[3]!)).toFixed(3), sd.toFixed(4)],
      ...[at30.toFixed(4), at30Sd.toFixed(4)],
    ];
    expect(printed).toEqual([
      ...['-0.1712', '0.0029', '0.00218', '0.00067'],
      ...['-0.930', '0.0035'],
      ...['-0.1494', '0.0041'],
    ]);
  });

  test('says so when the columns are dependent', () => {
    expect(
      combineColumns([Float64Array.of(1, 2), Float64Array.of(2, 4)], Float64Array.of(1, 1)),
    ).toBeUndefined();
  });
});
