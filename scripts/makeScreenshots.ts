/**
 * Takes a picture of every page and state, as wide as a phone and as a desk, light and dark, into test/output/page; the
 * few that the README shows go to docs/page. Look at all of them after a change of the page.
 *
 *   npm run screenshots -- [states, pages, or readme]
 */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import sharp from 'sharp';
import { startBrowser } from '../test/helpers/browser.js';
import { startServer } from '../test/helpers/runningServer.js';
import { runTool } from '../test/helpers/runTool.js';
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

const LIMITS = 'maxAcceleration=9000&maxSpeed=200&layerHeight=0.2&nozzle=0.4&bed=220x220&idea=44,40';

/** Pages that the server writes: where they stand, and what is done on them. */
const PAGES: Readonly<
  Record<string, { readonly path: string; readonly reach?: (page: Page) => Promise<void> }>
> = {
  plan: { path: 'plan' },
  'plan-made': { path: `plan?${LIMITS}` },
  'plan-error': { path: `plan?${LIMITS.replace('=200&', '=-200&')}` },
  tower: { path: 'tower?width=90&height=68' },
  card: { path: 'card' },
  weave: { path: 'weave' },
  'weave-read': {
    path: 'weave',
    reach: async (page) => {
      await page.setInputFiles('[name=job]', at('testimages/walk/tower.job'));
      await page.setInputFiles('[name=record]', at('testimages/walk/tower.X.print.json'));
      await page.getByRole('button', { name: 'Read the job' }).click();
    },
  },
  decide: { path: 'decide' },
  'decide-made': { path: 'decide', reach: decideOn },
  after: { path: 'after' },
  'after-made': { path: 'after', reach: decideOn },
  logbook: { path: 'logbook' },
  entry: { path: 'logbook/2' },
  pair: { path: 'logbook/3' },
  trend: { path: 'trend' },
  compare: { path: 'compare?before=4&after=5' },
  'compare-refused': { path: 'compare?before=1&after=2' },
  'not-there': { path: 'nowhere' },
};

async function decideOn(page: Page): Promise<void> {
  await page.fill('[name=maxAcceleration]', '9000');
  await page.locator('form[method=post] button').first().click();
  await page
    .getByText(/^Axis X/)
    .first()
    .waitFor();
}

/** What the logbook's pages show: the readings of docs/whole-tuning.md. */
async function fillLogbook(logbook: string): Promise<void> {
  const beside = ['--reference', 'marker-card', '--behind-face', '0'];
  const bands =
    '0-9.7:1100,9.7-19.4:1500,19.4-29.1:2200,29.1-38.9:2700,38.9-48.6:5000,48.6-58.3:6700,58.3-68:9000';
  const proof = ['--acceleration-bands', bands];
  const measure = (name: string, axis: string, more: readonly string[]) => [
    ...[
      'measure',
      at(`testimages/walk/${name}.jpg`),
      '--print',
      at(`testimages/walk/tower.${axis}.print.json`),
    ],
    ...[...beside, ...more, '--save', '--logbook', logbook],
  ];
  for (const args of [
    measure('face-x', 'X', []),
    measure('face-y', 'Y', []),
    ['logbook', 'pair', '1', '2', '--logbook', logbook],
    measure('proof-off-y', 'Y', ['--ladder', 'off', ...proof]),
    measure('proof-on-y', 'Y', ['--ladder', 'fixed', '--hz', '41', ...proof]),
  ]) {
    const { exitCode, stderr } = await runTool(args);
    if (exitCode !== 0) throw new Error(stderr);
  }
}

const folder = mkdtempSync(join(tmpdir(), 'stillband-'));
mkdirSync(ALL, { recursive: true });
mkdirSync(SHOWN, { recursive: true });
const logbook = join(folder, 'logbook');
const wanted = process.argv.slice(2);
const isWanted = (state: string) => wanted.length === 0 || wanted.includes(state);
if (Object.keys(PAGES).some(isWanted)) await fillLogbook(logbook);
const { address, stop } = await startServer(['--port', '0', '--logbook', logbook]);
const browser = await startBrowser();
for (const [state, { path, reach }] of [
  ...Object.entries(STATES).map(([state, reach]) => [state, { path: '', reach }] as const),
  ...Object.entries(PAGES),
]) {
  if (!isWanted(state)) continue;
  for (const [viewport, colorScheme] of [
    [PHONE, 'light'],
    [DESK, 'light'],
    [PHONE, 'dark'],
    [DESK, 'dark'],
  ] as const) {
    const { page } = await look({ address, browser }, { viewport, colorScheme });
    if (path !== '') await page.goto(address + path);
    await reach?.(page);
    // What is drawn anew for the size of the screen.
    await page.waitForTimeout(300);
    const file = join(ALL, `${state}-${viewport.width}-${colorScheme}.png`);
    await page.screenshot({ path: file, fullPage: true, animations: 'disabled' });
    process.stdout.write(`${file}\n`);
    await page.context().close();
  }
}
if (isWanted('readme')) await forReadme();
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
