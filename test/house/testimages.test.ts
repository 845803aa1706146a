import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';

interface Entry {
  readonly file: string;
  readonly sha256: string;
  readonly uprightPx?: readonly [number, number];
}

const FOLDER = fileURLToPath(new URL('../../testimages/', import.meta.url));
const read = (file: string): Buffer => readFileSync(FOLDER + file);
const readJson = (file: string): unknown => JSON.parse(read(file).toString());

const { files } = readJson('manifest.json') as { readonly files: readonly Entry[] };
const pictures = files.filter(({ file }) => file.endsWith('.jpg'));

describe('testimages', () => {
  test('every file is listed once, and nothing is listed that is not there', () => {
    const documents = ['manifest.json', 'README.md', 'outside/PROVENANCE.md'];
    const found = readdirSync(FOLDER, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map((entry) => `${entry.parentPath}/${entry.name}`.slice(FOLDER.length).replace(/^\/+/, ''));
    expect([...files.map(({ file }) => file), ...documents].sort()).toEqual(found.sort());
  });

  test.each(files)('$file is unchanged', ({ file, sha256 }) => {
    expect(createHash('sha256').update(read(file)).digest('hex')).toBe(sha256);
  });

  // Source: sharp, a general-purpose library, reads each header; truth files say the size that was rendered.
  test.each(pictures)('$file has the stated size once upright', async ({ file, uprightPx }) => {
    const { width, height } = (await sharp(read(file)).metadata()).autoOrient;
    expect([width, height]).toEqual(uprightPx);
    if (file.startsWith('outside/')) return;
    const truth = readJson(file.replace('.jpg', '.truth.json')) as { readonly upright_size_px: unknown };
    expect(truth.upright_size_px).toEqual(uprightPx);
  });
});
