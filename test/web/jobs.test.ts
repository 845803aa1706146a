import { beforeEach, describe, expect, test } from 'vitest';
import { InputError } from '../../src/index.js';
import { Jobs, type JobState, type Work } from '../../src/web/jobs.js';
import { LIMITS } from '../../src/web/limits.js';

// The queue by itself; the work in it is ended from outside.

interface Held {
  readonly end: (result: string) => void;
  readonly fail: (error: unknown) => void;
  readonly signal: AbortSignal;
}

let clock = 0;
let held: Held[] = [];
let told: unknown[] = [];
let jobs = new Jobs<string>(
  LIMITS,
  1,
  () => clock,
  (error) => told.push(error),
);

beforeEach(() => {
  clock = 0;
  held = [];
  told = [];
  jobs = new Jobs<string>(
    { ...LIMITS, waiting: 2, finished: 3 },
    1,
    () => clock,
    (error) => told.push(error),
  );
});

const add = (mostMs = 60_000, more: Partial<Work<string>> = {}) =>
  jobs.add({
    mostMs,
    kind: 'measure',
    bytes: 0,
    resultBytes: 0,
    ...more,
    run: (signal) => new Promise((end, fail) => held.push({ end, fail, signal })),
  });

function heard(id: string): JobState[] {
  const states: JobState[] = [];
  jobs.listen(id, (state) => states.push(state));
  return states;
}

const settled = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 0));

test('one runs, the others wait their turn and are told their place', async () => {
  const [first, second, third] = [add(), add(), add()];
  const states = heard(third.id);
  expect([first, second, third].map(({ state }) => state)).toEqual([
    { name: 'running' },
    { name: 'queued', position: 1 },
    { name: 'queued', position: 2 },
  ]);
  held[0]?.end('one');
  await settled();
  expect(jobs.get(first.id)).toMatchObject({ state: { name: 'done' }, result: 'one' });
  held[1]?.end('two');
  await settled();
  held[2]?.end('three');
  await settled();
  expect(states).toEqual([
    { name: 'queued', position: 2 },
    { name: 'queued', position: 1 },
    { name: 'running' },
    { name: 'done' },
  ]);
});

test('what does not fit in the queue is to be tried again', () => {
  for (let i = 0; i < 3; i += 1) add();
  expect(add).toThrow(expect.objectContaining({ status: 503, code: 'busy', retryAfterS: 5 }));
});

test('a mistake of the user is told as it is, one of ours is told to us', async () => {
  const states = heard(add().id);
  held[0]?.fail(new InputError('photo-damaged', 'It breaks off.', 'Copy it again.'));
  await settled();
  const other = heard(add().id);
  held[1]?.fail(new TypeError('secret'));
  await settled();
  expect(states.at(-1)).toMatchObject({
    name: 'failed',
    error: { code: 'photo-damaged', advice: 'Copy it again.' },
  });
  expect(other.at(-1)).toMatchObject({ name: 'failed', error: { code: 'internal' } });
  expect(JSON.stringify(other)).not.toContain('secret');
  expect(told).toEqual([new TypeError('secret')]);
});

describe('a job that nobody listens to', () => {
  test('is ended after ten seconds, and the next one begins', () => {
    const [first, second] = [add(), add()];
    heard(second.id);
    clock = 10_000;
    jobs.sweep();
    expect(held[0]?.signal.aborted).toBe(false);
    clock = 10_001;
    jobs.sweep();
    expect(held[0]?.signal.aborted).toBe(true);
    expect(() => jobs.get(first.id)).toThrow(expect.objectContaining({ status: 404 }));
    expect(jobs.get(second.id).state).toEqual({ name: 'running' });
  });

  test('goes on while it is asked for, or where somebody listens again in time', () => {
    const { id } = add();
    for (clock = 0; clock < 60_000; clock += 9_000) {
      jobs.get(id);
      jobs.sweep();
    }
    const stop = jobs.listen(id, () => undefined);
    clock += 60_000;
    jobs.sweep();
    stop();
    clock += 9_000;
    jobs.sweep();
    expect(held[0]?.signal.aborted).toBe(false);
  });
});

