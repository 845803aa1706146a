import { expect, test } from 'vitest';
import { naturalHz } from '../../src/physics/oscillator.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

test('naturalHz agrees with the table of frequency ratios', () => {
  // Source: test/reference/log_decrement.csv, eight printed digits.
  for (const row of readCsv('log_decrement.csv', ['zeta', 'fd_over_fn'])) {
    expectClose(naturalHz(40 * row.fd_over_fn, row.zeta), 40, { rel: 1e-7, why: 'eight printed digits' });
  }
  expect(naturalHz(40, 0)).toBe(40);
});

test('naturalHz of a motorcycle’s shock absorber', () => {
  // Source: Rao, Mechanical Vibrations, ch. 2, "Shock absorber for a motorcycle" (from memory, recomputed):
  // ζ = 0.4037, damped period 2 s; ω = 3.4339 rad/s.
  expectClose(2 * Math.PI * naturalHz(0.5, 0.4037), 3.4339, { abs: 1e-4, why: 'four printed digits of ζ' });
});
