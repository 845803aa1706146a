import { HtmlValidate } from 'html-validate';
import { readdirSync, rmSync } from 'node:fs';
import { describe, expect, test, beforeAll } from 'vitest';
import { compareReport, compareReadings, logbookHead, pairEntries, readingOfEntry } from '../../src/index.js';
import { saveNote } from '../../src/logbook/saveReading.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { editReading, saveFrequency } from '../logbook/sampleLogbook.js';
import { pageText } from '../helpers/pageText.js';
import { serverForTests } from './serverForTests.js';

const folder = tempFolder('file');
const server = serverForTests(() => ({ logbook: folder('logbook') }));
const none = serverForTests();
const empty = serverForTests(() => ({ logbook: folder('new') }));

const HOSTILE = '"><script>alert(1)</script>';

beforeAll(async () => {
  const book = folder('logbook');
  await saveFrequency(book, 1, { axis: 'Y', hz: 41 });
  await saveFrequency(book, 2, { axis: 'X', hz: 52 });
  await saveFrequency(book, 3, { axis: 'Y', hz: 43.2, changed: ['belt-tension'] });
  await saveNote(book, { note: HOSTILE, about: 3 }, new Date(0));
  await pairEntries(book, { numbers: [2, 3] }, new Date(0));
  await saveFrequency(book, 6, { axis: 'Y', hz: 40, machine: 'south bench' });
});

