import { describe, expect, it } from 'vitest';
import { despike } from '../../src/profiles/despike.js';
import { seeded } from '../synth/random.js';

const HEIGHTS = 50;
const POSITIONS = 60;
/** Ripples that turn over half way up, with noise. */
function rippled(noise: number): Float64Array[] {
  const random = seeded(5);
  return Array.from({ length: HEIGHTS }, (_, k) =>
    Float64Array.from(
      { length: POSITIONS },
      (_value, i) => (k / 25 - 1) * 0.2 * Math.exp(-i / 20) * Math.cos(i / 3) + noise * random.normal(),
    ),
  );
}

describe('despike', () => {
  it('takes a scratch and a blob out, whatever their depth', () => {
    const clean = rippled(0.01);
    const spoilt = clean.map((band) => band.slice());
    for (let i = 10; i < 40; i += 1) spoilt[i]![i] = -0.7;
    spoilt[44]![30] = 2;
    const mended = despike(spoilt, 1);
    for (let i = 10; i < 40; i += 1) expect(Math.abs(mended[i]![i]! - clean[i]![i]!)).toBeLessThan(0.06);
    expect(Math.abs(mended[44]![30]! - clean[44]![30]!)).toBeLessThan(0.06);
  });
  it('leaves ripples, and all but a handful of noise, as they are', () => {
    const clean = rippled(0.01);
    const changed = despike(clean, 1).flatMap((band, k) =>
      [...band].filter((value, i) => value !== clean[k]![i]),
    );
    // A normal value beyond 5 standard deviations: 5.7e-7 (handbook tables, from memory); the median of nine heights
    // and the spread of 50 are themselves uncertain, which allows some more.
    expect(changed.length).toBeLessThan(0.002 * HEIGHTS * POSITIONS);
  });
  it('does not touch what it is given, and takes no bands for an answer', () => {
    const bands = rippled(0.01);
    const before = bands.map((band) => band.slice());
    despike(bands, 1);
    expect(bands).toEqual(before);
    expect(despike([], 1)).toEqual([]);
  });
});
