import { createHash } from 'node:crypto';
import type { InjectOptions } from 'fastify';
import { beforeAll, describe, expect, test } from 'vitest';
import {
  afterReport,
  afterSteps,
  decideReport,
  decideShapers,
  SHAPER_FAMILIES,
  saveReading,
} from '../../src/index.js';
import type { Reading } from '../../src/index.js';
import { readingOf } from '../decide/fixtures.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { tinyPhoto } from '../logbook/sampleLogbook.js';
import { bareRefusal, spacingOnlyReading } from '../report/fixtures.js';
import { pageText } from '../helpers/pageText.js';
import { OWN, serverForTests } from './serverForTests.js';

const folder = tempFolder('file');
const bare = serverForTests();
const withLogbook = serverForTests(() => ({ logbook: folder('logbook') }));
const server = serverForTests(() => ({ logbook: folder('later') }));

const Y = readingOf();
const X = readingOf({ axis: 'X', hz: 52.3, sd: 0.3 });
const LIMITS = { maxAcceleration: '5000', maxRounding: '0.2' };
const DECIDED = decideShapers([Y, X], {
  families: SHAPER_FAMILIES,
  maxAccelerationMmPerS2: 5000,
  maxRoundingMm: 0.2,
});

beforeAll(async () => {
  for (const [i, reading] of [Y, X].entries()) await saveIn(folder('logbook'), reading, i);
});

async function saveIn(logbook: string, reading: Reading, i: number): Promise<void> {
  const bytes = tinyPhoto(i + 1);
  const photo = { ...reading.photos[0]!, sha256: createHash('sha256').update(bytes).digest('hex') };
  const what = { reading: { ...reading, photos: [photo] }, photos: [{ bytes, name: 'tower.jpg' }] };
  await saveReading(logbook, what, new Date(Date.UTC(2026, 2, 14, 9, i)));
}

