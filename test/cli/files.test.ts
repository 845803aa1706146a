import { execFileSync } from 'node:child_process';
import {
  chmodSync,
  lstatSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { readFile } from 'node:fs/promises';
import { afterEach, describe, expect, test } from 'vitest';
import { placeOf, readWhole, writeAll } from '../../src/cli/files.js';
import { tempFolder } from '../helpers/tempFolder.js';

const at = tempFolder('test');
afterEach(() => {
  chmodSync(at(), 0o755);
});

describe('reading', () => {
  test('a file, and what is none', async () => {
    writeFileSync(at('a'), 'text');
    expect(Buffer.from((await readWhole(at('a'))) as Uint8Array).toString()).toBe('text');
    expect(await readWhole(at('b'))).toMatchObject({ kind: 'missing', detail: 'there is no such file' });
    expect(await readWhole(at('a/b'))).toMatchObject({ kind: 'missing' });
    expect(await readWhole(at())).toMatchObject({ kind: 'unreadable', detail: 'it is a folder' });
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
    expect(readdirSync(at()).sort()).toEqual(['a', 'b']);
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
      expect(readdirSync(at()).sort()).toEqual(['folder', 'kept']);
      expect(readFileSync(at('kept'), 'utf8')).toBe('kept');
    }
  });

  test('through a link, which stays a link, to a file that is there or not yet', async () => {
    mkdirSync(at('inner'));
    writeFileSync(at('inner/there'), 'old');
    symlinkSync('inner/there', at('one'));
    symlinkSync('one', at('two'));
    symlinkSync('inner/new', at('dangling'));
    symlinkSync('circle', at('circle'));
    expect(await writeAll([{ path: at('two'), data: 'a' }])).toBeUndefined();
    expect(await writeAll([{ path: at('dangling'), data: 'b' }])).toBeUndefined();
    expect(readFileSync(at('inner/there'), 'utf8')).toBe('a');
    expect(readFileSync(at('inner/new'), 'utf8')).toBe('b');
    for (const link of ['one', 'two', 'dangling']) expect(lstatSync(at(link)).isSymbolicLink()).toBe(true);
    expect(readdirSync(at('inner')).sort()).toEqual(['new', 'there']);
    expect(await writeAll([{ path: at('circle'), data: 'c' }])).toMatchObject({
      detail: 'it cannot be written (ELOOP)',
    });
    expect(readdirSync(at()).sort()).toEqual(['circle', 'dangling', 'inner', 'one', 'two']);
  });

  test('into a pipe directly, which stays a pipe', async () => {
    execFileSync('mkfifo', [at('pipe')]);
    symlinkSync('pipe', at('link'));
    for (const name of ['pipe', 'link']) {
      const arrived = readFile(at(name), 'utf8');
      const files = [
        { path: at(name), data: 'through' },
        { path: at('file'), data: 'beside' },
      ];
      expect(await writeAll(files)).toBeUndefined();
      expect(await arrived).toBe('through');
      expect(readFileSync(at('file'), 'utf8')).toBe('beside');
    }
    expect(lstatSync(at('pipe')).isFIFO()).toBe(true);
    expect(readdirSync(at()).sort()).toEqual(['file', 'link', 'pipe']);
  });

  test('into a pipe only when all other files can be written', async () => {
    execFileSync('mkfifo', [at('pipe')]);
    const files = [
      { path: at('pipe'), data: 'through' },
      { path: at('none/file'), data: 'beside' },
    ];
    // Nobody reads: a write to the pipe would wait for ever.
    expect(await writeAll(files)).toMatchObject({ path: at('none/file') });
  });

  test('nothing to write is no problem', async () => {
    expect(await writeAll([])).toBeUndefined();
  });
});

describe('the place of a path', () => {
  test('is the same whatever it is written like, also when there is no file yet', async () => {
    mkdirSync(at('inner'));
    symlinkSync('inner', at('folder'));
    symlinkSync('inner/new', at('dangling'));
    const places = ['inner/new', 'folder/new', './inner/../inner/new', 'dangling'].map((name) =>
      placeOf(`${at()}/${name}`),
    );
    expect(new Set(await Promise.all(places)).size).toBe(1);
    expect(await placeOf(at('none/x'))).toBe(at('none/x'));
  });
});
