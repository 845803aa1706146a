import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { lightDrawing } from '../../scripts/makeLightDrawing.js';

test('docs/light.svg is what the script draws, and the README shows it', () => {
  const kept = readFileSync(new URL('../../docs/light.svg', import.meta.url), 'utf8');
  expect(kept, 'stale: run npx tsx scripts/makeLightDrawing.ts').toBe(lightDrawing());
  const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');
  const guide = readme.slice(
    readme.indexOf('## Taking the photo'),
    readme.indexOf('## How to read the result'),
  );
  expect(guide).toMatch(/!\[[^\]]{40,}\]\(docs\/light\.svg\)/);
});

test('it has a title and a description for a screen reader', () => {
  expect(lightDrawing()).toMatch(/<title id="title">Where the lamp belongs<\/title>/);
  expect(lightDrawing()).toMatch(/<desc id="desc">[^<]{100,}<\/desc>/);
});
