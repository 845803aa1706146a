import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import type { Page } from 'playwright-core';
import { look, plain, servedPage } from '../helpers/servedPage.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { expectSound } from './soundPage.js';

// Reading and weaving a job file in a browser, with the server's threads. What the page says is held against the command in
// test/web/weave.test.ts.

const served = servedPage();
const at = tempFolder('test');
const example = (name: string) => fileURLToPath(new URL(`../../examples/${name}`, import.meta.url));
const JOB = example('short-tower.job');
const RECORD = example('short-tower.print.json');

/** Goes on by keys until the named control has the focus. */
async function tabTo(page: Page, selector: string): Promise<void> {
  for (let k = 0; k < 60; k += 1) {
    await page.keyboard.press('Tab');
    if (await page.evaluate((one) => document.activeElement?.matches(one) ?? false, selector)) return;
  }
  throw new Error(`"${selector}" is not reached by keys`);
}

test('a job is read and its record taken, and a line is put into a copy, by keys alone and without a script', async () => {
  const { page, requests, errors } = await look(served());
  await page.goto(new URL('/plan', served().address).href);
  await page.getByRole('link', { name: 'read it, or put a line of yours into it' }).click();
  await page.getByRole('heading', { name: 'Read and weave a job file' }).waitFor();
  await page.getByText('Tell the print here').click();
  await page.getByText('Placeholders', { exact: true }).click();
  await expectSound(page, 'form');
  await page.setInputFiles('#job', JOB);
  await page.setInputFiles('#record', RECORD);
  await tabTo(page, 'button[value="read"]');
  await page.keyboard.press('Enter');
  await page.locator('.verdict').waitFor();
  expect(plain(await page.locator('.verdict').innerText())).toMatch(
    /^Axis Y · 110 mm\/s reached · 60 layers/,
  );
  await expectSound(page, 'read');
  const taking = page.waitForEvent('download');
  await page.getByRole('link', { name: 'Take the filled record' }).click();
  const filled = await taking;
  expect(filled.suggestedFilename()).toBe('filled.print.json');
  const told = await runTool(['job', JOB, '--print', RECORD, '--out', at('filled.json')]);
  expect(told.exitCode).toBe(0);
  expect(readFileSync(await filled.path(), 'utf8')).toBe(readFileSync(at('filled.json'), 'utf8'));
  // The record is kept, the job file is not.
  await page.setInputFiles('#job', JOB);
  await tabTo(page, '#template');
  await page.keyboard.type('CALM {axis} {hz}');
  await tabTo(page, '#limitHz');
  await page.keyboard.type('10-150');
  await tabTo(page, 'button[value="weave"]');
  const weaving = page.waitForEvent('download');
  await page.keyboard.press('Enter');
  const copy = await weaving;
  expect(copy.suggestedFilename()).toBe('short-tower-woven.job');
  const template = ['--template', 'CALM {axis} {hz}', '--limit-hz', '10-150'];
  await runTool(['weave', JOB, '--print', RECORD, ...template, '--out', at('woven.job')]);
  expect(readFileSync(await copy.path()).equals(readFileSync(at('woven.job')))).toBe(true);
  // The page stays as it is, with all that was typed and chosen.
  await page.getByRole('button', { name: 'Show the lines' }).click();
  await page.getByText('56 lines of yours would be put in').waitFor();
  await expectSound(page, 'shown');
  expect(requests.filter((url) => !url.startsWith(served().address) && !url.startsWith('data:'))).toEqual([]);
  expect(errors).toEqual([]);
});

test('a mistake is told at its field, and what was typed stays', async () => {
  const { page } = await look(served());
  await page.goto(new URL('/weave', served().address).href);
  await page.setInputFiles('#job', JOB);
  await page.setInputFiles('#record', RECORD);
  await page.fill('#template', 'CALM {axis} {hz}');
  await page.getByRole('button', { name: 'Weave and take the copy' }).click();
  await page.getByRole('alert').waitFor();
  expect(await page.locator('[aria-invalid]').evaluateAll((all) => all.map(({ id }) => id))).toEqual([
    'limitHz',
  ]);
  expect(await page.locator('#template').inputValue()).toBe('CALM {axis} {hz}');
  await expectSound(page, 'mistake');
});
