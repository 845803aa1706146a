import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { listEntries, readEntry } from '../../src/index.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { parsePrintRecord } from '../../src/print/record.js';
import { parseReading, type Reading } from '../../src/reading/schema.js';
import { textReport } from '../../src/report/textReport.js';
import {
  give,
  load,
  look,
  looked,
  measured,
  PHONE,
  plain,
  servedPage,
  verdict,
  type Looked,
} from '../helpers/servedPage.js';

// From a file to a saved entry, in a real browser. The photo is one of those that the README shows (drawn, truth 36 Hz).

const PHOTO = 'docs/advice/good.jpg';
const RECORD = 'docs/advice/print.json';
const record = parsePrintRecord(readFileSync(RECORD, 'utf8'));
const bytes = readFileSync(PHOTO);

const served = servedPage();

/** Whatever the page does, it asks nobody else, and breaks none of its own rules. */
function expectQuiet({ requests, errors }: Looked): void {
  const { address } = served();
  expect(requests.filter((url) => !url.startsWith(address) && !/^(data|blob):/.test(url))).toEqual([]);
  expect(errors).toEqual([]);
}

async function downloaded({ page }: Looked): Promise<Reading> {
  const href = await page.getByRole('link', { name: 'JSON' }).getAttribute('href');
  const answer = await page.request.get(new URL(href ?? '', served().address).href);
  return parseReading(await answer.text());
}

describe('from a file to a saved entry', () => {
  test('at a desk: dropped, filled in from a file, read, saved, opened', async () => {
    const at = await look(served());
    const { page } = at;
    await load(page, RECORD);
    const data = bytes.toString('base64');
    const dropped = await page.evaluateHandle((text) => {
      const transfer = new DataTransfer();
      const content = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
      transfer.items.add(new File([content], 'good.jpg', { type: 'image/jpeg' }));
      return transfer;
    }, data);
    await page.dispatchEvent('body', 'drop', { dataTransfer: dropped });
    await looked(page);
    expect(await page.locator('.look').innerText()).toMatch(/^The photo will do\./);
    expect(await page.locator('.corner.found').count()).toBe(4);

    // Dragged by its handle the corner follows, the loupe shows where to, and one drag is one step to undo.
    const handle = page.locator('.corner').nth(1);
    const box = await handle.boundingBox();
    if (box === null) throw new Error('no corner is drawn');
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 15, y - 10);
    await page.mouse.move(x + 30, y - 20);
    expect(await page.locator('.loupe').isVisible()).toBe(true);
    await page.mouse.up();
    expect(await handle.getAttribute('aria-label')).toMatch(/placed at/);
    const moved = await handle.boundingBox();
    expect(Math.abs((moved?.x ?? 0) - box.x - 30)).toBeLessThan(2);
    await page.getByRole('button', { name: 'Undo', exact: true }).click();
    expect(await handle.getAttribute('aria-label')).toMatch(/found at/);
    // Zoomed by wheel about the pointer, and back.
    const whole = await page.locator('svg.photo').getAttribute('viewBox');
    await page.locator('svg.photo').hover({ position: { x: 40, y: 40 } });
    await page.keyboard.down('Control');
    await page.mouse.wheel(0, -200);
    await page.keyboard.up('Control');
    await page.locator('svg.photo.zoomed').waitFor();
    await page.getByRole('button', { name: 'Whole photo' }).click();
    expect(await page.locator('svg.photo').getAttribute('viewBox')).toBe(whole);

    const said = await measured(page);
    // The same as the command says of the same photo and record.
    const reading = await measurePhoto(bytes, record);
    const [first = ''] = textReport(reading).split('\n');
    expect(said.replace(': ', ' ')).toBe(plain(first.split(/ {3,}/).slice(0, 2).join(' ')));
    expect(await downloaded(at)).toEqual(JSON.parse(JSON.stringify(reading)));
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('verdict');

    await page.getByText('Save to the logbook').click();
    await page.getByLabel('Note', { exact: true }).fill('the first one');
    await page.getByLabel('What was changed on the machine').fill('belt-tension, nozzle');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Saved as entry 1.').waitFor();
    expect(listEntries(served().logbook)).toHaveLength(1);
    const { entry } = readEntry(served().logbook, 1);
    expect(entry).toMatchObject({ note: 'the first one', changed: ['belt-tension', 'nozzle'] });
    expectQuiet(at);

    // What was told is remembered for the next photo.
    await page.reload();
    await page.getByLabel('Begin with').selectOption({ index: 1 });
    expect(await page.getByLabel('Print speed').inputValue()).toBe(String(record.speedMmPerS));
    expect(await page.getByLabel('Width of the face').inputValue()).toBe(String(record.face.widthMm));
    await page.close();
  });

  test('on a phone in the dark: chosen, looked at, a corner placed by touch, read', async () => {
    const options = { viewport: PHONE, hasTouch: true, isMobile: true, colorScheme: 'dark' } as const;
    const at = await look(served(), options);
    const { page } = at;
    await give(page, PHOTO);
    await load(page, RECORD);
    await page.getByRole('button', { name: 'Top left', exact: true }).tap();
    const photo = await page.locator('svg.photo').boundingBox();
    const corner = await page.locator('.corner').first().boundingBox();
    if (photo === null || corner === null) throw new Error('the photo is not there');
    await page.touchscreen.tap(corner.x + corner.width / 2 + 40, corner.y + corner.height / 2 + 30);
    expect(await page.locator('.tools').innerText()).toContain('exactly as they are drawn');
    await page.getByRole('button', { name: 'Undo', exact: true }).tap();
    expect(await page.locator('.corner.found').count()).toBe(4);
    expect(await measured(page)).toMatch(/^Axis Y: 3[56]\.\d Hz ± \d\.\d$/);
    // One cursor through all charts: a tap in one moves it in all.
    const before = await page.locator('.cursor-says').innerText();
    const chart = await page.locator('.strips > svg').first().boundingBox();
    if (chart === null) throw new Error('the charts are not there');
    await page.touchscreen.tap(chart.x + chart.width / 2, chart.y + chart.height / 3);
    expect(await page.locator('.cursor-says').innerText()).not.toBe(before);
    expectQuiet(at);
    await page.close();
  });
});

