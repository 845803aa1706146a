import { connect } from 'node:net';

/** Draws numbers from 0 to 1. */
type Random = () => number;

/** A request as it goes over the wire, which need not be one. */
export interface RawRequest {
  readonly kind: string;
  /** Sent one after the other, with a pause between. */
  readonly parts: readonly Uint8Array[];
  readonly pauseMs: number;
  /** The connection is closed by us after the last part, whatever comes. */
  readonly hangUp: boolean;
}

/** What came back. */
export interface RawAnswer {
  /** HTTP status; undefined where the connection was closed without one. */
  readonly status: number | undefined;
  readonly head: string;
  readonly body: string;
}

/** What a server has, so that some requests come near to being right. */
export interface Target {
  readonly port: number;
  /** Names of photos and of jobs that are there. */
  readonly photos: readonly string[];
  readonly jobs: readonly string[];
  /** A photo that can be read, as small as it gets. */
  readonly photo: Uint8Array;
}

const METHODS = ['GET', 'POST', 'PUT', 'DELETE', 'HEAD', 'OPTIONS', 'PATCH', 'TRACE', 'get', 'BREW'];
const HOSTS = [
  'evil.example',
  '127.0.0.1.evil.example',
  'localhost.evil.example:80',
  '169.254.1.1',
  '0.0.0.0',
  '[::2]',
  '',
  'localhost@evil.example',
  'xn--n3h.example',
];
const CLIMBS = [
  '../',
  '..%2f',
  '%2e%2e/',
  '..%5c',
  '....//',
  '%00',
  '%c0%ae%c0%ae/',
  '..;/',
  '/',
  '%',
  '%zz',
  '?',
  '#',
  'assets/',
  'api/',
];
const FILES = ['etc/passwd', 'package.json', 'worker.js', 'measure.js.map', '.env', 'logbook/log.jsonl', ''];

/**
 * Draws a request that a server has to withstand.
 * @param random - Draws numbers from 0 to 1.
 * @param target - The server.
 * @returns The request.
 */
export function hostileRequest(random: Random, target: Target): RawRequest {
  return pickFrom(random, KINDS)(random, target);
}

function pickFrom<T>(random: Random, list: readonly T[]): T {
  return list[Math.floor(list.length * random())]!;
}

type Kind = (random: Random, target: Target) => RawRequest;

const bytesOf = (text: string): Uint8Array => Buffer.from(text, 'latin1');

function whole(kind: string, text: string, body: Uint8Array = new Uint8Array(0)): RawRequest {
  return { kind, parts: [Buffer.concat([bytesOf(text), body])], pauseMs: 0, hangUp: false };
}

function head(target: Target, method: string, path: string, more: readonly string[] = []): string {
  const lines = [
    `${method} ${path} HTTP/1.1`,
    `Host: 127.0.0.1:${target.port}`,
    'Connection: close',
    ...more,
  ];
  return `${lines.join('\r\n')}\r\n\r\n`;
}

const OWN = 'x-stillband: 1';

function noise(random: Random, length: number): Uint8Array {
  return Uint8Array.from({ length }, () => Math.floor(256 * random()));
}

function form(random: Random, target: Target): { readonly boundary: string; readonly body: Uint8Array } {
  const boundary = pickFrom(random, ['x', '----b', 'a'.repeat(70), "it's(1)"]);
  const field = pickFrom(random, ['photo', 'photo', 'photo', 'other', '__proto__', '']);
  const name = pickFrom(random, [
    'a.jpg',
    '../../a.jpg',
    'a\\b\\..\\c',
    '\u0000.jpg',
    'n'.repeat(3000),
    '"; x="y',
  ]);
  const content = random() < 0.4 ? target.photo : noise(random, Math.floor(2000 * random()));
  const start = `--${boundary}\r\nContent-Disposition: form-data; name="${field}"; filename="${name}"\r\n\r\n`;
  const parts = Array.from({ length: random() < 0.85 ? 1 : 3 }, () => [
    bytesOf(start),
    content,
    bytesOf('\r\n'),
  ]);
  return { boundary, body: Buffer.concat([...parts.flat(), bytesOf(`--${boundary}--\r\n`)]) };
}

function formHead(target: Target, boundary: string, length: number | string): string {
  return head(target, 'POST', '/api/photos', [
    OWN,
    `Content-Type: multipart/form-data; boundary=${boundary}`,
    `Content-Length: ${length}`,
  ]);
}

