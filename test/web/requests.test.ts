import { describe, expect, test } from 'vitest';
import { LIMITS } from '../../src/web/limits.js';
import { tinyPhoto } from '../logbook/sampleLogbook.js';
import { buildServer } from '../../src/web/buildServer.js';
import { inThisThread, OWN, photoForm, sent, serverForTests } from './serverForTests.js';

// What is asked for wrongly, and what is too much.

const mistakes: unknown[] = [];
const server = serverForTests(() => ({
  limits: { ...LIMITS, bytes: 5000, photos: 4 },
  tell: (error) => mistakes.push(error),
}));

const NAMES: readonly (readonly [given: string, kept: string])[] = [
  ['../../etc/passwd', 'passwd'],
  ['C:\\photos\\tower.jpg', 'tower.jpg'],
  ['a\u202egpj.exe', 'agpj.exe'],
  ['<b>.jpg', '<b>.jpg'],
  ['..', 'photo'],
  ['', 'photo'],
  ['n'.repeat(300), 'n'.repeat(120)],
];

test.each(NAMES)('a photo called "%s" is called "%s"', async (given, kept) => {
  const { photo } = (await server().inject(photoForm(tinyPhoto(1), given))).json<{
    photo: { id: string; name: string; bytes: number };
  }>();
  expect(photo).toMatchObject({
    name: kept,
    bytes: tinyPhoto(1).length,
    widthPx: 1,
    heightPx: 1,
    card: null,
  });
  const gone = { method: 'DELETE', url: `/api/photos/${photo.id}`, headers: OWN } as const;
  expect((await server().inject(gone)).statusCode).toBe(204);
  expect((await server().inject(gone)).statusCode).toBe(404);
});

describe('a photo', () => {
  test('that is too large is not taken, and leaves no room taken', async () => {
    for (let i = 0; i < 6; i += 1) {
      const answer = await server().inject(photoForm(new Uint8Array(80_000), 'large.jpg'));
      expect(answer.statusCode).toBe(413);
      const hidden = await server().inject(photoForm(new Uint8Array(20_000), 'large.jpg'));
      expect(hidden.statusCode).toBe(413);
      expect(hidden.json()).toMatchObject({ error: { code: 'too-large' } });
    }
  });

  test.each([
    ['without its length', { 'content-length': 'x' }, 411],
    ['as something else', { 'content-type': 'image/jpeg' }, 415],
    ['without a boundary', { 'content-type': 'multipart/form-data' }, 400],
    ['with another boundary', { 'content-type': 'multipart/form-data; boundary=other' }, 400],
    ['without our header', { 'x-stillband': '0', origin: 'http://localhost:80' }, 400],
  ])('sent %s is refused', async (_, headers, status) => {
    const form = photoForm(tinyPhoto(1), 'tower.jpg');
    const answer = await server().inject({ ...form, headers: { ...form.headers, ...headers } });
    expect([answer.statusCode, answer.json<{ error: { code: string } }>().error.code]).toEqual([
      status,
      'request-invalid',
    ]);
  });

  test.each(['other', '__proto__', ''])('in a field called "%s" is refused', async (field) => {
    const form = photoForm(tinyPhoto(1), 'tower.jpg');
    const payload = Buffer.from(
      (form.payload as Buffer).toString('latin1').replace('name="photo"', `name="${field}"`),
      'latin1',
    );
    const headers = { ...form.headers, 'content-length': String(payload.length) };
    expect((await server().inject({ ...form, payload, headers })).statusCode).toBe(400);
  });

  test('that breaks off is refused, at whichever byte', async () => {
    const form = photoForm(tinyPhoto(1), 'tower.jpg');
    const whole = form.payload as Buffer;
    for (let end = 0; end < whole.length - 4; end += 37) {
      const payload = whole.subarray(0, end);
      const headers = { ...form.headers, 'content-length': String(end) };
      expect((await server().inject({ ...form, payload, headers })).statusCode, String(end)).toBe(400);
    }
  });

  test('more than there is room for are to be sent later', async () => {
    const ids: string[] = [];
    for (let i = 0; i < 4; i += 1) ids.push(await sent(server(), tinyPhoto(i)));
    const answer = await server().inject(photoForm(tinyPhoto(9), 'tower.jpg'));
    expect(answer.statusCode).toBe(503);
    expect(answer.headers['retry-after']).toBe('5');
    for (const id of ids) {
      await server().inject({ method: 'DELETE', url: `/api/photos/${id}`, headers: OWN });
    }
  });

  test('can be looked at, no wider than it is and than a screen', async () => {
    const id = await sent(server(), tinyPhoto(1));
    const view = (width: string) => server().inject(`/api/photos/${id}/view.jpg?width=${width}`);
    const jpeg = await view('2400');
    expect(jpeg.headers['content-type']).toBe('image/jpeg');
    expect([...jpeg.rawPayload.subarray(0, 3)]).toEqual([0xff, 0xd8, 0xff]);
    for (const width of ['2401', '0', '-1', '1.5', 'x', '8&width=9'])
      expect((await view(width)).statusCode).toBe(400);
    expect((await server().inject('/api/photos/none/view.jpg')).statusCode).toBe(404);
    await server().inject({ method: 'DELETE', url: `/api/photos/${id}`, headers: OWN });
  });
});

