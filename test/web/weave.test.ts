import { readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { connect, type AddressInfo } from 'node:net';
import { fileURLToPath } from 'node:url';
import { HtmlValidate } from 'html-validate';
import type { FastifyInstance, InjectOptions } from 'fastify';
import { afterEach, describe, expect, test } from 'vitest';
import { buildServer } from '../../src/web/buildServer.js';
import { LIMITS } from '../../src/web/limits.js';
import type { Workers } from '../../src/web/workers.js';
import { runCli } from '../cli/ioForTests.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { pageText } from '../helpers/pageText.js';
import { inThisThread, OWN, serverForTests } from './serverForTests.js';

// The numbers of reading and weaving are held against outside values in test/job; here the page is held against the command.

const example = (name: string) => fileURLToPath(new URL(`../../examples/${name}`, import.meta.url));
const JOB = readFileSync(example('short-tower.job'));
const RECORD = readFileSync(example('short-tower.print.json'), 'utf8');
const TEMPLATE = 'CALM {axis} {hz}';
const PATTERN = String.raw`CALM (?<axis>\w+) (?<hz>[0-9.]+)`;
const WEAVE = { do: 'weave', template: TEMPLATE, limitHz: '10-150' };

const temp = tempFolder('file');
const at = tempFolder('test');
const server = serverForTests(() => ({ tempFolder: temp() }));
const valid = new HtmlValidate({ extends: ['html-validate:recommended'] });

interface SentFile {
  readonly field?: string;
  readonly name?: string;
  readonly data: string | Uint8Array;
}

const BOUNDARY = 'a-line-between';

/** A form as a browser sends it; files come first, as they stand in the page. */
function body(fields: Readonly<Record<string, string>>, files: readonly SentFile[]): Buffer {
  return Buffer.concat([
    ...files.flatMap(({ field = 'job', name = 'tower.job', data }) => [
      Buffer.from(
        `--${BOUNDARY}\r\nContent-Disposition: form-data; name="${field}"; filename="${name}"\r\nContent-Type: application/octet-stream\r\n\r\n`,
      ),
      Buffer.from(data),
      Buffer.from('\r\n'),
    ]),
    ...Object.entries(fields).map(([name, value]) =>
      Buffer.from(`--${BOUNDARY}\r\nContent-Disposition: form-data; name="${name}"\r\n\r\n${value}\r\n`),
    ),
    Buffer.from(`--${BOUNDARY}--\r\n`),
  ]);
}

const TYPE = `multipart/form-data; boundary=${BOUNDARY}`;

function form(fields: Readonly<Record<string, string>>, files: readonly SentFile[]): InjectOptions {
  const payload = body(fields, files);
  const headers = { ...OWN, 'content-type': TYPE, 'content-length': String(payload.length) };
  return { method: 'POST', url: '/weave', headers, payload };
}

const BOTH: readonly SentFile[] = [
  { data: JOB },
  { field: 'record', name: 'short-tower.print.json', data: RECORD },
];

/** Every line of a report without its label. */
function linesOf(report: string): readonly string[] {
  return report.split('\n').flatMap((line) => {
    const text = line.slice(9).trim();
    // A page has fields where the command has flags.
    const said = text.replaceAll('--facing', '“Where the face looks to, degrees from X”');
    return text === '' ? [] : [said.replaceAll(/ +/g, ' ')];
  });
}

function left(): readonly string[] {
  return readdirSync(temp());
}

async function expectNothingLeft(): Promise<void> {
  await expect.poll(left, { timeout: 10_000 }).toEqual([]);
}

// A download's file goes when it has been sent, a moment after its answer is there.
afterEach(expectNothingLeft);

describe('weaving', () => {
  test.each(['layer', 'band'])(
    'a copy in each %s has the same bytes as the command writes',
    async (every) => {
      const answer = await server().inject(form({ ...WEAVE, every }, BOTH));
      expect(answer.statusCode).toBe(200);
      expect(answer.headers).toMatchObject({
        'content-type': 'application/octet-stream',
        'content-disposition': 'attachment; filename="tower-woven.job"',
        'content-length': String(answer.rawPayload.length),
        'cache-control': 'no-store',
      });
      const paths = [example('short-tower.job'), '--print', example('short-tower.print.json')];
      const told = ['--template', TEMPLATE, '--limit-hz', '10-150', '--every', every];
      expect((await runCli(['weave', ...paths, ...told, '--out', at('woven.job')])).exitCode).toBe(0);
      expect(answer.rawPayload.equals(readFileSync(at('woven.job')))).toBe(true);
      await expectNothingLeft();
    },
  );

  test('the record may be told by fields, and spaces of the template stay', async () => {
    const fields = { axis: 'Y', speed: '110', layerHeight: '0.2', leadingCorner: 'left', faceWidth: '84' };
    const ladder = {
      ladder: 'linear',
      fromHz: '30',
      toHz: '50',
      firstLayer: '4',
      lastLayer: '59',
      layers: '60',
    };
    const told = { ...WEAVE, ...fields, ...ladder, template: ' CALM {hz}  ' };
    const answer = await server().inject(form(told, [{ data: JOB }]));
    expect(answer.statusCode).toBe(200);
    expect(answer.body.match(/^ CALM \d\d\.\d{3} {2}$/gm)).toHaveLength(56);
    // What stands in a field wins over the record, as a flag does.
    const other = await server().inject(form({ ...WEAVE, axis: 'X' }, BOTH));
    expect(other.body.match(/^CALM X /gm)).toHaveLength(56);
  });

  test('what would be put in is shown as the command tells it', async () => {
    const { body: page, statusCode } = await server().inject(form({ ...WEAVE, do: 'show' }, BOTH));
    expect(statusCode).toBe(200);
    const paths = [example('short-tower.job'), '--print', example('short-tower.print.json')];
    const told = ['--template', TEMPLATE, '--limit-hz', '10-150', '--out', at('woven.job')];
    const { out } = await runCli(['weave', ...paths, ...told]);
    const said = pageText(page);
    expect(said).toContain('56 lines of yours would be put in');
    expect(linesOf(out).length).toBeGreaterThan(8);
    for (const line of linesOf(out).slice(1)) expect(said).toContain(line);
    expect(left()).toEqual([]);
  });
});

describe('reading', () => {
  test('says what the command says, line for line, and gives the filled record', async () => {
    const woven = (await server().inject(form(WEAVE, BOTH))).rawPayload;
    const fields = {
      axis: 'Y',
      acceleration: '6000',
      cornerSpeed: '6',
      frequencyLine: PATTERN,
      lineWidth: '0.4',
    };
    const answer = await server().inject(form({ do: 'read', ...fields }, [{ data: woven }]));
    expect(answer.statusCode).toBe(200);
    writeFileSync(at('woven.job'), woven);
    const flags = ['--axis', 'Y', '--acceleration', '6000', '--corner-speed', '6', '--line-width', '0.4'];
    const command = [
      'job',
      at('woven.job'),
      ...flags,
      '--frequency-line',
      PATTERN,
      '--out',
      at('filled.json'),
    ];
    const { out, exitCode } = await runCli(command);
    expect(exitCode).toBe(0);
    const said = pageText(answer.body);
    expect(said).toContain(out.split('\n')[0]!.replaceAll(/ {2,}/g, ' · '));
    expect(linesOf(out).length).toBeGreaterThan(10);
    expect(said).not.toMatch(/--[a-z]/);
    for (const line of linesOf(out).slice(1)) expect(said).toContain(line);
    const [, filled = ''] =
      /href="data:application\/json;charset=utf-8,([^"]*)" download/.exec(answer.body) ?? [];
    expect(decodeURIComponent(filled.replaceAll('&#39;', "'"))).toBe(readFileSync(at('filled.json'), 'utf8'));
    expect(left()).toEqual([]);
  });
});

