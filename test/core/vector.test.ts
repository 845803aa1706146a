import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dot, dots } from '../../src/core/vector.js';

const COUNTS = [0, 1, 2, 3, 5, 7];

describe('dots', () => {
  test('agrees with plain sums bit for bit, for every number of rows and columns', () => {
    // Source: definition of the scalar product; plain numbers added in order.
    const sum = (a: readonly number[], b: readonly number[]) =>
      a.reduce((s, value, i) => s + value * b[i]!, 0);
    const finite = fc.double({ min: -1e6, max: 1e6, noNaN: true });
    const vectors = (length: number, count: number) =>
      fc.array(fc.array(finite, { minLength: length, maxLength: length }), {
        minLength: count,
        maxLength: count,
      });
    for (const rowCount of COUNTS) {
      for (const columnCount of COUNTS) {
        const both = fc.nat({ max: 9 }).chain((n) => fc.tuple(vectors(n, rowCount), vectors(n, columnCount)));
        fc.assert(
          fc.property(both, ([rows, columns]) => {
            const products = dots(
              rows.map((row) => Float64Array.from(row)),
              columns.map((column) => Float64Array.from(column)),
            );
            const plain = rows.flatMap((row) => columns.map((column) => sum(row, column)));
            expect([...products]).toEqual(plain);
          }),
          { numRuns: 10 },
        );
      }
    }
  });

  test('keeps rows and columns apart', () => {
    // Source: by hand.
    const rows = [Float64Array.of(1, 2), Float64Array.of(3, 4), Float64Array.of(5, 6), Float64Array.of(7, 8)];
    const columns = [Float64Array.of(1, 0), Float64Array.of(0, 1), Float64Array.of(1, -1)];
    expect([...dots(rows, columns)]).toEqual([1, 2, -1, 3, 4, -1, 5, 6, -1, 7, 8, -1]);
  });
});

describe('dot', () => {
  test('sums over the length of the first', () => {
    // Source: by hand.
    expect(dot(Float64Array.of(1, 2, 3), Float64Array.of(4, 5, 6, 100))).toBe(32);
    expect(dot(new Float64Array(0), new Float64Array(0))).toBe(0);
  });
});
