import { chromium, type Browser } from 'playwright-core';
import { findBrowser } from '../../scripts/findBrowser.mjs';

/**
 * Starts the Chromium that `scripts/findBrowser.mjs` finds.
 * @returns The browser; whoever starts it closes it.
 */
export function startBrowser(): Promise<Browser> {
  const executablePath = findBrowser();
  if (executablePath === undefined)
    throw new Error('Chromium is missing: run "node scripts/findBrowser.mjs"');
  // As root, in a container, Chromium's own sandbox cannot be made.
  return chromium.launch({ executablePath, args: ['--no-sandbox'] });
}
