import { describe, expect, test } from 'vitest';
import { give, load, look, measured, plain, servedPage, verdict } from '../helpers/servedPage.js';
import { expectSound } from './soundPage.js';

// Every state of the page: no violation that axe-core finds of WCAG 2.2 A and AA, light and dark; nothing is lost at 320 px
// (1.4.10) and with text of twice the size (1.4.4).

const served = servedPage();

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

  test('what stands in the way is told as it is now: what is given goes from the list, and all wrong values are told', async () => {
    const { page } = await look(served());
    const leave = async (label: string, text: string) => {
      await page.getByLabel(label, { exact: false }).first().fill(text);
      await page.keyboard.press('Tab');
    };
    // Told where it stands, before anything is asked for.
    await leave('Layer height', '0,2');
    const error = page.locator('.field', { hasText: 'Layer height' }).locator('.error');
    await error.filter({ hasText: 'cannot be read' }).waitFor();
    await leave('Print speed along the face', '6600');
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    const problems = page.locator('.problems');
    await problems.filter({ hasText: '2 values cannot be.' }).waitFor();
    expect(await problems.innerText()).toMatch(/9 things are missing\.[^]*/);
    expect(await problems.innerText()).toContain('Write a point, not a comma: 0.2.');
    expect(await problems.innerText()).not.toMatch(/--|MmPerS|HeightMm/);
    await leave('Layer height', '0.2');
    await problems.filter({ hasText: 'One value cannot be.' }).waitFor();
    await leave('Axis perpendicular', 'Y');
    await problems.filter({ hasText: '8 things are missing.' }).waitFor();
    await page.close();
  });

  test('a photo taken because the first will not do takes its place, and the first can be had back', async () => {
    const { page } = await look(served());
    await give(page, 'docs/advice/blurred.jpg');
    await page.setInputFiles('#input-take', 'docs/advice/good.jpg');
    await page.locator('.chip', { hasText: 'good.jpg' }).waitFor();
    expect(await page.locator('.chip').count()).toBe(1);
    await page.getByRole('button', { name: 'Use the photo before' }).click();
    expect(await page.locator('.chip').innerText()).toContain('blurred.jpg');
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
    expect(await page.locator('.chip').count()).toBe(0);
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

  test('what is changed while it is measured is told beside the reading', async () => {
    const { page } = await look(served());
    await load(page, 'docs/advice/print.json');
    await give(page, 'docs/advice/good.jpg');
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await page.getByLabel('Print speed along the face').fill('111');
    await page.getByLabel('Print speed along the face').press('Tab');
    expect(await page.locator('#verdict').count()).toBe(0);
    await verdict(page);
    expect(await page.locator('.stale').innerText()).toContain('Something was changed since this reading.');
    await page.close();
  });

  test('a server that is gone is told while it is waited for, and once it is clear that nothing comes', async () => {
    const { page } = await look(served());
    await load(page, 'docs/advice/print.json');
    await give(page, 'docs/advice/good.jpg');
    await page.route('**/events', (route) => route.abort());
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await page.getByText('stillband does not answer at the moment; trying again…').waitFor();
    await page.unroute('**/events');
    await page.route('**/events', (route) => route.fulfill({ status: 404, json: {} }));
    await page.getByText('The measurement was ended, since this page was not heard of').waitFor();
    expect(await page.getByLabel('Print speed along the face').inputValue()).toBe('110');
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