test('with keys alone: a corner moved by keys gives the numbers that the command gives for those corners', async () => {
  const at = await look(served());
  const { page } = at;
  await load(page, RECORD);
  await give(page, PHOTO);
  await tabTo(at, 'top right corner');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('Shift+ArrowUp');
  await page.keyboard.press('Alt+ArrowDown');
  const labels = await page.locator('.corner').evaluateAll((all) => all.map((one) => one.ariaLabel ?? ''));
  const corners = labels.map((label) => /at ([\d.]+), ([\d.]+) px/.exec(label)?.slice(1).map(Number));
  await tabTo(at, 'Measure');
  await page.keyboard.press('Enter');
  await verdict(page);
  const reading = await downloaded(at);
  // What is said of the corners is rounded to 0.1 px; what is told is what was placed.
  const facePx = reading.printRecord.facePx ?? [];
  expect(facePx).toHaveLength(4);
  facePx.forEach((point, i) => {
    expect(point?.map((px) => Number(px.toFixed(1)))).toEqual(corners[i]);
  });
  const told = parsePrintRecord(JSON.stringify({ ...record, facePx }));
  expectSame(reading, await measurePhoto(bytes, told));
  // The cursor goes by keys as well.
  await page.getByRole('slider', { name: 'Height of the cursor' }).focus();
  const valueAt = async () =>
    Number(await page.getByRole('slider', { name: 'Height of the cursor' }).getAttribute('aria-valuenow'));
  const from = await valueAt();
  await page.keyboard.press('ArrowUp');
  expect(await valueAt()).toBeGreaterThan(from);
  await page.keyboard.press('Home');
  expect(await valueAt()).toBeLessThan(from);
  expectQuiet(at);
  await page.close();
});

test('a measurement can be cancelled, and several photos are measured together', async () => {
  const at = await look(served());
  const { page } = at;
  await load(page, RECORD);
  await page.setInputFiles('#input-choose', [PHOTO, 'docs/advice/light-from-front.jpg']);
  await page.locator('.look .look-verdict').waitFor();
  expect(await page.locator('.chip').count()).toBe(2);
  await page.getByRole('button', { name: 'Measure', exact: true }).click();
  await page.getByRole('button', { name: 'Cancel', exact: true }).click();
  await page.getByText('Cancelled. All is as it was.').waitFor();
  const said = await measured(page);
  expect(said).toMatch(/^Axis Y: /);
  expect(await page.locator('.sections').innerText()).toContain('light-from-front.jpg');
  // One taken away, the other alone is measured as ever.
  await page.getByRole('button', { name: 'Remove light-from-front.jpg' }).click();
  await page.getByText('Something was changed since this reading.').waitFor();
  await page.getByRole('button', { name: 'Measure again' }).click();
  await page.locator('.stale').waitFor({ state: 'hidden' });
  expect(await verdict(page)).toMatch(/^Axis Y: 3[56]\.\d Hz/);
  expectQuiet(at);
  await page.close();
});

test('a browser that keeps nothing shows the page all the same', async () => {
  const context = await served().browser.newContext();
  await context.addInitScript(() => {
    Object.defineProperty(window, 'localStorage', {
      get: () => {
        throw new DOMException('denied', 'SecurityError');
      },
    });
  });
  const page = await context.newPage();
  const errors: string[] = [];
  page.on('pageerror', (error) => errors.push(error.message));
  await page.goto(served().address);
  await page.getByRole('button', { name: 'Measure' }).waitFor();
  await page.getByText('assumed: 4000 mm/s²').waitFor();
  expect(errors).toEqual([]);
  await context.close();
});

/** Goes on by the tab key until something of that name has the focus, as somebody without a mouse does. */
async function tabTo({ page }: Looked, name: string): Promise<void> {
  for (let i = 0; i < 120; i += 1) {
    await page.keyboard.press('Tab');
    const focused = await page.evaluate(() => {
      const at = document.activeElement;
      return at === null ? '' : (at.ariaLabel ?? at.textContent);
    });
    if (focused.startsWith(name)) return;
  }
  throw new Error(`the tab key does not lead to ${name}`);
}

/** Every number within 1e-9 of itself: the limit. */
function expectSame(a: unknown, b: unknown, path = ''): void {
  if (typeof a === 'number' && typeof b === 'number') {
    const off = Math.abs(a - b) / Math.max(1, Math.abs(b));
    expect(off, path).toBeLessThan(1e-9);
  } else if (typeof a === 'object' && a !== null && typeof b === 'object' && b !== null) {
    const there = JSON.parse(JSON.stringify(b)) as object;
    expect(Object.keys(a).sort(), path).toEqual(Object.keys(there).sort());
    for (const [key, value] of Object.entries(a)) {
      expectSame(value, (b as Record<string, unknown>)[key], `${path}.${key}`);
    }
  } else {
    expect(a, path).toEqual(b);
  }
}
