import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Browser } from 'playwright-core';
import { startBrowser } from '../helpers/browser.js';
import { startServer, type RunningTool } from '../helpers/runningServer.js';
import { expectSound } from './soundPage.js';

// Planning, towers and cards in a browser: no violation of WCAG 2.2 A and AA that axe-core finds, light and dark; nothing is
// lost at 320 px (1.4.10) and with text of twice the size (1.4.4); a plan is made by keyboard alone.

let server: RunningTool;
let browser: Browser;

beforeAll(async () => {
  server = await startServer(['--port', '0']);
  browser = await startBrowser();
}, 60_000);

afterAll(async () => {
  await browser.close();
  await server.stop();
});

const PLAN = 'maxAcceleration=6000&maxSpeed=200&layerHeight=0.2&nozzle=0.4&bed=220x220';

test.each(['plan', `plan?${PLAN}`, 'plan?nozzle=x', 'tower?width=80&height=60', 'card?size=a4'])(
  '/%s is sound',
  async (path) => {
    const page = await browser.newPage();
    await page.goto(server.address + path);
    await expectSound(page, path);
    await page.close();
  },
);

test('a plan is made by keyboard alone, and its tower is taken', async () => {
  const page = await browser.newPage();
  await page.goto(`${server.address}plan`);
  for (const [label, value] of [
    ['Largest safe acceleration, mm/s²', '6000'],
    ['Largest safe print speed, mm/s', '200'],
    ['Layer height, mm', '0.2'],
    ['Width of the nozzle, mm', '0.4'],
    ['Bed, width x depth, mm', '220x220'],
  ] as const) {
    await page.getByLabel(label).focus();
    await page.keyboard.type(value);
  }
  await page.keyboard.press('Enter');
  await page.waitForURL(/maxSpeed=200/);
  expect(await page.locator('.verdict').innerText()).toMatch(/^expected ± \d\.\d+.Hz at 36.Hz/);
  const taken = page.waitForEvent('download');
  await page.getByRole('link', { name: 'the tower (STL, mm)' }).focus();
  await page.keyboard.press('Enter');
  expect((await taken).suggestedFilename()).toBe('tower.stl');
  await page.close();
});