/** The entries that a form chooses, in its order. */
function checked(page: string): readonly (string | undefined)[] {
  return [...page.matchAll(/name="entry" id="[^"]*" value="(\d+)" checked/g)].map((match) => match[1]);
}

/** A form as a browser sends it: fields, and files that may be empty. */
function form(
  url: string,
  fields: readonly (readonly [string, string])[],
  files: readonly string[] = [],
): InjectOptions {
  const boundary = 'a-line-between';
  const parts = [
    ...fields.map(([name, value]) => `Content-Disposition: form-data; name="${name}"\r\n\r\n${value}`),
    ...files.map(
      (text, i) =>
        `Content-Disposition: form-data; name="file"; filename="${text === '' ? '' : `${String(i)}.json`}"\r\nContent-Type: application/json\r\n\r\n${text}`,
    ),
  ];
  return {
    method: 'POST',
    url,
    headers: { ...OWN, 'content-type': `multipart/form-data; boundary=${boundary}` },
    payload: `${parts.map((part) => `--${boundary}\r\n${part}\r\n`).join('')}--${boundary}--\r\n`,
  };
}

/** Every line of a report without its label. */
function linesOf(report: string): readonly string[] {
  return report.split('\n').flatMap((line) => {
    const text = line.slice(9).trim();
    return text === '' ? [] : [text.replaceAll(/ +/g, ' ')];
  });
}

const limits = Object.entries(LIMITS);
const json = (reading: Reading) => JSON.stringify(reading);

describe('by readings that are sent', () => {
  test('the page says what the command says, line for line', async () => {
    const answer = await bare().inject(form('/decide', limits, [json(Y), json(X)]));
    expect(answer.statusCode).toBe(200);
    const words = pageText(answer.body);
    // Where to go on is told by buttons.
    const told = linesOf(decideReport(DECIDED, false)).filter((line) => !/stillband after|--all/.test(line));
    expect(told.length).toBeGreaterThan(12);
    for (const line of told) expect(words).toContain(line);
    // A drawing for each axis, and no name twice.
    expect(answer.body.match(/class="drift"/g)).toHaveLength(2);
    const ids = [...answer.body.matchAll(/ id="([^"]*)"/g)].map((match) => match[1]);
    expect(new Set(ids).size).toBe(ids.length);
  });

  test('what comes after is that of the command, from the readings that the page keeps', async () => {
    const first = await bare().inject(form('/decide', limits, [json(Y), json(X)]));
    const kept = [...first.body.matchAll(/<textarea name="reading" hidden>([^<]*)<\/textarea>/g)].map(
      (match) =>
        match[1]!
          .replaceAll('&quot;', '"')
          .replaceAll('&#39;', "'")
          .replaceAll('&gt;', '>')
          .replaceAll('&lt;', '<')
          .replaceAll('&amp;', '&'),
    );
    // Once for the other page, once for other limits.
    expect(kept).toEqual([json(Y), json(X), json(Y), json(X)]);
    const fields = [...limits, ...kept.slice(0, 2).map((text) => ['reading', text] as const)];
    const answer = await bare().inject(form('/after', fields));
    const words = pageText(answer.body);
    for (const line of linesOf(afterReport(afterSteps(DECIDED)))) expect(words).toContain(line);
  });

  test('a refused reading has its reason, and nothing to enter', async () => {
    const answer = await bare().inject(form('/decide', [], [json(bareRefusal()), '']));
    expect(answer.statusCode).toBe(200);
    expect(pageText(answer.body)).toMatch(/no shaper can be chosen: its reading was refused .* too-coarse/);
  });

  test.each([
    ['nothing', [], [], /No reading is given/],
    ['what is no reading', [], ['{"schema":1}'], /The reading/],
    ['what is no JSON', [], ['tower'], /not valid JSON/],
    ['one axis twice', [], [json(Y), json(Y)], /two of them belong to axis Y/],
    ['an entry without a logbook', [['entry', '1']], [], /no such entry/],
  ] as const)('%s is told above the form', async (_, fields, files, says) => {
    const answer = await bare().inject(form('/decide', fields, files));
    expect(Math.floor(answer.statusCode / 100)).toBe(4);
    expect(pageText(answer.body)).toMatch(says);
    expect(answer.body).toContain('role="alert"');
    expect(answer.body).toContain('<form');
  });

  test('a limit that cannot be read is marked, and what was typed stays', async () => {
    const fields = [
      ['maxAcceleration', 'fast "<b>'],
      ['slot', '1.2'],
    ] as const;
    const answer = await bare().inject(form('/decide', fields, [json(Y)]));
    expect(answer.statusCode).toBe(400);
    expect(answer.body).toMatch(
      /id="maxAcceleration"[^>]*value="fast &quot;&lt;b&gt;"[^>]*aria-invalid="true"/,
    );
    expect(answer.body).toMatch(/id="slot"[^>]*value="1\.2"/);
    // The page speaks of its field, not of a flag.
    expect(pageText(answer.body)).toContain('“Highest acceleration, mm/s²” is given as');
    // The reading need not be chosen again.
    expect(answer.body).toContain('The readings that were sent are kept');
  });

  test('what is too large, or no form, is refused', async () => {
    const large = await bare().inject(form('/decide', [], ['x'.repeat(9_000_000)]));
    expect(large.statusCode).toBe(413);
    const long = await bare().inject(form('/decide', [['slot', '1'.repeat(3_000)]], [json(Y)]));
    expect(long.statusCode).toBe(413);
    const three = await bare().inject(form('/decide', [], [json(Y), json(X), json(X)]));
    expect(three.statusCode).toBe(413);
    const kept = ['reading', json(Y)] as const;
    const hidden = await bare().inject(form('/decide', [kept, kept, kept]));
    expect(hidden.statusCode).toBe(413);
    const none = await bare().inject({ method: 'POST', url: '/decide', headers: OWN, payload: { a: 1 } });
    expect(none.statusCode).toBe(400);
    const foreign = { ...form('/decide', [], [json(Y)]).headers, origin: 'http://elsewhere.example' };
    const elsewhere = await bare().inject({ ...form('/decide', [], [json(Y)]), headers: foreign });
    expect(elsewhere.statusCode).toBe(403);
  });
});

describe('by entries of the logbook', () => {
  test('the latest reading of each axis is offered, and the same numbers come out', async () => {
    const empty = await withLogbook().inject('/decide');
    const words = pageText(empty.body);
    expect(words).toContain('Axis Y of north bench 3: 41.0 Hz ± 0.4, one photo, of 2026-03-14, entry 1');
    expect(words).toContain('Axis X of north bench 3: 52.3 Hz ± 0.6, one photo, of 2026-03-14, entry 2');
    expect(checked(empty.body)).toEqual(['2', '1']);
    const entries = [
      ['entry', '1'],
      ['entry', '2'],
    ] as const;
    const answer = await withLogbook().inject(form('/decide', [...limits, ...entries]));
    const sent = await bare().inject(form('/decide', limits, [json(Y), json(X)]));
    const cards = (body: string) => body.match(/<section>[^]*?<\/section>/g)!.join('');
    expect(cards(answer.body)).toBe(cards(sent.body));
    // The logbook is read again for the other page: no reading goes to and fro.
    expect(answer.body).not.toContain('name="reading"');
    expect(answer.body.match(/type="hidden" name="entry" value="1"/g)).toHaveLength(2);
  });

  test('what was saved later and decides nothing hides no reading, and an address chooses', async () => {
    const logbook = folder('later');
    for (const [i, reading] of [Y, X, readingOf({ hz: 42.5 }), bareRefusal(), spacingOnlyReading()].entries())
      await saveIn(logbook, reading, i);
    const later = server();
    const { body } = await later.inject('/decide');
    expect(checked(body)).toEqual(['3', '2']);
    // The newest of each axis comes first.
    expect(body.indexOf('id="entry-3"')).toBeLessThan(body.indexOf('id="entry-1"'));
    expect(body).not.toMatch(/id="entry-[45]"/);
    expect(pageText(body)).toMatch(
      /Axis Y of north bench 3, newer, but nothing to decide by: entry 5 \(.* by spacing\), entry 4 \(refused: too-coarse\)\./,
    );
    const chosen = await later.inject('/after?entry=2&entry=1');
    expect(checked(chosen.body)).toEqual(['1', '2']);
  });

  test.each(['9', '1.5', 'x', ''])('there is no entry "%s"', async (entry) => {
    const answer = await withLogbook().inject(form('/after', [['entry', entry]]));
    expect(answer.statusCode).toBeGreaterThanOrEqual(400);
    expect(answer.statusCode).toBeLessThan(500);
    expect(answer.body).toContain('role="alert"');
  });
});

test.each(['/decide', '/after'])(
  '%s asks without anything, has a form that works without a script, and its cautions',
  async (url) => {
    const { body, headers } = await bare().inject(url);
    expect(body).toMatch(/<form method="post" action="[^"]*" enctype="multipart\/form-data">/);
    expect(body).not.toContain('<script');
    expect(body).toMatch(/never raise accelerations unattended/);
    expect(headers['content-security-policy']).toMatch(/script-src 'self'/);
    // Each field has a label and a hint of its own.
    for (const [, id] of body.matchAll(/<input id="([^"]+)"/g)) {
      expect(body).toContain(`<label for="${id!}">`);
      expect(body).toContain(`id="${id!}-help"`);
    }
  },
);
