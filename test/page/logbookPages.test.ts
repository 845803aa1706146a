import { beforeAll, expect, test } from 'vitest';
import { pairEntries } from '../../src/index.js';
import { saveNote } from '../../src/logbook/saveReading.js';
import { look, servedPage } from '../helpers/servedPage.js';
import { saveFrequency } from '../logbook/sampleLogbook.js';
import { expectSound } from './soundPage.js';

// Logbook, trend and comparison in a browser: no violation of WCAG 2.2 A and AA that axe-core finds, light and dark; nothing is lost
// at 320 px (1.4.10) and with text of twice the size (1.4.4). What they say is tested in test/web/logbook.test.ts.

const served = servedPage();

beforeAll(async () => {
  const { logbook } = served();
  await saveFrequency(logbook, 1, { axis: 'Y', hz: 41 });
  await saveFrequency(logbook, 2, { axis: 'X', hz: 52 });
  await saveFrequency(logbook, 3, { axis: 'Y', hz: 43.2, changed: ['belt-tension'] });
  await saveNote(logbook, { note: 'new feet', about: 3 }, new Date(0));
  await pairEntries(logbook, { numbers: [2, 3] }, new Date(0));
});

test.each([
  'logbook',
  'logbook/3',
  'logbook/4',
  'logbook/5',
  'trend',
  'compare',
  'compare?before=1&after=3',
  'compare?before=1&after=2',
  'nowhere',
])('/%s is sound, and asks nobody else', async (path) => {
  const { page, requests } = await look(served());
  await page.goto(served().address + path, { waitUntil: 'networkidle' });
  await expectSound(page, path);
  const { address } = served();
  expect(requests.filter((url) => !url.startsWith(address) && !/^(data|blob):/.test(url))).toEqual([]);
  await page.close();
});

test('two entries are chosen and compared by keys alone', async () => {
  const { page } = await look(served());
  await page.goto(`${served().address}logbook`);
  await page.getByLabel('entry 1 is before the change').focus();
  await page.keyboard.press('Space');
  await page.getByLabel('entry 3 is after the change').focus();
  await page.keyboard.press('Space');
  await page.keyboard.press('Enter');
  await page.locator('h2.verdict').waitFor();
  expect(Object.fromEntries(new URL(page.url()).searchParams)).toEqual({ before: '1', after: '3' });
  await page.close();
});

test('a machine without a name is offered as such', async () => {
  const { page } = await look(served());
  const known = (await (await page.request.get(`${served().address}api/session`)).json()) as object;
  await page.route('**/api/session', (route) =>
    route.fulfill({ json: { ...known, machines: [{ axis: 'Y', record: { axis: 'Y' } }] } }),
  );
  await page.reload();
  const offered = await page.getByLabel('Begin with').innerText();
  expect(offered).toContain('a machine without a name, axis Y');
  await page.close();
});
