import { expect, test } from 'vitest';
import type { CardCode } from '../../src/print/cardCode.js';
import { withCardRead } from '../../src/print/cardRead.js';

const nothingSeen: { readonly cardCode?: CardCode } = {};

test('a code that is damaged is kept, also where the search looked for no card', () => {
  expect(withCardRead(nothingSeen, { state: 'damaged' })).toEqual({ cardCode: { state: 'damaged' } });
  const seen = { cardCode: { state: 'foreign' } } as const;
  expect(withCardRead<{ readonly cardCode?: CardCode }>(seen, { state: 'damaged' })).toBe(seen);
});

test('no card is no code', () => {
  for (const state of ['no-card', 'no-code', 'mirrored'] as const) {
    expect(withCardRead(nothingSeen, { state })).toBe(nothingSeen);
  }
  expect(withCardRead(nothingSeen, undefined)).toBe(nothingSeen);
});