test('a cancelled job is ended and told so; its work, which ends later, changes nothing', async () => {
  const { id } = add();
  const states = heard(id);
  jobs.remove(id);
  expect(held[0]?.signal.aborted).toBe(true);
  expect(states.at(-1)).toMatchObject({ name: 'failed', error: { code: 'cancelled' } });
  held[0]?.end('late');
  await settled();
  expect(() => jobs.get(id)).toThrow();
  expect(states).toHaveLength(2);
});

test('a job that takes too long is ended and told so', async () => {
  const { id } = add(1);
  const states = heard(id);
  await new Promise((resolve) => setTimeout(resolve, 30));
  expect(states.at(-1)).toMatchObject({ name: 'failed', error: { code: 'timed-out' } });
  expect(held[0]?.signal.aborted).toBe(true);
  held[0]?.fail(new Error('ended'));
  await settled();
  expect(told).toEqual([]);
});

test('the latest finished jobs are kept, for an hour', async () => {
  const ids: string[] = [];
  for (let i = 0; i < 5; i += 1) {
    clock += 1;
    ids.push(add().id);
    held[i]?.end(String(i));
    await settled();
  }
  const kept = () =>
    ids.filter((id) => {
      try {
        return jobs.get(id).state.name === 'done';
      } catch {
        return false;
      }
    });
  expect(kept()).toEqual(ids.slice(2));
  clock += 3_600_001;
  jobs.sweep();
  expect(kept()).toEqual([]);
});

test('checks, however many, push no measurement out', async () => {
  const { id } = add();
  held[0]?.end('a reading');
  await settled();
  const checks: string[] = [];
  for (let i = 1; i <= 5; i += 1) {
    clock += 1;
    checks.push(add(60_000, { kind: 'check' }).id);
    held[i]?.end('a look');
    await settled();
  }
  expect(() => jobs.get(checks[1] ?? '')).toThrow();
  expect(jobs.get(checks[2] ?? '').result).toBe('a look');
  expect(jobs.get(id).result).toBe('a reading');
});

test('finished jobs hold no more bytes of photos than that, but the latest is kept whatever it holds', async () => {
  const bytes = LIMITS.allBytes / 2;
  const ids: string[] = [];
  for (let i = 0; i < 3; i += 1) {
    clock += 1;
    ids.push(add(60_000, { bytes, resultBytes: bytes }).id);
    held[i]?.end('');
    await settled();
  }
  expect(() => jobs.get(ids[0] ?? '')).toThrow();
  expect(jobs.get(ids[1] ?? '').state.name).toBe('done');
  clock += 1;
  const large = add(60_000, { bytes: 2 * LIMITS.allBytes, resultBytes: 2 * LIMITS.allBytes });
  held[3]?.end('');
  await settled();
  expect(jobs.get(large.id).state.name).toBe('done');
  expect(() => jobs.get(ids[2] ?? '')).toThrow();
});

test('open jobs hold no more bytes of photos than that', async () => {
  const bytes = 0.6 * LIMITS.allBytes;
  const first = add(60_000, { bytes });
  expect(() => add(60_000, { bytes })).toThrow(expect.objectContaining({ status: 503, code: 'busy' }));
  held[0]?.end('');
  await settled();
  expect(jobs.get(first.id).state.name).toBe('done');
  expect(add(60_000, { bytes }).state.name).toBe('running');
});

test('what a job came to is replaced, unless it was forgotten meanwhile', async () => {
  const { id } = add();
  held[0]?.end('measured');
  await settled();
  jobs.update(id, 'saved');
  expect(jobs.get(id).result).toBe('saved');
  jobs.remove(id);
  jobs.update(id, 'saved again');
  expect(() => jobs.get(id)).toThrow(expect.objectContaining({ status: 404 }));
});

test('closing ends all of them', () => {
  add();
  const waiting = heard(add().id);
  jobs.close();
  expect(held).toHaveLength(1);
  expect(held[0]?.signal.aborted).toBe(true);
  expect(waiting.at(-1)).toMatchObject({ name: 'failed', error: { code: 'cancelled' } });
});
