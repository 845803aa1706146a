import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { startBrowser } from '../helpers/browser.js';
import { photoPath } from '../helpers/measured.js';
import { startServer } from '../helpers/runningServer.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

// The built server as a process, with its threads.

const folder = tempFolder('file');
const OWN = { 'x-stillband': '1' };

async function sendPhoto(address: string, name: string): Promise<string> {
  const body = new FormData();
  body.append('photo', new Blob([readFileSync(photoPath(name))]), name);
  const answer = await fetch(`${address}api/photos`, { method: 'POST', headers: OWN, body });
  return ((await answer.json()) as { photo: { id: string } }).photo.id;
}

async function ask(address: string, body: unknown): Promise<string> {
  const answer = await fetch(`${address}api/jobs`, {
    method: 'POST',
    headers: { ...OWN, 'content-type': 'application/json' },
    body: JSON.stringify(body),
  });
  expect(answer.status).toBe(202);
  return ((await answer.json()) as { job: { id: string } }).job.id;
}

const RECORD = JSON.parse(readFileSync(photoPath('white-card.print.json'), 'utf8')) as unknown;

describe('on this machine', () => {
  test('the first line is the address, and the reading is the one of the command', async () => {
    const server = await startServer(['--port', '0', '--logbook', folder('logbook')]);
    expect(server.address).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/$/);
    const photo = await sendPhoto(server.address, 'white-card.jpg');
    const id = await ask(server.address, { kind: 'measure', photos: [photo], record: RECORD });
    const events = await (await fetch(`${server.address}api/jobs/${id}/events`)).text();
    // A comment keeps a stream open that says nothing for long.
    expect(events.replaceAll(':\n\n', '')).toBe('event: running\ndata: {}\n\nevent: done\ndata: {}\n\n');
    const file = async (name: string) => (await fetch(`${server.address}api/jobs/${id}/${name}`)).text();
    const print = photoPath('white-card.print.json');
    const args = ['measure', photoPath('white-card.jpg'), '--print', print];
    const sheet = folder('command.html');
    expect(await file('reading.json')).toBe((await runTool([...args, '--json', '--sheet', sheet])).stdout);
    expect(await file('picture.svg')).toBe((await runTool([...args, '--svg', '-'])).stdout);
    expect(await file('sheet.html')).toBe(readFileSync(sheet, 'utf8'));
    expect(await server.stop()).toBe(0);
    expect(server.stderr()).toBe('Ctrl+C ends it.\n');
  });

  test('Ctrl+C ends it in the middle of a measurement, and nothing is half saved', async () => {
    const logbook = folder('interrupted');
    const server = await startServer(['--port', '0', '--logbook', logbook]);
    const photo = await sendPhoto(server.address, 'white-card.jpg');
    const id = await ask(server.address, { kind: 'measure', photos: [photo], record: RECORD });
    const stream = fetch(`${server.address}api/jobs/${id}/events`).then((answer) => answer.text());
    await new Promise((resolve) => setTimeout(resolve, 500));
    const before = performance.now();
    expect(await server.stop('SIGINT')).toBe(130);
    // A measurement takes seconds: it was not waited for. The limit is a generous one, not a measurement of speed.
    expect(performance.now() - before).toBeLessThan(10_000);
    await stream.catch(() => 'broken off');
    expect((await runTool(['logbook', 'list', '--logbook', logbook])).exitCode).toBe(66);
  });

  test('a port that is taken, and one that is none, are told in plain words', async () => {
    const server = await startServer(['--port', '0']);
    const { port } = new URL(server.address);
    const second = await runTool(['serve', '--port', port]);
    expect(second).toMatchObject({ exitCode: 65, stdout: '' });
    expect(second.stderr).toMatch(/cannot be opened at port \d+: something else answers there already/);
    expect(second.stderr).toContain('(cannot-listen)');
    await server.stop();
    expect(await runTool(['serve', '--port', '70000'])).toMatchObject({ exitCode: 64, stdout: '' });
  });
});

test('in the network each link lets one browser in', async () => {
  const server = await startServer(['--port', '0', '--lan']);
  const link = new URL(server.address);
  expect(link.pathname + link.search).toMatch(/^\/open\?key=[\w-]{22}$/);
  const site = link.origin;
  expect((await fetch(`${site}/`)).status).toBe(401);
  expect((await fetch(link, { method: 'HEAD' })).status).toBe(404);
  const opened = await fetch(link);
  expect(opened.status).toBe(200);
  const cookie = opened.headers.get('set-cookie') ?? '';
  expect(cookie).toMatch(/^stillband=[\w-]{44}; Path=\/; HttpOnly; SameSite=Strict$/);
  expect((await fetch(`${site}/`, { headers: { cookie: cookie.split(';')[0] ?? '' } })).status).toBe(200);
  expect((await fetch(`${site}/`, { headers: { cookie: 'stillband=x' } })).status).toBe(401);
  // Used up; the terminal has another one.
  expect((await fetch(link)).status).toBe(401);
  const [, next] = /The next one:\n(\S+)/.exec(server.stderr()) ?? [];
  expect((await fetch(next ?? '')).status).toBe(200);
  // This machine needs none.
  expect((await fetch(`http://127.0.0.1:${link.port}/`)).status).toBe(200);
  expect(server.stderr()).toContain('plain http');
  await server.stop();
});

test('the page runs in a browser under its own policy, with nothing from elsewhere', async () => {
  const server = await startServer(['--port', '0']);
  const browser = await startBrowser();
  try {
    const page = await browser.newPage();
    const said: string[] = [];
    page.on('console', (message) => said.push(message.text()));
    page.on('pageerror', (error) => said.push(error.message));
    const asked: string[] = [];
    page.on('request', (request) => asked.push(request.url()));
    await page.goto(server.address, { waitUntil: 'networkidle' });
    expect(await page.title()).toBe('Measure · stillband');
    expect(said).toEqual([]);
    expect(asked.filter((url) => !url.startsWith(server.address))).toEqual([]);
  } finally {
    await browser.close();
    await server.stop();
  }
});

test('npm pack would publish the page', () => {
  const root = fileURLToPath(new URL('../..', import.meta.url));
  const listed = execFileSync('npm', ['pack', '--dry-run', '--json', '--ignore-scripts'], { cwd: root });
  const [pack] = JSON.parse(listed.toString()) as [{ files: { path: string }[] }];
  const paths = pack.files.map(({ path }) => path);
  expect(paths).toEqual(
    expect.arrayContaining([
      'dist/page/measure.js',
      'dist/page/style.css',
      'dist/page/icon.svg',
      'dist/web/worker.js',
    ]),
  );
});