describe('a job', () => {
  const ask = (body: unknown) =>
    server().inject({ method: 'POST', url: '/api/jobs', headers: OWN, payload: body as object });
  const codeOf = async (body: unknown): Promise<unknown> => {
    const answer = await ask(body);
    const { error } = answer.json<{ error: { code: string; field?: string } }>();
    return [answer.statusCode, error.code, ...(error.field === undefined ? [] : [error.field])];
  };

  test('that cannot be understood is refused', async () => {
    const bad = [
      {},
      [],
      { kind: 'erase', photos: ['x'] },
      { kind: 'check', photos: [] },
      { kind: 'check', photos: 'x' },
      { kind: 'check', photos: ['x'], cornersPx: [[1, 2]] },
      { kind: 'check', photos: ['x'], unknown: 1 },
      { kind: 'check', photos: ['x'], fields: { axis: 1 } },
    ];
    for (const body of bad) expect(await codeOf(body)).toEqual([400, 'request-invalid']);
    const text = {
      method: 'POST',
      url: '/api/jobs',
      headers: { ...OWN, 'content-type': 'text/plain' },
    } as const;
    expect((await server().inject({ ...text, payload: '{}' })).statusCode).toBe(415);
    expect((await server().inject({ method: 'POST', url: '/api/jobs', headers: OWN })).statusCode).toBe(400);
    expect((await ask({ kind: 'x'.repeat(300_000), photos: [] })).statusCode).toBe(413);
  });

  test('has the codes of the command, told before anything is measured', async () => {
    const photos = [await sent(server(), tinyPhoto(1))];
    expect(await codeOf({ kind: 'measure', photos: ['gone'] })).toEqual([404, 'not-found']);
    expect(await codeOf({ kind: 'measure', photos })).toEqual([400, 'usage']);
    expect(await codeOf({ kind: 'measure', photos, fields: { nosuch: '1' } })).toEqual([400, 'usage']);
    expect(await codeOf({ kind: 'measure', photos, fields: { speed: 'fast' } })).toEqual([
      400,
      'usage',
      'speedMmPerS',
    ]);
    // An empty field of a form is not told.
    expect(await codeOf({ kind: 'measure', photos, fields: { axis: 'Y', speed: ' ' } })).toEqual([
      400,
      'record-field',
      'speedMmPerS',
    ]);
    expect(await codeOf({ kind: 'measure', photos, record: { schema: 'x' } })).toEqual([
      400,
      'record-field',
      'schema',
    ]);
    expect(await codeOf({ kind: 'measure', photos, fields: { axis: 'Y' }, was: '41' })).toEqual([
      400,
      'usage',
    ]);
    expect(await codeOf({ kind: 'measure', photos, cameraStill: true })).toEqual([400, 'request-invalid']);
  });

  test('that there is none of has neither result nor files', async () => {
    for (const file of [
      '',
      '/events',
      '/sheet.html',
      '/sheet.pdf',
      '/reading.json',
      '/heights.csv',
      '/picture.svg',
    ]) {
      expect((await server().inject(`/api/jobs/none${file}`)).statusCode, file).toBe(404);
    }
    const save = { method: 'POST', url: '/api/jobs/none/save', headers: OWN } as const;
    expect((await server().inject(save)).statusCode).toBe(404);
  });
});

test('a form of a page of ours gives its fields, each with one value', async () => {
  const app = buildServer({ workers: inThisThread, assets: new Map() });
  app.post('/echo', (request) => ({ got: request.body }));
  const headers = { 'content-type': 'application/x-www-form-urlencoded', origin: 'http://localhost:80' };
  const answer = await app.inject({
    method: 'POST',
    url: '/echo',
    headers,
    payload: 'a=1&b=%C2%B1+2&a=3',
  });
  expect(JSON.stringify(answer.json<{ got: unknown }>().got)).toBe('{"a":"3","b":"± 2"}');
  await app.close();
});

test('none of this was a mistake of ours', () => {
  expect(mistakes).toEqual([]);
});
