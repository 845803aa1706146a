import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

// What `npm run bench:serve` has found is kept here with its limits, so that a worse file cannot be committed unseen.
const figures = JSON.parse(readFileSync('docs/serve.json', 'utf8')) as {
  readonly verdict: { readonly megapixels: number; readonly runs: number; readonly serverToCommand: number };
  readonly ping: {
    readonly idlePings: number;
    readonly measuringPings: number;
    readonly p95Ratio: number;
  };
  readonly uploads: { readonly count: number; readonly statuses: Readonly<Record<string, number>> };
  readonly hostile: {
    readonly requests: number;
    readonly kinds: object;
    readonly statuses: Readonly<Record<string, number>>;
    readonly wrong: readonly string[];
    readonly unanswered: readonly string[];
    readonly residentMegabytes: readonly number[];
    readonly filesLeft: readonly string[];
    readonly tempFilesLeft: readonly string[];
    readonly openFilesMore: number;
    readonly answersAfterwards: number;
    readonly said: readonly string[];
  };
};

test('from a photo of 12 megapixels to its verdict the server takes at most half as long again as the command', () => {
  expect(figures.verdict).toMatchObject({ megapixels: 12.2, runs: 5 });
  expect(figures.verdict.serverToCommand).toBeLessThanOrEqual(1.5);
});

test('a ping is answered within five times its idle time while all threads measure, at the 95th percentile', () => {
  expect(figures.ping.idlePings).toBeGreaterThanOrEqual(400);
  expect(figures.ping.measuringPings).toBeGreaterThanOrEqual(400);
  expect(figures.ping.p95Ratio).toBeLessThanOrEqual(5);
});

test('of 50 photos at once each is taken or to be sent later', () => {
  const { count, statuses } = figures.uploads;
  expect(count).toBe(50);
  expect(Object.keys(statuses).filter((status) => !['201', '429', '503'].includes(status))).toEqual([]);
  expect(Object.values(statuses).reduce((sum, n) => sum + n, 0)).toBe(count);
});

test('20,000 requests that nobody means well leave nothing behind', () => {
  const { hostile } = figures;
  expect(hostile.requests).toBeGreaterThanOrEqual(20_000);
  expect(Object.keys(hostile.kinds).length).toBeGreaterThanOrEqual(18);
  expect(hostile).toMatchObject({ wrong: [], filesLeft: [], tempFilesLeft: [], answersAfterwards: 204 });
  expect(hostile.said.join('')).toBe('');
  // Of 5xx there is only the declared 503.
  expect(
    Object.keys(hostile.statuses).filter((status) => status.startsWith('5') && status !== '503'),
  ).toEqual([]);
  expect(hostile.openFilesMore).toBeLessThanOrEqual(0);
  // What the allocator keeps of a tenth of the requests may differ; growth from tenth to tenth would not.
  const [, ...tenths] = hostile.residentMegabytes;
  expect(Math.max(...tenths.slice(-3))).toBeLessThanOrEqual(1.1 * Math.max(...tenths.slice(0, 3)));
});
