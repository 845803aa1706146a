import { describe, expect, it } from 'vitest';
import { jackknifeBlocks, jackknifeSd } from '../../src/signal/jackknife.js';
import { expectClose } from '../helpers/closeTo.js';

describe('jackknifeSd', () => {
  // Source: closed form. For the mean of n values, leaving one out each, the jackknife gives s/√n exactly.
  it('equals the standard error of a mean', () => {
    const values = [3, 5, 4, 9, 2, 7];
    const total = values.reduce((sum, v) => sum + v, 0);
    const mean = total / 6;
    const s = Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / 5);
    expectClose(jackknifeSd(values.map((v) => (total - v) / 5)), s / Math.sqrt(6), {
      rel: 1e-12,
      why: 'identity',
    });
  });
});

describe('jackknifeBlocks', () => {
  // Source: closed form. Every place is left out exactly once.
  it.each([1, 7, 10, 11, 64])('covers %i places without gap or overlap, in at most ten blocks', (count) => {
    const blocks = jackknifeBlocks(count);
    expect(blocks.length).toBe(Math.min(10, count));
    const places = blocks.flatMap(([from, to]) => Array.from({ length: to - from }, (_, i) => from + i));
    expect(places).toEqual(Array.from({ length: count }, (_, i) => i));
  });
});
