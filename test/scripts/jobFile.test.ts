import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { Spread } from '../../scripts/bench/spread.js';

interface JobBench {
  readonly megabytes: number;
  readonly rounds: number;
  readonly limits: { readonly ratioToReadline: number; readonly peakMb: number };
  readonly ratioToReadline: Readonly<Record<string, Spread>>;
  readonly peakMb: Readonly<Record<string, number>>;
}

const bench = JSON.parse(readFileSync(new URL('../../docs/job.json', import.meta.url), 'utf8')) as JobBench;

// The figures belong to the run that wrote them; what is checked is that they are whole and what the house promises.
describe('docs/job.json', () => {
  // Source: the project's own limits.
  test('keeps the limits of time and memory on 200 MB', () => {
    expect(bench.megabytes).toBeGreaterThanOrEqual(200);
    expect(bench.rounds).toBeGreaterThanOrEqual(3);
    expect(bench.limits).toEqual({ ratioToReadline: 3, peakMb: 150 });
    for (const kind of ['job', 'pattern', 'weave']) {
      expect(bench.ratioToReadline[kind]!.median).toBeLessThanOrEqual(3);
      expect(bench.peakMb[kind]!).toBeLessThanOrEqual(150);
    }
  });

  test('is what README quotes', () => {
    const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
    const told = /takes \[([\d.]+) times\]\(docs\/job\.json\)[^\n]*?(\d+) MB of memory/.exec(readme)!;
    expect(Number(told[1])).toBeCloseTo(bench.ratioToReadline['job']!.median, 1);
    expect(Math.abs(Number(told[2]) - bench.peakMb['job']!)).toBeLessThan(10);
  });
});
