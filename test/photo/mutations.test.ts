import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { MUTATION_KINDS, mutate, wholeFiles } from '../../scripts/files/mutate.js';
import { InputError } from '../../src/core/errors.js';
import { openPhoto } from '../../src/photo/openPhoto.js';
import { drawnPicture } from '../helpers/drawnPicture.js';

/** A part of what `npm run bench:files` does with whole measurements; its figures are in docs/files.json. */
const SEEDS = Array.from({ length: 150 }, (_, i) => 1 + i);

const files = await wholeFiles(
  () =>
    drawnPicture(3)
      .resize(240, 160)
      .withExif({ IFD2: { FocalLengthIn35mmFilm: '26' } }),
  [{ name: 'heic', bytes: readFileSync(new URL('heic/exif.heic', import.meta.url)) }],
);

async function endingOf(bytes: Uint8Array): Promise<string> {
  try {
    const { info, codes, shrunk } = await openPhoto(bytes);
    expect((await codes()).shape).toEqual([info.heightPx, info.widthPx]);
    const copy = await shrunk(100);
    expect(copy.data).toHaveLength(3 * copy.widthPx * copy.heightPx);
    return 'read';
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
}

describe('files with something done to them', () => {
  test('are read, or refused by a declared error', async () => {
    const endings = new Map<string, number>();
    const kinds = new Set<string>();
    for (const seed of SEEDS) {
      const { bytes, kind, file } = mutate(files, seed);
      kinds.add(kind);
      const ending = await endingOf(bytes).catch((error: unknown) => {
        throw new Error(`Seed ${seed}, ${kind} of ${file}: ${String(error)}`);
      });
      endings.set(ending, (endings.get(ending) ?? 0) + 1);
    }
    expect(kinds.size).toBe(MUTATION_KINDS.length);
    // Enough of both: else they are all too much or too little damaged to say anything.
    expect(endings.get('read')).toBeGreaterThan(20);
    expect(endings.get('photo-damaged')).toBeGreaterThan(20);
    for (const code of endings.keys()) {
      expect(['read', 'file-empty', 'photo-damaged', 'photo-format', 'photo-too-large']).toContain(code);
    }
  });
});