function randomValue(random: Random, depth: number): unknown {
  const at = Math.floor(9 * random());
  if (depth > 0 && at === 0) return Array.from({ length: 4 }, () => randomValue(random, depth - 1));
  if (depth > 0 && at === 1) {
    return Object.fromEntries(
      Array.from({ length: 3 }, (_, i) => [
        pickFrom(random, ['kind', 'face', '__proto__', 'constructor', `k${i}`]),
        randomValue(random, depth - 1),
      ]),
    );
  }
  return [null, true, -1, 1e308, '', 'Y', '110', '../../x', '\u202e\u0000'][at];
}

function jobBody(random: Random, target: Target): unknown {
  if (random() < 0.3) return { kind: 'check', photos: [pickFrom(random, target.photos)] };
  const job: Record<string, unknown> = {
    kind: pickFrom(random, ['check', 'measure', 'measure', 'erase']),
    photos: Array.from({ length: pickFrom(random, [0, 1, 1, 1, 2, 20]) }, () =>
      pickFrom(random, [...target.photos, 'none', '']),
    ),
  };
  for (const name of [
    'fields',
    'record',
    'cornersPx',
    'cornersOf',
    'was',
    'spacingOnly',
    'penHeightMm',
    'x',
  ]) {
    if (random() < 0.3) job[name] = randomValue(random, 3);
  }
  if (random() < 0.3) job['fields'] = { axis: randomValue(random, 1), speed: '110', nosuch: 'x' };
  return job;
}

const KINDS: readonly Kind[] = [
  (random, target) => {
    const climbs = Array.from({ length: 1 + Math.floor(6 * random()) }, () => pickFrom(random, CLIMBS));
    const path = `/${random() < 0.5 ? 'assets/' : ''}${climbs.join('')}${pickFrom(random, FILES)}`;
    return whole('odd path', head(target, pickFrom(random, METHODS), path));
  },
  (random, target) => {
    const path = Buffer.from(noise(random, 1 + Math.floor(200 * random()))).toString('latin1');
    return whole('noise for a path', head(target, 'GET', `/${path.replaceAll(/[\r\n]/g, '')}`));
  },
  (random) =>
    whole('other host', `GET / HTTP/1.1\r\nHost: ${pickFrom(random, HOSTS)}\r\nConnection: close\r\n\r\n`),
  (random, target) =>
    whole(
      'other origin',
      head(target, 'POST', pickFrom(random, ['/api/jobs', '/api/photos', '/plan']), [
        `Origin: ${pickFrom(random, ['null', 'http://evil.example', 'file://', `https://127.0.0.1:${target.port}`])}`,
        'Content-Length: 0',
        ...(random() < 0.5 ? [OWN] : []),
      ]),
    ),
  (random, target) => {
    const { boundary, body } = form(random, target);
    return whole('form', formHead(target, boundary, body.length), body);
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const cut = body.subarray(0, Math.floor(body.length * random()));
    return whole('form that breaks off', formHead(target, boundary, cut.length), cut);
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const said = pickFrom(random, [
      body.length + 1000,
      1,
      -1,
      'many',
      1e15,
      '1e3',
      79e6,
      `${body.length}, 5`,
    ]);
    return { ...whole('wrong length', formHead(target, boundary, said), body), hangUp: true };
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const other = pickFrom(random, ['', 'y', `${boundary}x`, '"'.repeat(3)]);
    return whole('other boundary', formHead(target, other, body.length), body);
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const bytes = Buffer.from(body);
    for (let i = 0; i < 8; i += 1) bytes[Math.floor(bytes.length * random())] = Math.floor(256 * random());
    return whole('damaged form', formHead(target, boundary, bytes.length), bytes);
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const at = Math.floor(body.length * random());
    const parts = [bytesOf(formHead(target, boundary, body.length)), body.subarray(0, at), body.subarray(at)];
    const gone = random() < 0.5;
    return { kind: 'slow body', parts: gone ? parts.slice(0, 2) : parts, pauseMs: 20, hangUp: gone };
  },
  (random, target) => {
    const { boundary, body } = form(random, target);
    const size = pickFrom(random, [body.length.toString(16), 'zz', '-1', 'ffffffffffffffff', '5;x=y']);
    const more = [
      OWN,
      `Content-Type: multipart/form-data; boundary=${boundary}`,
      'Transfer-Encoding: chunked',
    ];
    if (random() < 0.3) more.push(`Content-Length: ${body.length}`);
    const text = head(target, 'POST', '/api/photos', more);
    const chunk = Buffer.concat([bytesOf(`${size}\r\n`), body, bytesOf('\r\n0\r\n\r\n')]);
    return { ...whole('chunks', text, chunk), hangUp: random() < 0.5 };
  },
  (random, target) => {
    const body = bytesOf(JSON.stringify(jobBody(random, target)));
    const more = [OWN, 'Content-Type: application/json', `Content-Length: ${body.length}`];
    return whole('job', head(target, 'POST', '/api/jobs', more), body);
  },
  (random, target) => {
    const text = pickFrom(random, ['{', '[]', 'null', '"x"', '['.repeat(20_000), '{"kind":"check",', '']);
    const body = random() < 0.2 ? noise(random, 500) : bytesOf(text);
    const type = pickFrom(random, [
      'application/json',
      'text/plain',
      'application/x-www-form-urlencoded',
      'x',
    ]);
    const more = [OWN, `Content-Type: ${type}`, `Content-Length: ${body.length}`];
    return whole('no JSON', head(target, 'POST', '/api/jobs', more), body);
  },
  (random, target) => {
    const id = pickFrom(random, [...target.jobs, ...target.photos, 'x', '..', '%2e%2e', 'n'.repeat(500)]);
    const file = pickFrom(random, [
      '',
      '/events',
      '/sheet.html',
      '/sheet.pdf?paper=x',
      '/reading.json',
      '/save',
      '/x',
    ]);
    const method = pickFrom(random, ['GET', 'GET', 'DELETE', 'POST']);
    return { ...whole('job by name', head(target, method, `/api/jobs/${id}${file}`, [OWN])), hangUp: true };
  },
  (random, target) => {
    const id = pickFrom(random, [...target.photos, 'x', '..%2f']);
    const width = pickFrom(random, ['-1', '0', '1e9', 'x', '8', '8&width=9', '']);
    return whole('copy of a photo', head(target, 'GET', `/api/photos/${id}/view.jpg?width=${width}`));
  },
  (random) =>
    whole(
      'noise',
      Buffer.from(noise(random, 1 + Math.floor(400 * random()))).toString('latin1') + '\r\n\r\n',
    ),
  (random, target) => {
    const many = Array.from({ length: 300 }, (_, i) => `x-${i}: ${'v'.repeat(Math.floor(80 * random()))}`);
    return whole('many headers', head(target, 'GET', '/', many));
  },
  (random, target) =>
    whole(
      'key',
      head(target, 'GET', `/open?key=${pickFrom(random, ['', 'x', 'a&key=b', '%00', 'k'.repeat(5000)])}`),
    ),
];

