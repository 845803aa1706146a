import { describe, expect, test } from 'vitest';
import { boundOf } from '../../scripts/accuracy/cramerRao.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

describe('boundOf', () => {
  // Source: test/reference/crb_damped_sine.csv, Fisher matrix of another program, rms over 36 phases.
  const rows = readCsv('crb_damped_sine.csv', ['zeta', 'periods_in_record', 'N', 'rel_sigma_f']);
  test('there are rows to check', () => {
    expect(rows.length).toBeGreaterThanOrEqual(8);
  });
  test.each(rows)('ζ $zeta, $periods_in_record periods', ({ zeta, N, rel_sigma_f: wanted }) => {
    // 16 samples for each damped period of 1 s, amplitude 1, noise 0.02.
    const timeS = Float64Array.from({ length: N }, (_, i) => i / 16);
    const squares = Array.from(
      { length: 36 },
      (_, k) => boundOf(timeS, 1, zeta, (2 * Math.PI * k) / 36, 0.02).hz ** 2,
    );
    const rms = Math.sqrt(squares.reduce((sum, value) => sum + value, 0) / 36);
    expectClose(rms, wanted, { rel: 2e-4, why: 'derivatives by differences; the table has seven digits' });
  });
});
