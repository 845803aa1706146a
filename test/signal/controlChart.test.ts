import { describe, expect, test } from 'vitest';
import { CHART_LIMIT, movingAverage, movingRangeSd } from '../../src/signal/controlChart.js';
import { expectClose } from '../helpers/closeTo.js';

describe('movingRangeSd', () => {
  test('the worked example of flow rates', () => {
    // Source: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2 (from memory; recomputed): ten batches, mean 50.81,
    // mean moving range 1.8778, limits 45.8159 and 55.8041 (with d2 = 1.128).
    const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    const mean = flow.reduce((sum, value) => sum + value, 0) / flow.length;
    const sd = movingRangeSd(flow);
    expectClose(mean, 50.81, { abs: 1e-9, why: 'printed with two decimals' });
    expectClose(mean + CHART_LIMIT * sd, 55.8041, { abs: 0.003, why: 'the Handbook rounds d2 to 1.128' });
    expectClose(mean - CHART_LIMIT * sd, 45.8159, { abs: 0.003, why: 'the Handbook rounds d2 to 1.128' });
  });

  test('one value has no range', () => {
    expect(() => movingRangeSd([1])).toThrow(/two values/);
  });
});

describe('movingAverage', () => {
  // Source: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4, worked example (from memory; the averages were
  // recomputed): target 50, s 2.0539, weight 0.3, limits 52.5884 and 47.4115.
  const values = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
    52.4, 53.6, 52.1,
  ];
  const averages = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
    49.92, 50.73, 51.23, 51.94, 51.99,
  ];
  const chart = movingAverage(
    values.map((value) => ({ value, sd: 2.0539 })),
    { value: 50, sd: 0 },
    0.3,
  );

  test('the averages of the worked example', () => {
    chart.forEach(({ value }, i) => {
      expectClose(value, averages[i]!, { abs: 0.00501, why: 'printed with two decimals' });
    });
  });

  test('its limits, which the exact ones reach after a few values', () => {
    expectClose(50 + CHART_LIMIT * chart.at(-1)!.sd, 52.5884, {
      abs: 2e-4,
      why: 'printed with four decimals',
    });
  });

  test('no average of the example passes a limit, as the Handbook says', () => {
    expect(chart.every(({ value, sd }) => Math.abs(value - 50) < CHART_LIMIT * sd)).toBe(true);
  });

  test('an uncertain target is in every distance', () => {
    const many = Array.from({ length: 60 }, () => ({ value: 1, sd: 0 }));
    expectClose(movingAverage(many, { value: 1, sd: 0.2 }).at(-1)!.sd, 0.2, {
      abs: 1e-9,
      why: 'nothing of the start is left after 60 values',
    });
  });
});
