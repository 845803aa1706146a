import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { readPhotos, readTruth } from '../../scripts/bench/photos.js';
import type { Spread } from '../../scripts/bench/spread.js';

interface BenchFile {
  readonly rounds: { readonly warmUp: number; readonly warm: number; readonly help: number };
  readonly limits: { readonly whole: number; readonly peakMb: number; readonly help: number };
  readonly helpToBareNode: { readonly ratioOfMedians: number };
  readonly photos: readonly {
    readonly name: string;
    readonly megapixels: number;
    readonly ratioToDecode: Readonly<Record<string, Spread>>;
    readonly peakMb: { readonly bareNode: number; readonly decode: number; readonly measure: number };
    readonly accuracy: { readonly truthHz?: number; readonly proposed: number | string };
  }[];
}

const text = readFileSync(new URL('../../docs/bench.json', import.meta.url), 'utf8');
const bench = JSON.parse(text) as BenchFile;

// The figures belong to the run that wrote them; what is checked is that they are whole and what the house promises.
describe('docs/bench.json', () => {
  test('has every photo, with enough rounds', () => {
    expect(bench.photos.map(({ name }) => name)).toEqual(readPhotos().map(({ name }) => name));
    expect(bench.rounds.warm).toBeGreaterThanOrEqual(9);
    expect(bench.rounds.warmUp).toBeGreaterThanOrEqual(2);
    expect(bench.rounds.help).toBeGreaterThanOrEqual(15);
  });

  // Source: the project's own limits, DESIGN 10.
  test('keeps the limits of time and memory', () => {
    expect(bench.limits).toMatchObject({ whole: 5, peakMb: 400, help: 1.5 });
    expect(bench.helpToBareNode.ratioOfMedians).toBeLessThanOrEqual(1.5);
    const large = bench.photos.filter(({ megapixels }) => Math.round(megapixels) === 12);
    expect(large).toHaveLength(2);
    for (const { ratioToDecode } of large) expect(ratioToDecode['whole']!.median).toBeLessThanOrEqual(5);
    for (const { peakMb } of bench.photos) expect(peakMb.measure).toBeLessThanOrEqual(400);
  });

  test('the parts of a photo add up to its whole, the quartiles enclose the median', () => {
    for (const { ratioToDecode } of bench.photos) {
      const { whole, 'plain script': plain, ...stages } = ratioToDecode;
      const sum = Object.values(stages).reduce((total, { median }) => total + median, 0);
      // 15 %: medians of parts from other calls than the whole's.
      expect(Math.abs(sum / whole!.median - 1)).toBeLessThan(0.15);
      for (const { median, quartiles } of [whole!, plain!, ...Object.values(stages)]) {
        expect(quartiles[0]).toBeLessThanOrEqual(median);
        expect(median).toBeLessThanOrEqual(quartiles[1]);
      }
    }
  });

  // A child must not inherit the peak of the process that started it.
  test('memory grows from bare node to decode to measurement', () => {
    for (const { peakMb } of bench.photos) {
      expect(peakMb.bareNode).toBeGreaterThan(10);
      expect(peakMb.decode).toBeGreaterThan(peakMb.bareNode);
      expect(peakMb.measure).toBeGreaterThan(peakMb.bareNode);
    }
  });

  // Source: truth files of the ray tracer.
  test('truths are those of the photos', () => {
    const truths = readPhotos().map((photo) => readTruth(photo).nullHz);
    expect(bench.photos.map(({ accuracy }) => accuracy.truthHz)).toEqual(truths);
  });

  test('tells nothing of the machine it was made on', () => {
    expect(text).not.toMatch(/\/(home|root|work|tmp|Users)\b|[A-Z]:\\|https?:/);
  });
});
