import type { AddressInfo } from 'node:net';
import { expect, test, vi } from 'vitest';
import type { Workers } from '../../src/web/workers.js';
import { serverForTests } from './serverForTests.js';

// Sheets of entries measure photos again: how many do so at once, and for how long. The threads here do nothing until they are ended.

const held: AbortSignal[] = [];
const waiting: Workers = {
  longThreads: 1,
  run: (_, __, { signal }) =>
    new Promise((___, fail) => {
      if (signal === undefined) throw new Error('this would never end');
      held.push(signal);
      signal.addEventListener('abort', () => {
        fail(new Error('ended'));
      });
    }),
  close: () => Promise.resolve(),
};
const server = serverForTests(() => ({ workers: waiting, logbook: 'nowhere' }));

test('few sheets are drawn at once, and each is ended for whoever goes away', async () => {
  await server().listen({ port: 0, host: '127.0.0.1' });
  const { port } = server().server.address() as AddressInfo;
  const ask = (signal?: AbortSignal) =>
    fetch(`http://127.0.0.1:${port}/logbook/1/sheet.pdf`, signal === undefined ? {} : { signal });
  const leave = new AbortController();
  const gone = Array.from({ length: 4 }, () => ask(leave.signal).catch(() => 'gone'));
  await vi.waitUntil(() => held.length === 4);
  const fifth = await ask();
  expect([fifth.status, fifth.headers.get('retry-after')]).toEqual([503, '5']);
  leave.abort();
  expect(await Promise.all(gone)).toEqual(['gone', 'gone', 'gone', 'gone']);
  await vi.waitUntil(() => held.every(({ aborted }) => aborted));
  // There is room again.
  const again = new AbortController();
  const sixth = ask(again.signal).catch(() => 'gone');
  await vi.waitUntil(() => held.length === 5);
  again.abort();
  expect(await sixth).toBe('gone');
});
