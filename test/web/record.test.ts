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

test('all that is wrong so far is told at once, each at its field; what is missing is no mistake', async () => {
  const faults = async (payload: object) => {
    const answer = await server().inject({
      method: 'POST',
      url: '/api/record/faults',
      headers: OWN,
      payload,
    });
    return answer.json<{ faults: { field: string; message: string }[] }>().faults;
  };
  const wrong = { layerHeight: '0,2', speed: '6600', shaper: 'ZVX', ladder: 'linear', axis: 'Y' };
  expect((await faults({ fields: wrong })).map(({ field }) => field).sort()).toEqual([
    'layerHeightMm',
    'shaper.family',
    'speedMmPerS',
  ]);
  expect(await faults({ fields: { axis: 'Y', speed: '110' } })).toEqual([]);
  expect(await faults({ record: JSON.parse(text) as object, fields: {} })).toEqual([]);
  const both = await faults({ record: JSON.parse(text) as object, fields: { speed: '6600', axis: '' } });
  expect(both.map(({ field }) => field).sort()).toEqual(['axis', 'speedMmPerS']);
});