/**
 * Takes away a photo that one of the requests happened to send, so that there is room for the next ones.
 * @param target - The server.
 * @param answer - What came back.
 */
export async function forgetPhoto({ port, photos }: Target, { status, body }: RawAnswer): Promise<void> {
  const id = /"id":"([\da-f-]{36})"/.exec(body)?.[1];
  if (status !== 201 || id === undefined || photos.includes(id)) return;
  await fetch(`http://127.0.0.1:${port}/api/photos/${id}`, {
    method: 'DELETE',
    headers: { 'x-stillband': '1' },
  });
}

/**
 * Sends a request as it is, and reads what comes back.
 * @param port - Where the server listens, on loopback.
 * @param request - The request.
 * @param patienceMs - How long to wait for an answer.
 * @returns The answer.
 */
export function sendRaw(port: number, request: RawRequest, patienceMs: number): Promise<RawAnswer> {
  return new Promise((resolve) => {
    const chunks: Uint8Array[] = [];
    const socket = connect(port, '127.0.0.1');
    const finish = (): void => {
      socket.destroy();
      const text = Buffer.concat(chunks).toString('latin1');
      const status = /^HTTP\/1\.1 (\d{3})/.exec(text)?.[1];
      const at = text.indexOf('\r\n\r\n');
      resolve({
        status: status === undefined ? undefined : Number(status),
        head: text.slice(0, Math.max(0, at)),
        body: at < 0 ? '' : text.slice(at + 4),
      });
    };
    socket.setTimeout(patienceMs, finish);
    socket.on('data', (chunk) => chunks.push(chunk));
    socket.on('error', finish);
    socket.on('close', finish);
    const write = (i: number): void => {
      const part = request.parts[i];
      if (socket.destroyed) return;
      if (part === undefined) {
        // Long enough that the server has read what there is.
        if (request.hangUp) setTimeout(finish, 10);
        return;
      }
      socket.write(part, () =>
        setTimeout(() => {
          write(i + 1);
        }, request.pauseMs),
      );
    };
    socket.on('connect', () => {
      write(0);
    });
  });
}
