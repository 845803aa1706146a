import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll } from 'vitest';
import { startBrowser } from './browser.js';
import { startServer } from './runningServer.js';
import { tempFolder } from './tempFolder.js';

/** A served page and a browser to look at it. */
export interface Served {
  readonly address: string;
  /** The logbook's folder. */
  readonly logbook: string;
  readonly browser: Browser;
}

/** A page that is looked at, with all that it asked for. */
export interface Looked {
  readonly page: Page;
  /** Addresses of all requests. */
  readonly requests: readonly string[];
  /** Errors of scripts, and what the browser says of broken rules, such as those of the content security policy. */
  readonly errors: readonly string[];
}

/** Viewports of a desk and of a hand, and one as narrow as WCAG 2.2, 1.4.10 asks for. */
export const DESK = { width: 1440, height: 900 } as const;
export const PHONE = { width: 390, height: 844 } as const;
export const NARROW = { width: 320, height: 640 } as const;

/**
 * Starts the built command's server and a browser for all tests of a file. Call it at the top of the file.
 * @returns What was started, to be asked in tests only.
 */
export function servedPage(): () => Served {
  const folder = tempFolder('file');
  let served: Served | undefined;
  let stop = (): Promise<void> => Promise.resolve();
  beforeAll(async () => {
    const logbook = folder('logbook');
    const server = await startServer(['--port', '0', '--logbook', logbook]);
    const browser = await startBrowser();
    served = { address: server.address, logbook, browser };
    stop = async () => {
      await browser.close();
      await server.stop();
    };
  });
  afterAll(() => stop());
  return () => {
    if (served === undefined) throw new Error('the page is served in tests only');
    return served;
  };
}

/**
 * Opens the page as somebody who comes for the first time.
 * @param served - Server and browser.
 * @param options - Viewport, colours and so on.
 * @returns The page.
 */
export async function look(
  { address, browser }: Pick<Served, 'address' | 'browser'>,
  options: BrowserContextOptions = {},
): Promise<Looked> {
  const context = await browser.newContext({ viewport: DESK, ...options });
  const page = await context.newPage();
  const requests: string[] = [];
  const errors: string[] = [];
  page.on('request', (request) => requests.push(request.url()));
  page.on('pageerror', (error) => errors.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') errors.push(message.text());
  });
  await page.goto(address);
  await page.getByRole('button', { name: 'Measure' }).waitFor();
  return { page, requests, errors };
}

/**
 * Gives the page a photo and waits for what the check says of it.
 * @param page - The page.
 * @param path - The photo's file.
 */
export async function give(page: Page, path: string): Promise<void> {
  await page.setInputFiles('#input-choose', path);
  await looked(page);
}

/**
 * Waits until the photo on the page is looked at.
 * @param page - The page.
 */
export async function looked(page: Page): Promise<void> {
  await page.locator('.look .look-verdict').waitFor();
}

/**
 * Loads a print record into the form, and waits until the photo is looked at with it.
 * @param page - The page.
 * @param path - The record's file.
 */
export async function load(page: Page, path: string): Promise<void> {
  const checked =
    (await page.locator('.shot').count()) === 0
      ? Promise.resolve()
      : page.waitForResponse((response) => /\/api\/jobs\/[^/]+$/.test(response.url()));
  await page.setInputFiles('input[accept^=".json"]', path);
  await checked;
  if ((await page.locator('.shot').count()) > 0) await looked(page);
}

/**
 * Presses Measure and waits for the verdict.
 * @param page - The page.
 * @returns The verdict.
 */
export async function measured(page: Page): Promise<string> {
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  return verdict(page);
}

/**
 * Waits for the verdict.
 * @param page - The page.
 * @returns Its text, with plain spaces.
 */
export async function verdict(page: Page): Promise<string> {
  await page.waitForSelector('#verdict');
  return plain(await page.locator('#verdict').innerText());
}

/**
 * Text with plain spaces.
 * @param text - Text as it is shown.
 * @returns The same without thin and unbroken ones.
 */
export function plain(text: string): string {
  return text.replaceAll(/[\u00a0\u2009\u202f]/g, ' ');
}
