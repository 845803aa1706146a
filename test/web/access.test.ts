import { describe, expect, test } from 'vitest';
import { Access, ownAddresses } from '../../src/web/access.js';
import { OWN, serverForTests } from './serverForTests.js';

// Who is answered. Rules for browsers: Fetch standard (Origin, Sec-Fetch-Site), RFC 6265bis (SameSite).

const server = serverForTests();

describe('under another name', () => {
  test.each([
    'evil.example',
    '127.0.0.1.evil.example',
    'localhost.evil.example:80',
    '0.0.0.0',
    '10.0.0.1',
    '[::2]',
    'localhost@evil.example',
    'localhost:80:80',
  ])('"%s" nobody is answered: a name server may lead it here', async (host) => {
    const answer = await server().inject({ url: '/', headers: { host } });
    expect(answer.statusCode).toBe(421);
    expect(answer.body).toContain('host-refused');
  });

  test.each(['localhost', 'localhost:8471', '127.0.0.1:1', '[::1]:8471', 'LOCALHOST:8471'])(
    '"%s" is this machine',
    async (host) => {
      expect((await server().inject({ url: '/', headers: { host } })).statusCode).toBe(200);
    },
  );

  test('the addresses of this machine in its networks are its own only where it is open to them', async () => {
    for (const address of ownAddresses()) {
      expect((await server().inject({ url: '/', headers: { host: `${address}:80` } })).statusCode).toBe(421);
    }
  });
});

