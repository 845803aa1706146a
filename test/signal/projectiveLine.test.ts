import { expect, test } from 'vitest';
import { fitProjectiveLine, positionOn, spacingOn } from '../../src/signal/projectiveLine.js';
import { expectClose } from '../helpers/closeTo.js';

// Source: closed form, a projective map of the line with invented numbers.
const at = (k: number): number => (120 + 17.3 * k) / (1 + 0.0011 * k);
const numbers = Array.from({ length: 80 }, (_, i) => i - 20);

test('fitProjectiveLine finds an exact map again, and its spacing', () => {
  const line = fitProjectiveLine(
    numbers,
    numbers.map(at),
    numbers.map(() => 1),
  )!;
  expectClose(
    numbers.map((k) => positionOn(line, k)),
    numbers.map(at),
    { abs: 1e-7, why: 'rounding of the normal equations' },
  );
  const slope = (k: number): number => (at(k + 1e-4) - at(k - 1e-4)) / 2e-4;
  expectClose(spacingOn(line, 30), slope(30), { rel: 1e-6, why: 'a difference quotient' });
});

test('a weight of nought leaves a division out', () => {
  const positions = numbers.map((k) => at(k) + (k === 5 ? 40 : 0));
  const line = fitProjectiveLine(
    numbers,
    positions,
    numbers.map((k) => (k === 5 ? 0 : 1)),
  )!;
  expectClose(positionOn(line, 5), at(5), { abs: 1e-7, why: 'rounding' });
});

test('noise moves the ends by three times its share of the whole, as three parameters have it', () => {
  // Source: at the end of an even series a quadratic's variance is 9/n (leverage of orthogonal polynomials).
  const n = numbers.length;
  const [middle, half] = [(numbers[0]! + numbers[n - 1]!) / 2, (n - 1) / 2];
  const ends: number[] = [];
  for (let run = 0; run < 400; run += 1) {
    const noise = numbers.map((_, i) => normal(run * n + i));
    const line = fitProjectiveLine(
      numbers,
      numbers.map((k, i) => at(k) + noise[i]!),
      numbers.map(() => 1),
    )!;
    ends.push(positionOn(line, middle + half) - at(middle + half));
  }
  const variance = ends.reduce((sum, end) => sum + end * end, 0) / ends.length;
  expectClose(variance, 9 / n, { rel: 0.3, why: '400 draws: 7 % of a variance, four of them' });
});

test('refuses too few divisions, and says undefined where they are all the same', () => {
  expect(() => fitProjectiveLine([1, 2, 3], [1, 2, 3], [1, 1, 1])).toThrow(/at least four/);
  expect(fitProjectiveLine([2, 2, 2, 2], [5, 5, 5, 5], [1, 1, 1, 1])).toBeUndefined();
});

/** Normal numbers from a hash of their index: Box & Muller 1958 (from memory). */
function normal(index: number): number {
  const even = (k: number): number => ((Math.imul(k ^ (k >>> 15), 2246822519) >>> 0) + 0.5) / 2 ** 32;
  return Math.sqrt(-2 * Math.log(even(2 * index + 77))) * Math.cos(2 * Math.PI * even(2 * index + 78));
}