describe('mistakes', () => {
  const without = (name: string) => Object.fromEntries(Object.entries(WEAVE).filter(([one]) => one !== name));

  test.each([
    ['no limit', without('limitHz'), BOTH, 'limit-missing', 'limitHz'],
    ['a limit that is none', { ...WEAVE, limitHz: 'high "<b>' }, BOTH, 'usage', 'limitHz'],
    ['a value outside', { ...WEAVE, limitHz: '35-150' }, BOTH, 'limit-exceeded', 'limitHz'],
    [
      'an acceleration outside',
      { ...WEAVE, template: 'PUSH {acceleration}', limitAcceleration: '500-5000' },
      BOTH,
      'limit-exceeded',
      'limitAcceleration',
    ],
    ['no template', without('template'), BOTH, 'template-invalid', 'template'],
    ['a placeholder of nobody', { ...WEAVE, template: 'CALM {speed}' }, BOTH, 'template-invalid', 'template'],
    ['a line that moves', { ...WEAVE, template: 'G1 X{hz}' }, BOTH, 'template-invalid', 'template'],
    ['something else than layer or band', { ...WEAVE, every: 'hour' }, BOTH, 'usage', 'every'],
    ['no job', WEAVE, [{ data: '', name: '' }, BOTH[1]!], 'usage', 'job'],
    ['an empty job', WEAVE, [{ data: '' }, BOTH[1]!], 'file-empty', 'job'],
    ['a photo', WEAVE, [{ data: '\u0000\u0001PNG' }, BOTH[1]!], 'job-not-text', 'job'],
    ['a job of other layers', { ...WEAVE, layers: '61' }, BOTH, 'job-differs', 'job'],
    ['no record', WEAVE, [{ data: JOB }], 'usage', undefined],
    [
      'a record that is none',
      WEAVE,
      [{ data: JOB }, { field: 'record', data: '{' }],
      'record-not-json',
      'record',
    ],
    [
      'a record with a field of nobody',
      WEAVE,
      [{ data: JOB }, { field: 'record', data: RECORD.replace('"title"', '"heading"') }],
      'record-unknown-field',
      'record',
    ],
    ['a field that cannot be read', { ...WEAVE, layerHeight: 'thin' }, BOTH, 'usage', 'layerHeight'],
    ['a pattern that is none', { do: 'read', frequencyLine: '((' }, BOTH, 'pattern-invalid', 'frequencyLine'],
    ['an angle that is none', { do: 'read', facing: 'north' }, BOTH, 'usage', 'facing'],
  ] as const)('%s is told at its field, and what was typed stays', async (_, fields, files, code, field) => {
    const { body: page, statusCode } = await server().inject(form(fields, files));
    expect(statusCode).toBe(400);
    expect(page).toMatch(new RegExp(`role="alert"[^]*class="code">${code}<`));
    const wrong = [...page.matchAll(/ id="(\w+)"[^>]*aria-invalid="true" aria-describedby="wrong/g)];
    expect(wrong.map((match) => match[1])).toEqual(field === undefined ? [] : [field]);
    expect(page.match(/<strong id="wrong">/g) ?? []).toHaveLength(wrong.length);
    const typed = Object.entries(fields).filter(([name]) => !['do', 'every'].includes(name));
    for (const [name, value] of typed) {
      const kept = value.replaceAll('"', '&quot;').replaceAll('<', '&lt;').replaceAll('>', '&gt;');
      expect(page).toContain(`id="${name}" name="${name}" value="${kept}"`);
    }
    if (files.some((one) => 'field' in one)) expect(page).toMatch(/name="recordText" hidden>\{/);
    expect(page).not.toContain('<b>');
    expect(left()).toEqual([]);
  });

  test('the command says the same of it', async () => {
    const paths = [example('short-tower.job'), '--print', example('short-tower.print.json')];
    const told = ['--template', TEMPLATE, '--limit-hz', '35-150', '--out', at('woven.job')];
    const { err } = await runCli(['weave', ...paths, ...told]);
    const page = await server().inject(form({ ...WEAVE, limitHz: '35-150' }, BOTH));
    for (const line of err.replace('stillband: ', '').trim().split('\n').slice(0, 2)) {
      expect(pageText(page.body)).toContain(line);
    }
  });

  test('the record that is kept goes on, and a new file takes its place', async () => {
    const kept = { ...WEAVE, recordText: RECORD.replaceAll('\n', '\r\n') };
    const answer = await server().inject(
      form(kept, [{ data: JOB }, { field: 'record', name: '', data: '' }]),
    );
    expect(answer.body.match(/^CALM Y /gm)).toHaveLength(56);
    const other = { field: 'record', data: RECORD.replace('"axis": "Y"', '"axis": "X"') };
    const replaced = await server().inject(form(kept, [{ data: JOB }, other]));
    expect(replaced.body.match(/^CALM X /gm)).toHaveLength(56);
  });
});

test.each([
  ['../../etc/passwd', 'passwd-woven.job'],
  [String.raw`C:\prints\tall tower.nc`, 'tall-tower-woven.nc'],
  ['..', 'job-woven.job'],
  ['.hidden', 'job-woven.hidden'],
  ['a%0d%0aSet-Cookie: x=y.job', 'a-0d-0aSet-Cookie-x-y-woven.job'],
  ['\u202ebol.job', 'bol-woven.job'],
  ['Türme über alles.gcd', 'T-rme-ber-alles-woven.gcd'],
  ['n'.repeat(3000), `${'n'.repeat(120)}-woven.job`],
  ['a; filename=b.exe', 'a-filename-b-woven.exe'],
])('a job called %j comes back under a name that is no path', async (name, called) => {
  const answer = await server().inject(form(WEAVE, [{ data: JOB, name }, BOTH[1]!]));
  expect(answer.headers['content-disposition']).toBe(`attachment; filename="${called}"`);
});

describe('limits', () => {
  const small = serverForTests(() => ({
    tempFolder: temp(),
    limits: { ...LIMITS, jobFileBytes: 20_000, stallMs: 300, jobFileMs: 200 },
  }));

  test('what is too large, twice there, of another field, or no form, is refused', async () => {
    const cases: readonly (readonly [InjectOptions, number])[] = [
      [form(WEAVE, [{ data: Buffer.alloc(100_000, 'G') }]), 413],
      // Within what a form may add, but not within what a file may have.
      [form(WEAVE, [{ data: Buffer.alloc(30_000, ';\n') }]), 413],
      [form(WEAVE, [{ data: JOB }, { field: 'record', data: ' '.repeat(60_000) }]), 413],
      [form({ ...WEAVE, template: 'x'.repeat(3_000) }, BOTH), 413],
      [form(WEAVE, [{ data: 'G1\n' }, { data: 'G1\n' }]), 400],
      [form(WEAVE, [{ data: 'G1\n', field: '../job' }]), 400],
      [form(WEAVE, [{ data: 'G1\n', field: '__proto__' }]), 400],
      [form(Object.fromEntries(Array.from({ length: 60 }, (_, i) => [`f${String(i)}`, ''])), BOTH), 413],
      [{ method: 'POST', url: '/weave', headers: OWN, payload: { do: 'weave' } }, 400],
      [
        {
          ...form(WEAVE, BOTH),
          headers: { ...form(WEAVE, BOTH).headers, origin: 'http://elsewhere.example' },
        },
        403,
      ],
      [{ ...form(WEAVE, BOTH), payload: body(WEAVE, BOTH).subarray(0, 9_000) }, 400],
    ];
    for (const [i, [request, status]] of cases.entries()) {
      expect((await small().inject(request)).statusCode, String(i)).toBe(status);
      expect(left(), String(i)).toEqual([]);
    }
    const large = await server().inject(
      form(WEAVE, [{ data: JOB }, { field: 'record', data: ' '.repeat(300_000) }]),
    );
    expect(large.statusCode).toBe(413);
    expect(large.body).toContain('The print record is larger than is taken.');
    expect(left()).toEqual([]);
  });
});

describe('on the wire', () => {
  /** Reads and weaves nothing, and goes on until it is ended. */
  const hanging: Workers = {
    ...inThisThread,
    run: (_, __, { signal }) =>
      new Promise((_resolve, reject) => {
        signal?.addEventListener('abort', () => {
          reject(new Error('ended'));
        });
      }),
  };

  async function started(parts: Partial<Parameters<typeof buildServer>[0]>): Promise<FastifyInstance> {
    const app = buildServer({ workers: hanging, assets: new Map(), tempFolder: temp(), ...parts });
    await app.listen({ port: 0, host: '127.0.0.1' });
    return app;
  }

  const portOf = (app: FastifyInstance) => (app.server.address() as AddressInfo).port;
  const PAYLOAD = body(WEAVE, BOTH);

  /** Sends the beginning of a form, and leaves it at that. */
  function begun(app: FastifyInstance, bytes: number) {
    const socket = connect(portOf(app), '127.0.0.1');
    const head = `POST /weave HTTP/1.1\r\nHost: localhost\r\nx-stillband: 1\r\nContent-Type: ${TYPE}\r\nContent-Length: ${String(PAYLOAD.length)}\r\n\r\n`;
    const gone = new Promise<string>((resolve) => {
      let answer = '';
      socket.on('data', (chunk) => (answer += chunk.toString()));
      socket.on('error', () => undefined);
      socket.on('close', () => {
        resolve(answer);
      });
    });
    socket.write(Buffer.concat([Buffer.from(head), PAYLOAD.subarray(0, bytes)]));
    return { socket, gone };
  }

  /** Waits until a job file lies there, and tells its place. */
  async function arrived(): Promise<readonly [folder: string, file: string]> {
    await expect
      .poll(() => left().flatMap((name) => readdirSync(temp(name))), { timeout: 10_000 })
      .toHaveLength(1);
    const [name = ''] = left();
    const [file = ''] = readdirSync(temp(name));
    return [temp(name), temp(name, file)];
  }

  test.each([
    ['while the file arrives', 5_000],
    ['while it is read', PAYLOAD.length],
  ])('who goes away %s leaves no file; till then nobody else may read it', async (_, bytes) => {
    const app = await started({});
    const { socket } = begun(app, bytes);
    const [folder, file] = await arrived();
    expect(statSync(folder).mode & 0o777).toBe(0o700);
    expect(statSync(file).mode & 0o777).toBe(0o600);
    expect(file).toMatch(/stillband-job-\w{6}.[\da-f]{8}-[\da-f-]{27}$/);
    socket.destroy();
    await expectNothingLeft();
    await app.close();
  });

  test.each([5_000, PAYLOAD.length])('ending the server after %d bytes leaves no file', async (bytes) => {
    const app = await started({});
    begun(app, bytes);
    await arrived();
    await app.close();
    expect(left()).toEqual([]);
  });

  test('what stands still, or takes too long, is ended', async () => {
    const mistakes: unknown[] = [];
    const app = await started({
      limits: { ...LIMITS, stallMs: 300, jobFileMs: 300 },
      tell: (error) => mistakes.push(error),
    });
    const stalled = begun(app, 5_000);
    await arrived();
    await stalled.gone;
    await expectNothingLeft();
    const slow = await fetch(`http://127.0.0.1:${String(portOf(app))}/weave`, {
      method: 'POST',
      headers: { ...OWN, 'content-type': TYPE },
      body: new Uint8Array(PAYLOAD),
    });
    expect(slow.status).toBe(504);
    expect(await slow.text()).toContain('timed-out');
    await expectNothingLeft();
    expect(mistakes).toEqual([]);
    await app.close();
  });

  test('beyond two at once the next one is told to come again, and then has its turn', async () => {
    const app = await started({});
    const both = [begun(app, 5_000), begun(app, PAYLOAD.length)];
    await expect.poll(left, { timeout: 10_000 }).toHaveLength(2);
    const third = await fetch(`http://127.0.0.1:${String(portOf(app))}/weave`, {
      method: 'POST',
      headers: { ...OWN, 'content-type': TYPE },
      body: new Uint8Array(PAYLOAD),
    });
    expect([third.status, third.headers.get('retry-after')]).toEqual([503, '5']);
    expect(await third.text()).toContain('Other job files are being read');
    for (const { socket } of both) socket.destroy();
    await expectNothingLeft();
    const { socket } = begun(app, 5_000);
    await arrived();
    socket.destroy();
    await expectNothingLeft();
    await app.close();
  });
});

test.each([
  ['empty', undefined],
  ['read', form({ do: 'read', axis: 'Y' }, BOTH)],
  ['shown', form({ ...WEAVE, do: 'show' }, BOTH)],
  ['wrong', form({ ...WEAVE, limitHz: 'x', axis: '<i>' }, BOTH)],
])(
  'the page %s is valid HTML, every field has a label, cautions stand there, and no script',
  async (_, request) => {
    const { body: page, headers } = await server().inject(request ?? '/weave');
    const report = await valid.validateString(page);
    expect(
      report.results.flatMap(({ messages }) => messages.map(({ message, line }) => `${line}: ${message}`)),
    ).toEqual([]);
    const named = [...page.matchAll(/<(?:input|select)[^>]* id="(\w+)"/g)].map((match) => match[1]!);
    expect(named.length).toBeGreaterThan(20);
    for (const id of named) expect(page).toContain(`<label for="${id}">`);
    expect(page).not.toContain('<script');
    expect(headers['content-security-policy']).toMatch(/script-src 'self'/);
    const words = pageText(page);
    expect(words).toMatch(/stillband writes no command of its own/);
    expect(words).toMatch(/put the machine back to its own settings/);
    expect(words).toMatch(/stay beside the machine while it prints/);
  },
);
