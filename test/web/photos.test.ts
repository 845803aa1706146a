import { beforeEach, expect, test } from 'vitest';
import { LIMITS } from '../../src/web/limits.js';
import { PhotoStore } from '../../src/web/photos.js';

let clock = 0;
let store = new PhotoStore(LIMITS, () => clock);

beforeEach(() => {
  clock = 0;
  store = new PhotoStore({ ...LIMITS, photos: 3, allBytes: 100 }, () => clock);
});

function keep(bytes: number): string {
  const release = store.reserve(bytes);
  release();
  const photo = {
    name: 'p',
    widthPx: 1,
    heightPx: 1,
    card: { state: 'no-card' as const },
    bytes: new Uint8Array(bytes),
  };
  return store.add(photo).id;
}

const FULL = expect.objectContaining({ status: 503, code: 'busy' }) as Error;

test('room is made before the bytes arrive, and given back once', () => {
  const release = store.reserve(60);
  expect(() => store.reserve(41)).toThrow(FULL);
  release();
  release();
  const all = store.reserve(100);
  expect(() => store.reserve(1)).toThrow(FULL);
  all();
  keep(100);
});

test('no more photos than that, kept or arriving', () => {
  keep(1);
  store.reserve(1);
  keep(1);
  expect(() => store.reserve(1)).toThrow(FULL);
});

test('a photo that was not asked for in ten minutes makes room for others, the oldest first', () => {
  const [first, second, third] = [keep(30), keep(30), keep(30)];
  clock = 600_000;
  store.get(second);
  expect(() => keep(30)).toThrow(FULL);
  clock = 600_001;
  const fourth = keep(30);
  expect(() => store.get(first)).toThrow(expect.objectContaining({ status: 404 }));
  for (const id of [second, third, fourth]) expect(store.get(id).id).toBe(id);
});

test('a photo is forgotten an hour after it was last asked for', () => {
  const id = keep(10);
  clock = 3_600_000;
  store.sweep();
  store.get(id);
  clock = 7_200_000;
  store.sweep();
  expect(store.get(id).id).toBe(id);
  clock = 10_800_001;
  store.sweep();
  expect(() => store.get(id)).toThrow();
  keep(100);
});

test('a copy to look at is made once for each width that is asked for', async () => {
  const id = keep(10);
  let made = 0;
  const view = (widthPx: number) =>
    store.view(id, widthPx, () => {
      made += 1;
      return Promise.resolve(Uint8Array.of(widthPx));
    });
  expect([await view(5), await view(5), await view(6)].map(([first]) => first)).toEqual([5, 5, 6]);
  expect(made).toBe(2);
});
