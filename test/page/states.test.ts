import axe from 'axe-core';
import { describe, expect, test } from 'vitest';
import type { Page } from 'playwright-core';
import { DESK, give, load, look, measured, NARROW, PHONE, plain, servedPage } from '../helpers/servedPage.js';

// Every state of the page: no violation that axe-core finds of WCAG 2.2 A and AA, light and dark; nothing is lost at 320 px
// (1.4.10) and with text of twice the size (1.4.4).

const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

const served = servedPage();

interface Violation {
  readonly id: string;
  readonly nodes: readonly { readonly html: string; readonly failureSummary: string }[];
}

/** What axe-core finds, and what does not fit into the page's width. */
async function expectSound(page: Page, state: string): Promise<void> {
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
        '#measure :is(button, a, input:not(.visually-hidden), select, p, h2, h3, li, td)',
      ),
    ]
      .filter((one) => {
        const { left, right, width } = one.getBoundingClientRect();
        return width > 0 && (left < -1 || right > edge + 1);
      })
      .map((one) => one.outerHTML.slice(0, 120));
  });
}

describe('every state is sound', () => {
  test('empty, and with all that is missing told', async () => {
    const { page } = await look(served());
    await expectSound(page, 'empty');
    await page.getByRole('button', { name: 'Measure' }).click();
    expect(await page.locator('.problems').innerText()).toMatch(/^11 things are missing\./);
    expect(await page.evaluate(() => document.activeElement?.className)).toBe('problems');
    await page.getByRole('link', { name: 'Print speed along the face' }).click();
    expect(await page.evaluate(() => document.activeElement?.id)).toMatch(/^speed/);
    await page.getByText('More about the print').click();
    await expectSound(page, 'with what is missing');
    await page.close();
  });

  test('a photo that will not do says the one thing to change; corners can be placed all the same', async () => {
    const { page } = await look(served());
    await give(page, 'docs/advice/blurred.jpg');
    const hint = await page.locator('.look').innerText();
    expect(hint).toMatch(/^The photo will not do: the photo is not sharp enough to show a face\./);
    expect(await page.locator('.look p').count()).toBe(2);
    await page.getByRole('button', { name: 'Place top left' }).click();
    const photo = await page.locator('svg.photo').boundingBox();
    if (photo === null) throw new Error('the photo is not there');
    await page.mouse.click(photo.x + 0.2 * photo.width, photo.y + 0.4 * photo.height);
    await page.getByText('Corners as numbers').click();
    await expectSound(page, 'placing corners');
    await page.close();
  });

  test('what is no photo is told, and nothing is lost', async () => {
    const { page } = await look(served());
    await page.getByLabel('Machine').fill('north bench 3');
    await page.setInputFiles('#input-choose', 'docs/light.svg');
    await page.locator('.look-verdict.error').waitFor();
    expect(await page.getByLabel('Machine').inputValue()).toBe('north bench 3');
    await expectSound(page, 'not a photo');
    await page.close();
  });

  test('a value that cannot be is told at its field, in the words of the page', async () => {
    const { page } = await look(served());
    await load(page, 'docs/advice/print.json');
    await give(page, 'docs/advice/good.jpg');
    await page.getByLabel('Print speed along the face').fill('6600');
    await page.getByLabel('Print speed along the face').press('Tab');
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await page.locator('.problems:not([hidden])').waitFor();
    expect(await page.locator('.problems').innerText()).not.toContain('--');
    expect(await page.getByLabel('Print speed along the face').getAttribute('aria-invalid')).toBe('true');
    await expectSound(page, 'an impossible value');
    // Mended, it goes on from where it was.
    await page.getByLabel('Print speed along the face').fill('110');
    expect(await measured(page)).toMatch(/^Axis Y: 3[56]\.\d Hz/);
    await page.getByText('Save to the logbook').click();
    await page.getByText('What the signs mean').click();
    await expectSound(page, 'proposed');
    await page.close();
  });

  test('a refusal has its reason where the number would be, and says what to do', async () => {
    const { page } = await look(served());
    await load(page, 'docs/advice/print.json');
    await give(page, 'docs/advice/light-from-front.jpg');
    expect(await measured(page)).toMatch(/^Axis Y: no band can be proposed: /);
    const advice = plain(await page.locator('.advice').innerText());
    expect(advice.length).toBeGreaterThan(20);
    expect(advice).not.toContain('--');
    await expectSound(page, 'refused');
    await page.close();
  });
});
