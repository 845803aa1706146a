import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { DESK, servedPage } from '../helpers/servedPage.js';

// The page must be there at once, on a phone beside a printer.

const served = servedPage();

test('the first page is at most 150 kB, as transferred', async () => {
  const context = await served().browser.newContext({ viewport: DESK });
  const page = await context.newPage();
  const network = await context.newCDPSession(page);
  await network.send('Network.enable');
  let bytes = 0;
  network.on('Network.loadingFinished', ({ encodedDataLength }) => {
    bytes += encodedDataLength;
  });
  await page.goto(served().address, { waitUntil: 'networkidle' });
  // Source: the issue. A page of nothing would pass as well.
  expect(bytes).toBeGreaterThan(10_000);
  expect(bytes).toBeLessThanOrEqual(150_000);
  await context.close();
});

test('its script is small against the time that a verdict takes', async () => {
  const context = await served().browser.newContext({ viewport: DESK });
  const page = await context.newPage();
  const devtools = await context.newCDPSession(page);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  await devtools.send('Performance.enable');
  await page.goto(served().address, { waitUntil: 'networkidle' });
  await page.getByRole('button', { name: 'Measure' }).waitFor();
  const { metrics } = await devtools.send('Performance.getMetrics');
  const scriptS = metrics.find(({ name }) => name === 'ScriptDuration')?.value ?? NaN;
  await context.close();
  // Source: the issue asks for 0.2 of what the verdict of a 12 MP photo takes. That is measured by the bench; beside a
  // decode of such a photo alone, which a verdict takes several of, it must be small already.
  const { default: sharp } = await import('sharp');
  const photo = readFileSync('testimages/white-card.jpg');
  const began = performance.now();
  await sharp(photo).greyscale().raw().toBuffer();
  const decodeS = (performance.now() - began) / 1000;
  expect(scriptS).toBeGreaterThan(0);
  expect(scriptS / decodeS).toBeLessThan(1.2);
});
