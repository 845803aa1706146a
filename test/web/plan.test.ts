import { HtmlValidate } from 'html-validate';
import { expect, test } from 'vitest';
import { makePlan, makeTower, parsePrintRecord, planNeeds, planWords, towerOf } from '../../src/index.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { pageText } from '../helpers/pageText.js';
import { serverForTests } from './serverForTests.js';

const server = serverForTests();
const folder = tempFolder('file');
const withLogbook = serverForTests(() => ({ logbook: folder('logbook') }));

const TOLD = {
  maxAcceleration: '6000',
  maxSpeed: '200',
  layerHeight: '0.2',
  nozzle: '0.4',
  bed: '220x220',
  idea: '42,36',
  machine: '<b>north</b> bench',
};
const query = (more: Readonly<Record<string, string>> = {}) =>
  new URLSearchParams({ ...TOLD, ...more }).toString();
const valid = new HtmlValidate({ extends: ['html-validate:recommended'] });

test('the form asks for every limit, and says what is missing without losing what was typed', async () => {
  const { body, statusCode } = await server().inject('/plan');
  expect(statusCode).toBe(200);
  expect(body.match(/ required/g)).toHaveLength(5);
  expect(body).not.toContain('name="refine"');
  expect((await withLogbook().inject('/plan')).body).toContain('name="refine"');
  const missing = await server().inject('/plan?nozzle=0.4&machine=bench+7');
  expect(missing.statusCode).toBe(400);
  expect(missing.body).toMatch(/role="alert"[^]*largest acceleration that is safe[^]*size of the bed/);
  expect(pageText(missing.body)).not.toContain('--');
  expect(missing.body).toContain('value="bench 7"');
});

test('a plan tells what the command tells, and every text in it is escaped', async () => {
  const { body, statusCode } = await server().inject(`/plan?${query()}`);
  expect(statusCode).toBe(200);
  const plan = makePlan(planNeeds(TOLD));
  const words = planWords(plan);
  const said = pageText(body);
  for (const line of [
    ...words.expected,
    ...words.tower,
    ...words.set,
    ...words.why,
    ...words.photo,
    ...words.next,
  ]) {
    expect(said).toContain(line.replaceAll(/\s+/g, ' ').replaceAll(/ \((stillband|--)[^)]*\)/g, ''));
  }
  expect(body).not.toContain('<b>north');
  expect(body).toContain('value="&lt;b&gt;north&lt;/b&gt; bench"');
});

test('the files of a plan are those of the commands', async () => {
  const plan = makePlan(planNeeds(TOLD));
  const record = await server().inject(`/plan/record.json?${query({ axis: 'Y' })}`);
  expect(record.headers['content-disposition']).toBe('attachment; filename="tower.Y.print.json"');
  expect(parsePrintRecord(record.body)).toEqual(plan.records[1]);
  const tower = await server().inject(`/plan/tower.stl?${query()}`);
  expect(Buffer.compare(tower.rawPayload, makeTower(towerOf(plan.records[0]!)).stl)).toBe(0);
  const pdf = await server().inject(`/plan/checklist.pdf?${query()}`);
  expect(pdf.rawPayload.subarray(0, 5).toString()).toBe('%PDF-');
  const checklist = await server().inject(`/plan/checklist.html?${query()}`);
  expect(checklist.body).toContain('Put back afterwards');
  expect(checklist.headers['content-security-policy']).toContain("style-src 'sha256-");
  const card = await server().inject(`/plan/card.pdf?${query({ axis: 'X' })}`);
  expect(card.headers['content-type']).toBe('application/pdf');
  expect((await server().inject(`/plan/secret.txt?${query()}`)).statusCode).toBe(404);
});

test('an axis that is no file name does no harm', async () => {
  const told = query({ axes: '../a"b,Y', axis: '../a"b' });
  const { headers, statusCode } = await server().inject(`/plan/record.json?${told}`);
  expect(statusCode).toBe(200);
  expect(headers['content-disposition']).toBe('attachment; filename="tower...-a-b.print.json"');
});

test('an entry that the logbook does not have is told', async () => {
  const { body, statusCode } = await withLogbook().inject(`/plan?${query({ refine: '7' })}`);
  expect(statusCode).toBe(404);
  expect(body).toContain('role="alert"');
  const none = await server().inject(`/plan?${query({ refine: '7' })}`);
  expect(none.body).toContain('There is no logbook');
});

test('a tower by its size', async () => {
  const { body } = await server().inject('/tower?width=80&height=60&leadingCorner=right&slot=0.6');
  expect(pageText(body)).toContain('80.0 mm wide, 60.0 mm high'.replaceAll(' mm', ' mm'));
  const file = await server().inject('/tower/tower.stl?width=80&height=60&leadingCorner=right&slot=0.6');
  const slots = [{ centreFromLeadingCornerMm: 44, widthMm: 0.6 }];
  const { stl } = makeTower({ widthMm: 80, heightMm: 60, leadingCorner: 'right', slots });
  expect(Buffer.compare(file.rawPayload, stl)).toBe(0);
  const small = await server().inject('/tower?width=8&height=60');
  expect(small.statusCode).toBe(400);
  expect(small.body).toMatch(/role="alert"[^]*8 × 60 mm/);
});

test('a card, as PDF and as SVG', async () => {
  const { body } = await server().inject('/card?size=letter&machine=bench+7');
  expect(body).toContain('/card/card.pdf?size=letter&amp;machine=bench+7');
  const svg = await server().inject('/card/card.svg?size=card');
  expect(svg.body).toMatch(/^<svg /);
  expect((await server().inject('/card/card.pdf?size=a4')).rawPayload.subarray(0, 5).toString()).toBe(
    '%PDF-',
  );
  const wrong = await server().inject('/card?checkLength=long');
  expect(wrong.statusCode).toBe(400);
  expect(wrong.body).toContain('role="alert"');
});

test.each(['/plan', `/plan?${query()}`, '/plan?nozzle=x', '/tower?width=80&height=60', '/card?size=a4'])(
  '%s is valid HTML, every field has a label, and there is no script',
  async (url) => {
    const { body } = await server().inject(url);
    const report = await valid.validateString(body);
    expect(
      report.results.flatMap(({ messages }) => messages.map(({ message, line }) => `${line}: ${message}`)),
    ).toEqual([]);
    for (const [, id] of body.matchAll(/<(?:input|select) id="(\w+)"/g))
      expect(body).toContain(`<label for="${id}">`);
    expect(body).not.toContain('<script');
  },
);
