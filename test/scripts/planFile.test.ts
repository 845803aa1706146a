import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const path = (name: string) => new URL(`../../${name}`, import.meta.url);

interface Route {
  readonly predictedSdMedianHz: number;
  readonly statedSdMedianHz: number;
  readonly ratioOfMedians: number;
  readonly errorRmsHz: number;
  readonly of: number;
}

test('plans predict what readings say, and are read: docs/plan.json keeps its promises, and README tells its figures', () => {
  const plan = JSON.parse(readFileSync(path('docs/plan.json'), 'utf8')) as {
    readonly plans: number;
    readonly firstSeed: number;
    readonly proposed: number;
    readonly combined: Route;
  };
  // Seeds that were not used for tuning.
  expect(plan.firstSeed).toBeGreaterThanOrEqual(500_000);
  expect(plan.plans).toBeGreaterThanOrEqual(300);
  expect(plan.proposed / plan.plans).toBeGreaterThanOrEqual(0.95);
  expect(plan.combined.ratioOfMedians).toBeGreaterThan(0.8);
  expect(plan.combined.ratioOfMedians).toBeLessThan(1.25);
  expect(plan.combined.errorRmsHz).toBeLessThanOrEqual(0.3);
  const readme = readFileSync(path('README.md'), 'utf8');
  const told = /On (\d+) \[plans\]\(docs\/plan\.json\)[^.]*?(\d+) were read[^.]*?off by ([\d.]+) Hz rms/.exec(
    readme,
  );
  expect(told?.slice(1).map(Number)).toEqual([
    plan.plans,
    plan.proposed,
    Number(plan.combined.errorRmsHz.toFixed(2)),
  ]);
});
