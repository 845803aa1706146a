import { readdirSync, readFileSync, readlinkSync, writeFileSync, mkdtempSync, rmSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { argv } from 'node:process';
import { startServer, type RunningTool } from '../test/helpers/runningServer.js';
import { runTool } from '../test/helpers/runTool.js';
import { randomOf } from '../test/logbook/corrupt.js';
import { tinyPhoto } from '../test/logbook/sampleLogbook.js';
import { forgetPhoto, hostileRequest, sendRaw, type Target } from '../test/web/hostileRequests.js';

// What the server withstands, and how quick it is, as ratios within one run: npm run bench:serve [-- --requests N --only hostile].
// All of it on loopback. Writes docs/serve.json.

const REQUESTS = Number(argv[argv.indexOf('--requests') + 1]) || 20_000;
/** One half alone: `--only ratios` or `--only hostile`; the other stays as it stands in the file. */
const ONLY = argv.includes('--only') ? argv[argv.indexOf('--only') + 1] : undefined;
/** Connections at once, and how long one waits for an answer, ms. */
const AT_ONCE = 24;
const PATIENCE_MS = 20_000;
/** Those of test/web/hostile.test.ts are below. */
const FIRST_SEED = 500_000;
const OWN = { 'x-stillband': '1' };
const PHOTO = readFileSync('testimages/white-card.jpg');
const RECORD: unknown = JSON.parse(readFileSync('testimages/white-card.print.json', 'utf8'));

const folder = mkdtempSync(join(tmpdir(), 'stillband-bench-'));
// Its own place for temporary files, so that what it leaves there is known for its own.
const temp = mkdtempSync(join(tmpdir(), 'stillband-bench-temp-'));
const server = await startServer(['--port', '0', '--logbook', join(folder, 'logbook')], folder, {
  TMPDIR: temp,
});
try {
  const fresh = {
    machine: `${cpus()[0]?.model ?? 'unknown'}, ${String(cpus().length)} cores, node ${process.version}`,
    ...(ONLY === 'hostile'
      ? {}
      : { verdict: await verdict(), ping: await ping(), uploads: await uploadsAtOnce(50) }),
    ...(ONLY === 'ratios' ? {} : { hostile: await hostile() }),
  };
  const figures = { ...(ONLY === undefined ? {} : kept()), ...fresh };
  writeFileSync('docs/serve.json', `${JSON.stringify(figures, null, 2)}\n`);
  process.stdout.write(`${JSON.stringify(figures, null, 2)}\n`);
} finally {
  await server.stop();
  for (const one of [folder, temp]) rmSync(one, { recursive: true, force: true });
}

/** What stands in the file from an earlier run. */
function kept(): object {
  try {
    return JSON.parse(readFileSync('docs/serve.json', 'utf8')) as object;
  } catch {
    return {};
  }
}

async function upload(photo: Uint8Array): Promise<Response> {
  const body = new FormData();
  body.append('photo', new Blob([Buffer.from(photo)]), 'tower.jpg');
  return fetch(`${server.address}api/photos`, { method: 'POST', headers: OWN, body });
}

async function sentPhoto(photo: Uint8Array): Promise<string> {
  return ((await (await upload(photo)).json()) as { photo: { id: string } }).photo.id;
}

async function measured(photo: string): Promise<string> {
  const asked = await fetch(`${server.address}api/jobs`, {
    method: 'POST',
    headers: { ...OWN, 'content-type': 'application/json' },
    body: JSON.stringify({ kind: 'measure', photos: [photo], record: RECORD }),
  });
  const { id } = ((await asked.json()) as { job: { id: string } }).job;
  await (await fetch(`${server.address}api/jobs/${id}/events`)).text();
  const answer = await (await fetch(`${server.address}api/jobs/${id}`)).text();
  if (!answer.startsWith('{"state":"done"'))
    throw new Error(`the measurement ended as ${answer.slice(0, 300)}`);
  return id;
}

/** From the photo to the verdict, by the server and by the command, one after the other. */
async function verdict() {
  const ratios: number[] = [];
  // Threads start when they are first needed.
  await measured(await sentPhoto(PHOTO));
  for (let i = 0; i < 5; i += 1) {
    let start = performance.now();
    await measured(await sentPhoto(PHOTO));
    const serverMs = performance.now() - start;
    start = performance.now();
    await runTool(['measure', 'testimages/white-card.jpg', '--print', 'testimages/white-card.print.json']);
    ratios.push(serverMs / (performance.now() - start));
  }
  return { megapixels: 12.2, runs: ratios.length, serverToCommand: rounded(quantile(ratios, 0.5)) };
}

async function pings(count: number): Promise<number[]> {
  const times: number[] = [];
  for (let i = 0; i < count; i += 1) {
    const start = performance.now();
    await fetch(`${server.address}api/ping`);
    times.push(performance.now() - start);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
  return times;
}

/** A ping's time while all threads measure ÷ while nothing is done. */
async function ping() {
  const photo = await sentPhoto(PHOTO);
  await pings(100);
  const idle = await pings(400);
  const work = { isOver: false };
  const measuring = (async () => {
    for (let i = 0; i < 4; i += 1) await Promise.all([measured(photo), measured(photo)]);
    work.isOver = true;
  })();
  const busy: number[] = [];
  while (!work.isOver) busy.push(...(await pings(20)));
  await measuring;
  const p95 = { idle: quantile(idle, 0.95), measuring: quantile(busy, 0.95) };
  return {
    idlePings: idle.length,
    measuringPings: busy.length,
    p50Ratio: rounded(quantile(busy, 0.5) / quantile(idle, 0.5)),
    p95Ratio: rounded(p95.measuring / p95.idle),
  };
}

async function uploadsAtOnce(count: number) {
  const answers = await Promise.all(Array.from({ length: count }, () => upload(PHOTO)));
  const statuses: Record<string, number> = {};
  for (const answer of answers) {
    statuses[answer.status] = (statuses[answer.status] ?? 0) + 1;
    if (answer.status === 503 && answer.headers.get('retry-after') === null)
      throw new Error('no Retry-After');
    const { photo } = (await answer.json()) as { photo?: { id: string } };
    if (photo !== undefined)
      await fetch(`${server.address}api/photos/${photo.id}`, { method: 'DELETE', headers: OWN });
  }
  return { count, statuses };
}

/** Requests that nobody means well, many at once. */
async function hostile() {
  const photo = tinyPhoto(1);
  const id = await sentPhoto(photo);
  const job = await measured(await sentPhoto(PHOTO));
  const target: Target = {
    port: Number(new URL(server.address).port),
    photos: [id],
    jobs: [job],
    photo,
  };
  const before = { files: filesOf(folder), temp: filesOf(temp), open: openFiles(server) };
  const statuses: Record<string, number> = {};
  const kinds: Record<string, number> = {};
  const wrong: string[] = [];
  const megabytes: number[] = [];
  let next = 0;
  const worker = async (): Promise<void> => {
    while (next < REQUESTS) {
      const seed = FIRST_SEED + next;
      if (next % Math.ceil(REQUESTS / 10) === 0) megabytes.push(Math.round(residentBytes(server) / 1e6));
      next += 1;
      const request = hostileRequest(randomOf(seed), target);
      const answer = await sendRaw(target.port, request, PATIENCE_MS);
      const { status, head, body } = answer;
      await forgetPhoto(target, answer);
      kinds[request.kind] = (kinds[request.kind] ?? 0) + 1;
      statuses[status ?? 'closed'] = (statuses[status ?? 'closed'] ?? 0) + 1;
      if (status !== undefined && status >= 500 && !(status === 503 && /retry-after/i.test(head)))
        wrong.push(`${String(seed)}: ${request.kind} ${String(status)}`);
      if (/root:x:|"dependencies"|at .*\.js:\d+/.test(body))
        wrong.push(`${String(seed)}: ${request.kind} leaks`);
      if (status === undefined && !request.hangUp) unanswered.push(`${String(seed)}: ${request.kind}`);
    }
  };
  const unanswered: string[] = [];
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
  await new Promise((resolve) => setTimeout(resolve, 15_000));
  megabytes.push(Math.round(residentBytes(server) / 1e6));
  const after = { files: filesOf(folder), temp: filesOf(temp), open: openFiles(server) };
  const still = (await fetch(`${server.address}api/ping`)).status;
  return {
    requests: REQUESTS,
    kinds,
    statuses,
    wrong: wrong.slice(0, 40),
    unanswered: unanswered.slice(0, 40),
    residentMegabytes: megabytes,
    filesLeft: after.files.filter((name) => !before.files.includes(name)),
    tempFilesLeft: after.temp.filter((name) => !before.temp.includes(name)),
    openFilesMore: after.open - before.open,
    answersAfterwards: still,
    said: server.stderr().split('\n').slice(1, 8),
  };
}

function filesOf(path: string): readonly string[] {
  return readdirSync(path);
}

/** Open files and sockets of a process, as Linux tells them. */
function openFiles({ pid }: RunningTool): number {
  return readdirSync(`/proc/${String(pid)}/fd`).filter((fd) => {
    try {
      return readlinkSync(`/proc/${String(pid)}/fd/${fd}`) !== '';
    } catch {
      return false;
    }
  }).length;
}

function residentBytes({ pid }: RunningTool): number {
  const kilobytes = /VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${String(pid)}/status`, 'utf8'))?.[1];
  return 1024 * Number(kilobytes);
}

function quantile(values: readonly number[], share: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}

function rounded(value: number): number {
  return Number(value.toPrecision(3));
}
