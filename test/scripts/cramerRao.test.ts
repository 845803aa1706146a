import { describe, expect, test } from 'vitest';
import { boundOf } from '../../scripts/accuracy/cramerRao.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';

describe('boundOf', () => {
  // Source: test/reference/crb_damped_sine.csv, Fisher matrix of another program, rms over 36 phases.
  const rows = readCsv('crb_damped_sine.csv', [
    'zeta',
    'periods_in_record',
    'N',
    'rel_sigma_f',
    'rel_sigma_alpha',
  ]);
  test('there are rows to check', () => {
    expect(rows.length).toBeGreaterThanOrEqual(8);
  });
  test.each(rows)('ζ $zeta, $periods_in_record periods', (row) => {
    // 16 samples for each damped period of 1 s, amplitude 1, noise 0.02.
    const timeS = Float64Array.from({ length: row.N }, (_, i) => i / 16);
    const bounds = Array.from({ length: 36 }, (_, k) =>
      boundOf(timeS, 1, row.zeta, (2 * Math.PI * k) / 36, 0.02),
    );
    const rms = (of: (bound: (typeof bounds)[0]) => number) =>
      Math.sqrt(bounds.reduce((sum, bound) => sum + of(bound) ** 2, 0) / 36);
    expectClose(
      rms((bound) => bound.hz),
      row.rel_sigma_f,
      { rel: 2e-4, why: 'derivatives by differences; the table has seven digits' },
    );
    // The decay rate is 2π f ζ/√(1 − ζ²), so ln of it varies by δf/f + δζ/(ζ (1 − ζ²)).
    expectClose(
      rms((bound) => bound.dampingRatio) / (row.zeta * (1 - row.zeta ** 2)),
      Math.hypot(row.rel_sigma_alpha, row.rel_sigma_f),
      { rel: 2e-3, why: 'frequency and decay rate hang together by less, over all phases' },
    );
  });
});
