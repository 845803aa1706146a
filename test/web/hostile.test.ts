import { readdirSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { expect, test } from 'vitest';
import { LIMITS } from '../../src/web/limits.js';
import { randomOf } from '../logbook/corrupt.js';
import { tinyPhoto } from '../logbook/sampleLogbook.js';
import { forgetPhoto, hostileRequest, sendRaw } from './hostileRequests.js';
import { sent, serverForTests } from './serverForTests.js';

// A short run of scripts/benchServe.ts, whose figures of 20,000 requests are in docs/serve.json. Seeds 0 to 399.

const COUNT = 400;
const mistakes: unknown[] = [];
const server = serverForTests(() => ({
  limits: { ...LIMITS, stallMs: 500, arrivalMs: 2_000, headMs: 1_000 },
  tell: (error) => mistakes.push(error),
}));

test('requests that nobody means well are answered, refused or dropped, and the server goes on', async () => {
  const photo = tinyPhoto(1);
  const id = await sent(server(), photo);
  await server().listen({ port: 0, host: '127.0.0.1' });
  const { port } = server().server.address() as AddressInfo;
  const target = { port, photos: [id], jobs: [], photo };
  const before = readdirSync('.');
  const wrong: string[] = [];
  const seen = new Set<number | undefined>();
  let seed = 0;
  const send = async (): Promise<void> => {
    while (seed < COUNT) {
      const name = String(seed);
      const request = hostileRequest(randomOf(seed), target);
      seed += 1;
      const answer = await sendRaw(port, request, 20_000);
      const { status, head, body } = answer;
      await forgetPhoto(target, answer);
      seen.add(status);
      if (status !== undefined && status >= 500 && !(status === 503 && /retry-after/i.test(head)))
        wrong.push(`${name}: ${request.kind} ${String(status)}`);
      if (status === undefined && !request.hangUp) wrong.push(`${name}: ${request.kind} is not answered`);
      if (/root:x:|"dependencies"|\.js:\d+:\d+/.test(body)) wrong.push(`${name}: ${request.kind} leaks`);
    }
  };
  await Promise.all(Array.from({ length: 8 }, send));
  expect(wrong).toEqual([]);
  expect(mistakes).toEqual([]);
  // The drawn requests are not all turned away at the door.
  expect([...seen]).toEqual(expect.arrayContaining([200, 201, 202, 400, 401, 403, 404, 421]));
  expect(readdirSync('.')).toEqual(before);
  expect((await fetch(`http://127.0.0.1:${String(port)}/api/ping`)).status).toBe(204);
});

test('an upload that stands still is dropped, and its room is given back', async () => {
  const { port } = server().server.address() as AddressInfo;
  const head = `POST /api/photos HTTP/1.1\r\nHost: localhost\r\nx-stillband: 1\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 79000000\r\n\r\n--x\r\n`;
  const stalled = { kind: 'stalled', parts: [Buffer.from(head)], pauseMs: 0, hangUp: false };
  const answers = await Promise.all(Array.from({ length: 5 }, () => sendRaw(port, stalled, 10_000)));
  expect(answers.map(({ status }) => status)).toEqual(Array(5).fill(undefined));
  // Five of them are nearly all the room that there is.
  expect(await sent(server(), new Uint8Array(tinyPhoto(2)))).toMatch(/^[\da-f-]{36}$/);
  const again = await Promise.all(Array.from({ length: 5 }, () => sendRaw(port, stalled, 10_000)));
  expect(again.map(({ status }) => status)).toEqual(Array(5).fill(undefined));
});
