import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { parsePrintRecord } from '../../src/index.js';
import { photoPath } from '../helpers/measured.js';
import { OWN, serverForTests } from './serverForTests.js';

const server = serverForTests();
const text = readFileSync(photoPath('white-card.print.json'), 'utf8');

const asked = (payload: object, headers: Record<string, string> = OWN) =>
  server().inject({ method: 'POST', url: '/api/record', headers, payload });

test('a record with what was changed in it comes back complete and checked', async () => {
  const answer = await asked({ record: JSON.parse(text) as object, fields: { speed: '95' } });
  expect(answer.json()).toEqual({ record: { ...parsePrintRecord(text), speedMmPerS: 95 } });
});

test('what is missing or impossible is told as on the command line', async () => {
  const answer = await asked({ fields: { axis: 'Y' } });
  expect(answer.statusCode).toBe(400);
  expect(answer.json()).toMatchObject({ error: { code: 'record-field' } });
  const speed = await asked({ record: JSON.parse(text) as object, fields: { speed: '6600' } });
  expect(speed.json()).toMatchObject({ error: { code: 'record-field', field: 'speedMmPerS' } });
});

test('a field that no record has, and a page that is not ours, are refused', async () => {
  expect((await asked({ fields: { colour: 'red' } })).json()).toMatchObject({ error: { code: 'usage' } });
  expect((await asked({ fields: {} }, {})).statusCode).toBe(403);
});
