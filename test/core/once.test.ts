import { expect, test } from 'vitest';
import { once } from '../../src/core/once.js';

test('a value is made when it is first asked for, and once', () => {
  let made = 0;
  const value = once((): number | undefined => {
    made += 1;
    return undefined;
  });
  expect(made).toBe(0);
  expect([value(), value(), made]).toEqual([undefined, undefined, 1]);
});

test('what cannot be made is tried again', () => {
  const tries = [new Error('not yet'), undefined];
  const value = once(() => {
    const error = tries.shift();
    if (error !== undefined) throw error;
    return 7;
  });
  expect(value).toThrow('not yet');
  expect(value()).toBe(7);
});
