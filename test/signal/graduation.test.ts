import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readGraduation } from '../../src/signal/graduation.js';
import { seeded } from '../synth/random.js';

// Source: how rulers are divided is common practice, no source; the lengths are ours.
const millimetres = (k: number): number => (k % 10 === 0 ? 8 : k % 5 === 0 ? 5.5 : 3.5);
const halves = (k: number): number => (k % 20 === 0 ? 16 : k % 10 === 0 ? 13 : k % 2 === 0 ? 10 : 6);

const read = (from: number, count: number, lengthOf: (k: number) => number, offset = 0) => {
  const numbers = Array.from({ length: count }, (_, i) => from + i);
  return readGraduation(
    numbers,
    numbers.map((k) => lengthOf(Math.abs(k - offset))),
  );
};

describe('readGraduation', () => {
  test('tells millimetres and half millimetres wherever the numbers begin', () => {
    fc.assert(
      fc.property(fc.integer({ min: -40, max: 40 }), fc.integer({ min: 65, max: 140 }), (from, count) => {
        const one = read(from, count, millimetres, 3)!;
        expect(one).toMatchObject({ divisionMm: 1, clarity: 1 });
        expect(Math.abs(one.centimetreMark - 3) % 10).toBe(0);
        const half = read(from, count, halves, 3)!;
        expect(half).toMatchObject({ divisionMm: 0.5, clarity: 1 });
        expect(Math.abs(half.centimetreMark - 3) % 20).toBe(0);
      }),
    );
  });

  test('a figure that lengthens the same mark in each centimetre, and scratches, do not upset it', () => {
    const withFigures = (k: number): number =>
      millimetres(k) + (k % 10 === 1 ? 9 : 0) + (k === 17 || k === 34 ? 6 : 0);
    expect(read(0, 60, withFigures)).toMatchObject({ divisionMm: 1 });
  });

  test('no fifth marks: millimetres still', () => {
    expect(read(0, 60, (k) => (k % 10 === 0 ? 8 : 4))).toMatchObject({ divisionMm: 1 });
  });

  test.each([
    ['all alike', () => 4],
    ['every fifth alike: two millimetres have their centimetres so', (k: number) => (k % 5 === 0 ? 8 : 4)],
    ['every second and nothing else', (k: number) => (k % 2 === 0 ? 8 : 4)],
    ['every fourth: an inch in twelfths or eighths', (k: number) => (k % 4 === 0 ? 8 : 4)],
    [
      'sixteenths of an inch',
      (k: number) => (k % 16 === 0 ? 8 : k % 8 === 0 ? 6.5 : k % 4 === 0 ? 5 : k % 2 === 0 ? 4 : 3),
    ],
    ['every twelfth', (k: number) => (k % 12 === 0 ? 8 : k % 6 === 0 ? 6 : 4)],
  ])('%s: does not tell', (_, lengthOf) => {
    expect(read(0, 80, lengthOf)).toBeUndefined();
  });

  test('lengths at random do not tell', () => {
    // As texture gives them: each goes on for another step or ends, by chance. Three of thirty in their places are the
    // longest with a chance of 1 to 4060, times the ways to choose them; that a ruler's marks begin on one line is
    // asked elsewhere.
    const random = seeded(31);
    let told = 0;
    for (let run = 0; run < 3000; run += 1) {
      const numbers = Array.from({ length: 30 + (run % 60) }, (_, i) => i);
      const lengths = numbers.map(() => 1 - 4 * Math.log(random.even(0, 1)));
      if (readGraduation(numbers, lengths) !== undefined) told += 1;
    }
    expect(told / 3000).toBeLessThan(0.02);
  });

  test('two long marks alone do not tell', () => {
    expect(read(5, 18, millimetres)).toBeUndefined();
  });

  test('refuses counts that differ', () => {
    expect(() => readGraduation([1, 2], [1])).toThrow(/received 2 and 1/);
  });
});
