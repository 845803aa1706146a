/**
 * Takes a picture of every page and state, as wide as a phone and as a desk, light and dark, into test/output/page; the
 * few that the README shows go to docs/page. Look at all of them after a change of the page.
 *
 *   npm run screenshots -- [states, or readme]
 */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import sharp from 'sharp';
import { startBrowser } from '../test/helpers/browser.js';
import { startServer } from '../test/helpers/runningServer.js';
import { DESK, give, load, look, measured, PHONE } from '../test/helpers/servedPage.js';

const at = (path: string) => fileURLToPath(new URL(`../${path}`, import.meta.url));
const ALL = at('test/output/page');
const SHOWN = at('docs/page');
/** As wide as the README shows them, for a sharp screen. */
const SHOWN_WIDTH_PX = 600;

const RECORD = at('docs/advice/print.json');
const photo = (name: string) => at(`docs/advice/${name}.jpg`);

/** What is done to reach each state. */
const STATES: Readonly<Record<string, (page: Page) => Promise<void>>> = {
  empty: () => Promise.resolve(),
  missing: async (page) => {
    await page.getByRole('button', { name: 'Measure' }).click();
  },
  busy: async (page) => {
    await page.setInputFiles('#input-choose', photo('good'));
    await page.locator('.stage').waitFor();
  },
  'no-size': async (page) => {
    await give(page, photo('good'));
  },
  'too-far': async (page) => {
    await load(page, RECORD);
    await give(page, photo('too-far'));
  },
  placing: async (page) => {
    await give(page, photo('blurred'));
    await page.getByRole('button', { name: 'Place top left' }).click();
  },
  found: async (page) => {
    await load(page, RECORD);
    await give(page, photo('good'));
  },
  dragged: async (page) => {
    await load(page, RECORD);
    await give(page, photo('good'));
    const corner = await page.locator('.corner').nth(1).boundingBox();
    if (corner === null) throw new Error('no corner is drawn');
    const [x, y] = [corner.x + corner.width / 2, corner.y + corner.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 20, y - 12, { steps: 4 });
    // The loupe shows the photo at a finer scale, which is fetched first.
    await page.waitForLoadState('networkidle');
  },
  proposed: async (page) => {
    await load(page, RECORD);
    await give(page, photo('good'));
    await measured(page);
  },
  saved: async (page) => {
    await load(page, RECORD);
    await give(page, photo('good'));
    await measured(page);
    await page.getByText('Save to the logbook').click();
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText(/^Saved as entry/).waitFor();
  },
  refused: async (page) => {
    await load(page, RECORD);
    await give(page, photo('light-from-front'));
    await measured(page);
  },
  proof: async (page) => {
    await load(page, at('testimages/proof/rising-acceleration.print.json'));
    await give(page, at('testimages/proof/rising-acceleration.jpg'));
    await measured(page);
  },
  error: async (page) => {
    await page.setInputFiles('#input-choose', at('docs/light.svg'));
    await page.locator('.look-verdict.error').waitFor();
  },
};

const folder = mkdtempSync(join(tmpdir(), 'stillband-'));
mkdirSync(ALL, { recursive: true });
mkdirSync(SHOWN, { recursive: true });
const { address, stop } = await startServer(['--port', '0', '--logbook', join(folder, 'logbook')]);
const browser = await startBrowser();
const wanted = process.argv.slice(2);
for (const [state, reach] of Object.entries(STATES)) {
  if (wanted.length > 0 && !wanted.includes(state)) continue;
  for (const [viewport, colorScheme] of [
    [PHONE, 'light'],
    [DESK, 'light'],
    [PHONE, 'dark'],
  ] as const) {
    const { page } = await look({ address, browser }, { viewport, colorScheme });
    await reach(page);
    // What is drawn anew for the size of the screen.
    await page.waitForTimeout(300);
    const path = join(ALL, `${state}-${viewport.width}-${colorScheme}.png`);
    await page.screenshot({ path, fullPage: true, animations: 'disabled' });
    process.stdout.write(`${path}\n`);
    await page.context().close();
  }
}
if (wanted.length === 0 || wanted.includes('readme')) await forReadme();
await browser.close();
await stop();
rmSync(folder, { recursive: true });

/** Three steps on a phone, as much of each as its screen shows. */
async function forReadme(): Promise<void> {
  const { page } = await look(
    { address, browser },
    { viewport: PHONE, deviceScaleFactor: 2, hasTouch: true },
  );
  const shoot = async (name: string) => {
    const png = await page.screenshot({ animations: 'disabled' });
    await sharp(png)
      .resize(SHOWN_WIDTH_PX)
      .webp({ quality: 82 })
      .toFile(join(SHOWN, `${name}.webp`));
  };
  await shoot('1-photograph');
  await load(page, RECORD);
  await give(page, photo('good'));
  await page.evaluate("document.querySelector('.look').scrollIntoView()");
  await page.waitForTimeout(300);
  await shoot('2-corners');
  await measured(page);
  await page.waitForTimeout(300);
  await shoot('3-reading');
  await page.context().close();
}
