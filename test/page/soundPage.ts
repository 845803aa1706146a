import axe from 'axe-core';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { DESK, NARROW, PHONE } from '../helpers/servedPage.js';

const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

interface Violation {
  readonly id: string;
  readonly nodes: readonly { readonly html: string; readonly failureSummary: string }[];
}

/**
 * Expects no violation that axe-core finds of WCAG 2.2 A and AA, light and dark, and nothing that is lost at 320 px (1.4.10) or
 * with text of twice the size (1.4.4).
 * @param page - The page as it is.
 * @param state - What it shows, for the message.
 */
export async function expectSound(page: Page, state: string): Promise<void> {
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme });
    await page.evaluate(axe.source);
    const found = await page.evaluate<readonly Violation[]>(
      `axe.run(document, { runOnly: ${JSON.stringify(TAGS)} }).then(({ violations }) => violations)`,
    );
    const told = found.map(({ id, nodes }) => [
      id,
      nodes.map((node) => `${node.html} ${node.failureSummary}`),
    ]);
    expect(told, `${state}, ${colorScheme}`).toEqual([]);
  }
  await page.emulateMedia({ colorScheme: 'light' });
  for (const [viewport, text] of [
    [NARROW, '100%'],
    [PHONE, '200%'],
    [DESK, '200%'],
  ] as const) {
    await page.setViewportSize(viewport);
    await page.evaluate((size) => {
      document.documentElement.style.fontSize = size;
    }, text);
    await page.waitForTimeout(60);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    expect(wide, `${state} at ${viewport.width} px with ${text} text`).toBeLessThanOrEqual(viewport.width);
    expect(await clipped(page), `${state} at ${viewport.width} px with ${text} text`).toEqual([]);
  }
  await page.evaluate(() => {
    document.documentElement.style.fontSize = '';
  });
  await page.setViewportSize(DESK);
}

/** Controls and words that reach beyond the page's edges, where nobody sees them. */
function clipped(page: Page): Promise<readonly string[]> {
  return page.evaluate(() => {
    const edge = document.documentElement.clientWidth;
    return [
      ...document.querySelectorAll(
        'main :is(button, a, input:not(.visually-hidden), select, p, h2, h3, li, td)',
      ),
    ]
      .filter((one) => {
        const { left, right, width } = one.getBoundingClientRect();
        // A table of numbers has two dimensions (1.4.10 excepts it) and is scrolled within its own box, by keys as well.
        if (one.closest('.scroll[tabindex="0"]') !== null) return false;
        return width > 0 && (left < -1 || right > edge + 1);
      })
      .map((one) => one.outerHTML.slice(0, 120));
  });
}
