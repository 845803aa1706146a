import { chmodSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { readWhole, writeAll } from '../../src/cli/files.js';

let folder = '';
const at = (name: string) => join(folder, name);
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'stillband-files-'));
});
afterEach(() => {
  chmodSync(folder, 0o755);
  rmSync(folder, { recursive: true });
});

describe('reading', () => {
  test('a file, and what is none', async () => {
    writeFileSync(at('a'), 'text');
    expect(Buffer.from((await readWhole(at('a'))) as Uint8Array).toString()).toBe('text');
    expect(await readWhole(at('b'))).toMatchObject({ kind: 'missing', detail: 'there is no such file' });
    expect(await readWhole(at('a/b'))).toMatchObject({ kind: 'missing' });
    expect(await readWhole(folder)).toMatchObject({ kind: 'unreadable', detail: 'it is a folder' });
    expect(await readWhole(at('x'.repeat(400)))).toMatchObject({
      kind: 'unreadable',
      detail: 'it cannot be read (ENAMETOOLONG)',
    });
  });
});

describe('writing', () => {
  test('text and bytes, over what was there', async () => {
    writeFileSync(at('a'), 'old and longer');
    const files = [
      { path: at('a'), data: 'new' },
      { path: at('b'), data: Uint8Array.of(1, 2, 3) },
    ];
    expect(await writeAll(files)).toBeUndefined();
    expect(readFileSync(at('a'), 'utf8')).toBe('new');
    expect([...readFileSync(at('b'))]).toEqual([1, 2, 3]);
    expect(readdirSync(folder).sort()).toEqual(['a', 'b']);
  });

  test.each([
    ['a folder that there is not', 'none/b', 'there is no such folder'],
    ['a file in place of a folder', 'kept/b', 'there is no such folder'],
    ['a folder in place of the file', 'folder', 'it is a folder'],
    ['too long a name', 'x'.repeat(400), 'it cannot be written (ENAMETOOLONG)'],
  ])('%s: told, and nothing is left behind of the others either', async (_, name, detail) => {
    writeFileSync(at('kept'), 'kept');
    mkdirSync(at('folder'));
    for (const order of [
      ['new', name, 'kept'],
      [name, 'new', 'kept'],
      ['new', 'kept', name],
    ]) {
      const problem = await writeAll(order.map((file) => ({ path: at(file), data: 'data' })));
      expect(problem).toEqual({ path: at(name), kind: 'unwritable', detail });
      expect(readdirSync(folder).sort()).toEqual(['folder', 'kept']);
      expect(readFileSync(at('kept'), 'utf8')).toBe('kept');
    }
  });

  test('nothing to write is no problem', async () => {
    expect(await writeAll([])).toBeUndefined();
  });
});