async function pageOf(url: string): Promise<string> {
  const answer = await server().inject(url);
  expect([url, answer.statusCode, answer.headers['content-type']]).toEqual([
    url,
    200,
    'text/html; charset=utf-8',
  ]);
  expect(answer.body).not.toContain(HOSTILE);
  expect(answer.body).not.toContain(folder());
  // The policy of the server allows neither.
  expect(answer.body).not.toMatch(/<script(?! type="module")|style="/);
  const { results } = await new HtmlValidate({ extends: ['html-validate:recommended'] }).validateString(
    answer.body,
  );
  expect(results.flatMap(({ messages }) => messages.map(({ message }) => `${url}: ${message}`))).toEqual([]);
  return answer.body;
}

describe('the list', () => {
  test('has every entry, the newest first, with its result, and the head', async () => {
    const markup = await pageOf('/logbook');
    const numbers = [...markup.matchAll(/href="\/logbook\/(\d+)"/g)].map(([, number]) => Number(number));
    expect(numbers).toEqual([6, 5, 4, 3, 2, 1]);
    const text = pageText(markup);
    expect(text).toContain('43.2 Hz ± 0.4 changed: belt-tension');
    expect(text).toContain('pair: axis X 52.0 Hz ± 0.4 (entry 2), axis Y 43.2 Hz ± 0.4 (entry 3)');
    expect(text).toContain(logbookHead(folder('logbook')).root);
    // Notes and pairs are nothing to compare.
    expect(markup.match(/name="before"/g)).toHaveLength(4);
  });

  test('of one machine has its entries only', async () => {
    const markup = await pageOf('/logbook?machine=south+bench');
    expect(markup.match(/href="\/logbook\/\d+"/g)).toEqual(['href="/logbook/6"']);
    expect(markup).toMatch(/<option value="south bench" selected>/);
  });

  test('goes on where it ended', async () => {
    const markup = await pageOf('/logbook?skip=4');
    expect([...markup.matchAll(/href="\/logbook\/(\d+)"/g)].map(([, number]) => number)).toEqual(['2', '1']);
    expect(markup).toMatch(/<a href="\/logbook\?">Newer<\/a>/);
  });
});

describe('an entry', () => {
  test('says what it is and what was read, with its photo and its neighbours', async () => {
    const text = pageText(await pageOf('/logbook/3'));
    expect(text).toContain('Entry 3: 43.2 Hz ± 0.4');
    expect(text).toContain('This value belongs to axis Y');
    expect(text).toContain('changed before it belt-tension');
    const markup = await pageOf('/logbook/3');
    for (const link of ['/logbook/2', '/logbook/4', '/logbook/3/sheet.html', '/logbook/3/photo/1.jpg'])
      expect(markup).toContain(`"${link}"`);
  });

  test('that is a pair has X at the left of Y, and one that is a note says what is noted', async () => {
    const pair = pageText(await pageOf('/logbook/5'));
    expect(pair.indexOf('Axis X: 52.0 Hz')).toBeLessThan(pair.indexOf('Axis Y: 43.2 Hz'));
    expect(pageText(await pageOf('/logbook/4'))).toContain(`Entry 4: note on 3: ${HOSTILE}`);
  });

  test.each(['/logbook/0', '/logbook/7', '/logbook/x', '/logbook/1e3', '/logbook/1/photo/2.jpg'])(
    '%s is not there',
    async (url) => {
      expect((await server().inject(url)).statusCode).toBe(404);
    },
  );

  test('has a sheet with its head, whose style is allowed by its hash', async () => {
    const answer = await server().inject('/logbook/3/sheet.html');
    expect(answer.statusCode).toBe(200);
    expect(answer.body).toContain(logbookHead(folder('logbook')).root);
    expect(answer.headers['content-security-policy']).toMatch(/style-src 'sha256-/);
    const pdf = await server().inject('/logbook/5/sheet.pdf?paper=letter');
    expect(pdf.rawPayload.subarray(0, 5).toString()).toBe('%PDF-');
    expect((await server().inject('/logbook/3/sheet.html?paper=a5')).statusCode).toBe(400);
  });

  test('whose photo is gone is shown all the same', async () => {
    const photos = () => readdirSync(folder('logbook', 'entries', '000006-2026-03-14-south-bench-Y'));
    const photo = photos().find((name) => name.endsWith('.jpg'))!;
    expect((await server().inject('/logbook/6/photo/1.jpg')).headers['content-type']).toBe('image/jpeg');
    rmSync(folder('logbook', 'entries', '000006-2026-03-14-south-bench-Y', photo));
    expect(pageText(await pageOf('/logbook/6'))).toContain('40.0 Hz');
    expect((await server().inject('/logbook/6/photo/1.jpg')).statusCode).toBe(409);
  });
});

describe('the trend', () => {
  test('of a machine has each axis as chart and table, linked to its entries', async () => {
    const markup = await pageOf('/trend?machine=north+bench+3');
    const text = pageText(markup);
    expect(text).toContain('Axis Y: 43.2 Hz ± 0.4, moved up by 2.2 Hz ± 0.6 at entry 3');
    expect(markup.match(/class="trend"/g)).toHaveLength(4);
    expect(markup).toMatch(/href="\/logbook\/3">entry 3<\/a>/);
  });

  test('is that of the machine read last unless one is chosen', async () => {
    expect(pageText(await pageOf('/trend'))).toContain('Trend of south bench');
    expect(pageText(await pageOf('/trend?machine=nobody'))).toContain('No frequency of this machine');
  });
});

describe('a comparison', () => {
  test('says what the command says, and keeps what was asked', async () => {
    const markup = await pageOf('/compare?before=1&after=3&sameLight=yes');
    const [before, after] = [1, 3].map((number) => readingOfEntry(folder('logbook'), number));
    const report = compareReport(compareReadings([before!], [after!], { sameLight: true }));
    const text = pageText(markup).replaceAll(',', '');
    for (const line of report.trimEnd().split('\n')) {
      const [, said = ''] = /^(?:\w+)? +(.*)$/.exec(line) ?? [];
      expect(text).toContain(said.replaceAll(/ {2,}/g, ' ').replaceAll(',', ''));
    }
    expect(markup).toMatch(/value="yes" checked/);
    expect(markup).toMatch(/name="before" value="1"/);
  });

  test('is asked for by a form', async () => {
    expect(await pageOf('/compare')).toMatch(/<label for="before">/);
  });

  test.each([
    ['/compare?before=1&after=2', 400, /belong to the axes Y and X/],
    ['/compare?before=1&after=1', 400, /one photo stands on both sides/],
    ['/compare?before=4&after=1', 400, /Entry 4 of the logbook is a note/],
    ['/compare?before=x&after=1', 400, /is no number/],
    ['/compare?before=1&after=3&level=200', 400, /no share in percent/],
    ['/compare?before=1&after=99', 404, /no entry 99/],
  ])('%s is refused', async (url, status, message) => {
    const answer = await server().inject(url);
    expect([answer.statusCode, pageText(answer.body)]).toEqual([status, expect.stringMatching(message)]);
    // What was asked is asked again.
    const asked = new URL(url, 'http://localhost').searchParams.get('before') ?? '';
    expect(answer.body).toContain('role="alert"');
    expect(answer.body).toContain(`name="before" value="${asked}"`);
  });

  test('speaks of its field, not of a flag of the command', async () => {
    const text = pageText(await pageOf('/compare?before=1&after=3'));
    expect(text).not.toContain('--same-light');
  });
});

test.each(['/logbook', '/trend', '/compare'])('%s without a logbook says how to have one', async (url) => {
  const answer = await none().inject(url);
  expect([answer.statusCode, pageText(answer.body)]).toEqual([404, expect.stringContaining('--logbook')]);
});

test.each(['/logbook', '/trend'])('%s before anything was saved says so', async (url) => {
  const answer = await empty().inject(url);
  expect([answer.statusCode, pageText(answer.body)]).toEqual([
    200,
    expect.stringContaining('no entries yet'),
  ]);
});

describe('a reading that was edited by hand', () => {
  const damaged = serverForTests(() => ({ logbook: folder('damaged') }));

  test('is named where others are told, and refused by itself', async () => {
    await saveFrequency(folder('damaged'), 1, { axis: 'Y', hz: 41 });
    await saveFrequency(folder('damaged'), 2, { axis: 'X', hz: 52 });
    editReading(folder('damaged'), 2, ({ proposal }) => {
      if (proposal.state === 'proposed') proposal.frequencyHz = { ...proposal.frequencyHz, value: 70 };
    });
    const told = /entry 2's reading is not as it was saved\./;
    for (const [url, status] of [
      ['/logbook', 200],
      ['/trend', 200],
      ['/logbook/2', 409],
      ['/compare?before=1&after=2', 409],
    ] as const) {
      const answer = await damaged().inject(url);
      expect([url, answer.statusCode, pageText(answer.body)]).toEqual([
        url,
        status,
        expect.stringMatching(told),
      ]);
    }
    expect(pageText((await damaged().inject('/trend')).body)).toMatch(/Axis Y: .*41\.0/);
    // The axis that can be decided on is offered.
    const page = await damaged().inject('/decide');
    expect([page.statusCode, page.body.includes('52')]).toEqual([200, false]);
    expect(page.body).toMatch(/Axis Y of north bench 3/);
    expect(page.body).not.toMatch(/Axis X of north bench 3/);
  });
});
