import { afterAll, beforeAll } from 'vitest';
import type { FastifyInstance, InjectOptions, LightMyRequestResponse } from 'fastify';
import type { Assets } from '../../src/web/assets.js';
import { buildServer, type ServerParts } from '../../src/web/buildServer.js';
import * as tasks from '../../src/web/worker.js';
import { unpacked, type TaskOutput, type Workers } from '../../src/web/workers.js';

/** The tasks themselves, in this thread: the threads around them are tested in test/whole/serve.test.ts. */
export const inThisThread: Workers = {
  longThreads: 1,
  run: async (name, input) => {
    const run = tasks[name] as (task: unknown) => Promise<tasks.Answer<unknown>>;
    return unpacked(await run(input)) as TaskOutput<typeof name>;
  },
  close: () => Promise.resolve(),
};

/** Files of a page, as small as they get. */
const ASSETS: Assets = new Map([
  ['measure.js', { type: 'text/javascript; charset=utf-8', data: Buffer.from('export {};'), etag: '"m"' }],
  ['style.css', { type: 'text/css; charset=utf-8', data: Buffer.from('main{margin:0}'), etag: '"s"' }],
]);

/** What the page's own script sends with what changes something. */
export const OWN = { 'x-stillband': '1' };

/**
 * A server without a port, for all tests of a file.
 * @param parts - Asked for when the tests begin: what is other than usual.
 * @returns The server.
 */
export function serverForTests(parts: () => Partial<ServerParts> = () => ({})): () => FastifyInstance {
  let app: FastifyInstance | undefined;
  beforeAll(async () => {
    app = buildServer({ workers: inThisThread, assets: ASSETS, ...parts() });
    await app.ready();
  });
  afterAll(() => app?.close());
  return () => {
    if (app === undefined) throw new Error('the server is there in tests only');
    return app;
  };
}

/**
 * The request that sends a photo as a form, as a browser does.
 * @param bytes - The photo.
 * @param name - What it is called.
 * @returns Options for `inject`.
 */
export function photoForm(bytes: Uint8Array, name: string): InjectOptions {
  const boundary = 'a-line-between';
  const head = `--${boundary}\r\nContent-Disposition: form-data; name="photo"; filename="${name}"\r\nContent-Type: image/jpeg\r\n\r\n`;
  const payload = Buffer.concat([Buffer.from(head), bytes, Buffer.from(`\r\n--${boundary}--\r\n`)]);
  return {
    method: 'POST',
    url: '/api/photos',
    headers: {
      ...OWN,
      'content-type': `multipart/form-data; boundary=${boundary}`,
      'content-length': String(payload.length),
    },
    payload,
  };
}

/**
 * Sends a photo.
 * @param app - The server.
 * @param bytes - The photo.
 * @param name - What it is called.
 * @returns The name under which it is asked for.
 */
export async function sent(app: FastifyInstance, bytes: Uint8Array, name = 'tower.jpg'): Promise<string> {
  const answer = await app.inject(photoForm(bytes, name));
  return answer.json<{ photo: { id: string } }>().photo.id;
}

/**
 * Asks for a job and waits until it is finished.
 * @param app - The server.
 * @param body - What is asked for.
 * @returns The answer to the request, the job's name, and what became of it.
 */
export async function finished(
  app: FastifyInstance,
  body: unknown,
): Promise<{ readonly id: string; readonly events: string; readonly answer: LightMyRequestResponse }> {
  const asked = await app.inject({ method: 'POST', url: '/api/jobs', headers: OWN, payload: body as object });
  if (asked.statusCode !== 202) throw new Error(asked.body);
  const { id } = asked.json<{ job: { id: string } }>().job;
  const { body: events } = await app.inject(`/api/jobs/${id}/events`);
  return { id, events, answer: await app.inject(`/api/jobs/${id}`) };
}
