import { afterAll, beforeAll, expect, test } from 'vitest';
import { startWorkers, type Workers } from '../../src/web/workers.js';

// The threads themselves, with tasks that do what no task of ours should.

let workers: Workers;
beforeAll(() => {
  workers = startWorkers(2, new URL('threadsForTests.js', import.meta.url).href);
});
afterAll(() => workers.close());

const photo = { bytes: Uint8Array.of(1, 2) };
const measurement = { photos: [], options: {}, together: {} };

test('a task is given what it needs, and gives its value', async () => {
  expect(await workers.run('survey', photo, { lane: 'short' })).toEqual(photo);
});

test("a user's mistake comes through as the one that it is", async () => {
  const mistake = workers.run('view', { ...photo, widthPx: 1 }, { lane: 'short' });
  await expect(mistake).rejects.toMatchObject({
    name: 'InputError',
    code: 'photo-damaged',
    advice: 'Copy it again.',
  });
});

test('a slip of ours, and a thread that breaks down, are errors; the next task has a thread', async () => {
  const sheet = { subject: {} as never, format: 'html', paper: 'a4' } as const;
  await expect(workers.run('sheetFile', sheet, { lane: 'short' })).rejects.toThrow('a slip');
  await expect(workers.run('check', { ...photo, options: {} }, { lane: 'long' })).rejects.toThrow();
  expect(await workers.run('survey', photo, { lane: 'long' })).toEqual(photo);
});

test('what never ends is ended, and others go on meanwhile', async () => {
  const abort = new AbortController();
  const endless = workers.run('measure', measurement, { lane: 'long', signal: abort.signal });
  expect(await workers.run('survey', photo, { lane: 'short' })).toEqual(photo);
  abort.abort();
  await expect(endless).rejects.toMatchObject({ status: 504, code: 'timed-out' });
  expect(await workers.run('survey', photo, { lane: 'long' })).toEqual(photo);
});

test('more than can wait are to be sent later', async () => {
  const many = await Promise.allSettled(
    Array.from({ length: 60 }, () => workers.run('survey', photo, { lane: 'short' })),
  );
  const refused = many.flatMap((one) => (one.status === 'rejected' ? [one.reason as unknown] : []));
  expect(refused.length).toBeGreaterThan(0);
  expect(refused.length).toBeLessThan(30);
  for (const reason of refused) expect(reason).toMatchObject({ status: 503, code: 'busy' });
});

test('closing ends what runs, but not what has to be brought to its end', async () => {
  const own = startWorkers(2, new URL('threadsForTests.js', import.meta.url).href);
  const saving = own.run('save', {} as never, { lane: 'short' });
  const measuring = own.run('measure', measurement, { lane: 'long', signal: new AbortController().signal });
  const ended = measuring.catch(() => 'ended');
  await own.close();
  expect(await saving).toBe('saved');
  expect(await ended).toBe('ended');
});