describe('from another page', () => {
  const host = 'localhost:8471';
  const ask = async (method: 'GET' | 'POST' | 'DELETE', headers: Record<string, string>): Promise<number> =>
    (await server().inject({ method, url: '/api/jobs/none', headers: { host, ...headers } })).statusCode;

  test.each([
    ['another site', { origin: 'http://evil.example' }],
    ['another port of this machine', { origin: 'http://localhost:3000' }],
    ['the other name of this machine', { origin: 'http://127.0.0.1:8471' }],
    ['a document without an origin', { origin: 'null' }],
    ['the same name by another protocol', { origin: 'https://localhost:8471' }],
    ['one that forges our header', { origin: 'http://evil.example', ...OWN }],
  ])('%s: a request that changes something is refused', async (_, headers) => {
    expect(await ask('POST', headers)).toBe(403);
    expect(await ask('DELETE', headers)).toBe(403);
  });

  test('a form without an origin is refused, since no browser sends one so', async () => {
    expect(await ask('DELETE', {})).toBe(403);
  });

  test('our own script, and a program that says so, are answered', async () => {
    expect(await ask('DELETE', { origin: `http://${host}`, ...OWN })).toBe(404);
    expect(await ask('DELETE', OWN)).toBe(404);
  });

  test('a form of our own origin without the header cannot do what the script does', async () => {
    expect(await ask('DELETE', { origin: `http://${host}` })).toBe(400);
  });

  test('pictures and data are not for other sites, but a link to the page is followed', async () => {
    expect(await ask('GET', { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors' })).toBe(403);
    expect(await ask('GET', { 'sec-fetch-site': 'same-site', 'sec-fetch-mode': 'cors' })).toBe(403);
    const headers = { host, 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate' };
    expect((await server().inject({ url: '/', headers })).statusCode).toBe(200);
    expect(await ask('GET', { 'sec-fetch-site': 'same-origin', 'sec-fetch-mode': 'cors' })).toBe(404);
  });
});

describe('in a network', () => {
  let used = 0;
  const access = new Access(true, () => (used += 1));
  const lan = serverForTests(() => ({ access }));
  const from = { remoteAddress: '192.0.2.77', headers: { host: 'localhost' } };

  test.each(['/', '/api/session', '/api/photos/x/view.jpg', '/nowhere', '/assets/measure.js'])(
    '%s is not given to a browser that was not let in',
    async (url) => {
      const answer = await lan().inject({ ...from, url });
      expect(answer.statusCode).toBe(401);
      expect(answer.body).toContain('key-needed');
    },
  );

  test('a link lets one browser in, and only a look at it does not use it up', async () => {
    const first = access.link;
    expect((await lan().inject({ ...from, url: first, method: 'HEAD' })).statusCode).not.toBe(200);
    expect(access.link).toBe(first);
    const opened = await lan().inject({ ...from, url: first });
    expect(opened.statusCode).toBe(200);
    const [cookie] = opened.cookies;
    expect(cookie).toMatchObject({ name: 'stillband', httpOnly: true, sameSite: 'Strict', path: '/' });
    expect(opened.headers.refresh).toBe('0; url=/');
    expect(used).toBe(1);
    const cookies = { stillband: cookie?.value ?? '' };
    expect((await lan().inject({ ...from, url: '/', cookies })).statusCode).toBe(200);
    expect((await lan().inject({ ...from, url: first })).statusCode).toBe(401);
    expect(access.link).not.toBe(first);
    expect((await lan().inject({ ...from, url: access.link })).statusCode).toBe(200);
  });

  test.each(['/open', '/open?key=', '/open?key=x', '/open?key=a&key=b'])('%s lets nobody in', async (url) => {
    expect((await lan().inject({ ...from, url })).statusCode).toBe(401);
  });

  test('other cookies let nobody in', async () => {
    for (const cookie of ['stillband=', 'stillband=undefined', 'xstillband=1; stillband', '='.repeat(5000)]) {
      const headers = { ...from.headers, cookie };
      expect((await lan().inject({ ...from, url: '/', headers })).statusCode).toBe(401);
    }
  });

  test('the seventeenth browser sends the first one away', async () => {
    const tickets: string[] = [];
    for (let i = 0; i < 17; i += 1) {
      const [cookie] = (await lan().inject({ ...from, url: access.link })).cookies;
      tickets.push(cookie?.value ?? '');
    }
    const statuses = await Promise.all(
      [0, 1, 16].map(async (i) => {
        const cookies = { stillband: tickets[i] ?? '' };
        return (await lan().inject({ ...from, url: '/', cookies })).statusCode;
      }),
    );
    expect(statuses).toEqual([401, 200, 200]);
  });
});

describe('every answer', () => {
  test.each([
    '/',
    '/nowhere',
    '/api/nowhere',
    '/api/session',
    '/assets/style.css',
    '/assets/none.js',
    '/%zz',
  ])('%s tells browsers what they may do with it', async (url) => {
    const { headers } = await server().inject(url);
    expect(headers['content-security-policy']).toBe(
      "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    );
    expect(headers).toMatchObject({
      'x-content-type-options': 'nosniff',
      'x-frame-options': 'DENY',
      'cross-origin-resource-policy': 'same-origin',
      'cross-origin-opener-policy': 'same-origin',
      'referrer-policy': 'same-origin',
    });
    expect(headers).not.toHaveProperty('access-control-allow-origin');
    expect(headers['cache-control']).toBe(url === '/assets/style.css' ? 'no-cache' : 'no-store');
  });

  test('to a mistake is a page for people and JSON for scripts, with nothing of the request in it', async () => {
    const hostile = '/%3Cscript%3Ealert(1)%3C/script%3E';
    const page = await server().inject(hostile);
    expect(page.statusCode).toBe(404);
    expect(page.headers['content-type']).toBe('text/html; charset=utf-8');
    expect(page.body).not.toContain('alert');
    const json = await server().inject(`/api${hostile}`);
    expect(json.headers['content-type']).toMatch(/^application\/json/);
    expect(json.json()).toMatchObject({ error: { code: 'not-found' } });
    expect(json.body).not.toContain('alert');
  });
});

describe('files of the page', () => {
  test('are sent again only where they have changed', async () => {
    const first = await server().inject('/assets/style.css');
    expect(first.statusCode).toBe(200);
    const headers = { 'if-none-match': String(first.headers.etag) };
    expect((await server().inject({ url: '/assets/style.css', headers })).statusCode).toBe(304);
  });

  test.each([
    '/assets/',
    '/assets',
    '/assets/..%2fpackage.json',
    '/assets/../package.json',
    '/assets/%2e%2e%2fworker.js',
    '/assets/__proto__',
    '/assets/constructor',
    '/worker.js',
    '/web/worker.js',
  ])('%s is none', async (url) => {
    expect((await server().inject(url)).statusCode).toBe(404);
  });
});
