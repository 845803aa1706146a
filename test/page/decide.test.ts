import { writeFileSync } from 'node:fs';
import { beforeEach, expect, test } from 'vitest';
import type { Page } from 'playwright-core';
import { readingOf } from '../decide/fixtures.js';
import { look, plain, servedPage } from '../helpers/servedPage.js';
import { expectSound } from './soundPage.js';
import { tempFolder } from '../helpers/tempFolder.js';

// Deciding in a browser: the form, what was decided, what comes after, and a mistake. The numbers are held against the command's in
// test/web/decide.test.ts.

const served = servedPage();
const at = tempFolder('test');

beforeEach(() => {
  writeFileSync(at('y.json'), JSON.stringify(readingOf()));
  writeFileSync(at('x.json'), JSON.stringify(readingOf({ axis: 'X', hz: 52.3 })));
});

/** Goes on by keys until something that is called so has the focus. */
async function tabTo(page: Page, name: string): Promise<void> {
  for (let k = 0; k < 60; k += 1) {
    await page.keyboard.press('Tab');
    const focused = await page.evaluate(() => {
      const one = document.activeElement;
      return one instanceof HTMLInputElement
        ? (one.labels?.[0]?.textContent ?? '')
        : (one?.textContent ?? '');
    });
    if (focused.trim() === name) return;
  }
  throw new Error(`"${name}" is not reached by keys`);
}

test('readings are chosen, decided by, and followed up, by keys alone and without a script', async () => {
  const { page, requests, errors } = await look(served());
  await page.goto(new URL('/decide', served().address).href);
  await expectSound(page, 'form');
  await page.setInputFiles('#file-1', at('y.json'));
  await page.setInputFiles('#file-2', at('x.json'));
  await tabTo(page, 'Highest acceleration, mm/s²');
  await page.keyboard.type('5000');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'Axis X' }).waitFor();
  const verdicts = await page.locator('.verdict').allInnerTexts();
  expect(verdicts.map(plain)).toEqual([
    'enter ZV, 41.0 Hz, damping ratio 0.060',
    'enter ZV, 52.3 Hz, damping ratio 0.060',
  ]);
  await page.getByText('The other shapers').first().click();
  await expectSound(page, 'decided');
  await page.getByRole('button', { name: 'What comes after' }).click();
  await page.getByRole('heading', { name: 'Prove it' }).waitFor();
  expect(plain(await page.locator('main').innerText())).toMatch(
    /stay beside the machine while the proof prints/,
  );
  await expectSound(page, 'after');
  const own = requests.filter((url) => !url.startsWith(served().address));
  expect([own, errors]).toEqual([[], []]);
});

test('a mistake is told beside its field, and the readings stay', async () => {
  const { page } = await look(served());
  await page.goto(new URL('/after', served().address).href);
  await page.setInputFiles('#file-1', at('y.json'));
  await page.fill('#slot', 'wide');
  await page.getByRole('button', { name: 'Tell what comes after' }).click();
  await page.getByRole('alert').waitFor();
  expect(await page.locator('#slot').getAttribute('aria-invalid')).toBe('true');
  await expectSound(page, 'mistake');
  await page.fill('#slot', '1.2');
  await page.getByRole('button', { name: 'Tell what comes after' }).click();
  await page.getByRole('heading', { name: 'Enter for axis Y' }).waitFor();
});
