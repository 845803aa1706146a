import axe from 'axe-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Browser } from 'playwright-core';
import { pairEntries } from '../../src/index.js';
import { startBrowser } from '../helpers/browser.js';
import { pdfPages } from '../helpers/pdfPages.js';
import { startServer, type RunningTool } from '../helpers/runningServer.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { saveFrequency } from '../logbook/sampleLogbook.js';

// The pages of the logbook in a browser: no violation of WCAG 2.2 A and AA that axe-core finds, light and dark; nothing is
// lost at 320 px (1.4.10); all can be done by keyboard; printed, they have what they say and none of the links.

const folder = tempFolder('file');
let server: RunningTool;
let browser: Browser;

beforeAll(async () => {
  const book = folder('logbook');
  await saveFrequency(book, 1, { axis: 'Y', hz: 41 });
  await saveFrequency(book, 2, { axis: 'X', hz: 52 });
  await saveFrequency(book, 3, { axis: 'Y', hz: 43.2, changed: ['belt-tension'] });
  await pairEntries(book, { numbers: [2, 3] }, new Date(0));
  server = await startServer(['--port', '0', '--logbook', book]);
  browser = await startBrowser();
}, 60_000);

afterAll(async () => {
  await browser.close();
  await server.stop();
});

const PAGES = ['logbook', 'logbook/3', 'logbook/4', 'trend', 'compare', 'compare?before=1&after=3'];
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

test.each(PAGES)('/%s is sound, light and dark, and fits a narrow screen', async (path) => {
  for (const colorScheme of ['light', 'dark'] as const) {
    const page = await browser.newPage({ colorScheme, viewport: { width: 1200, height: 900 } });
    const problems: string[] = [];
    page.on('console', (message) => message.type() === 'error' && problems.push(message.text()));
    await page.goto(server.address + path);
    await page.evaluate(axe.source);
    const found = await page.evaluate<readonly { id: string; nodes: readonly { html: string }[] }[]>(
      `axe.run(document, { runOnly: ${JSON.stringify(TAGS)} }).then(({ violations }) => violations)`,
    );
    expect(found.map(({ id, nodes }) => [id, nodes.map(({ html }) => html)])).toEqual([]);
    // Nothing that the server's own policy forbids is in a page.
    expect(problems).toEqual([]);
    await page.setViewportSize({ width: 320, height: 600 });
    expect(await page.evaluate<number>('document.documentElement.scrollWidth')).toBeLessThanOrEqual(320);
    await page.close();
  }
});

test('two entries are chosen and compared by keyboard alone', async () => {
  const page = await browser.newPage();
  await page.goto(`${server.address}logbook`);
  await page.getByRole('radio', { name: 'entry 1 is before the change' }).focus();
  await page.keyboard.press('Space');
  await page.getByRole('radio', { name: 'entry 3 is after the change' }).focus();
  await page.keyboard.press('Space');
  await page.keyboard.press('Enter');
  await page.waitForURL(/\/compare\?/);
  expect(await page.getByRole('heading', { level: 2 }).textContent()).toMatch(/^Axis Y, 41\.0/);
  await page.close();
});

test('an entry printed has its numbers, and neither links to other pages nor buttons', async () => {
  const page = await browser.newPage();
  await page.goto(`${server.address}logbook/3`);
  const text = (await pdfPages(await page.pdf({ format: 'A4' }))).map((one) => one.text).join('\n');
  expect(text).toMatch(/Axis Y: 43\.2/);
  expect(text).toMatch(/What this cannot show/i);
  expect(text).not.toMatch(/Sheet with pictures|Trend/);
  await page.close();
});
