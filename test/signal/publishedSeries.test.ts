import { describe, expect, test } from 'vitest';
import { fitSine } from '../../src/signal/fitSine.js';
import { combineColumns, invertSymmetric, normalMatrix } from '../../src/signal/leastSquares.js';
import { minimise, minimise1d } from '../../src/signal/simplex.js';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv, readJson, referenceText } from '../helpers/readReference.js';

const series = readJson('series_expected.json') as {
  ENSO: {
    certified: { b: number[]; sd: number[]; rss: number; residual_sd: number; dof: number };
    amplitudes: { annual: number; b4_44month: number; b7_27month: number };
  };
  co2: Record<
    'n' | 'ls_freq_per_year' | 'ls_period_year' | 'annual_amplitude_ppm' | 'second_harmonic_ppm' | 'resid_sd',
    number
  >;
};

/** Cosine and sine of a period. */
function tone(x: Float64Array, period: number): Float64Array[] {
  const angle = x.map((value) => (2 * Math.PI * value) / period);
  return [angle.map(Math.cos), angle.map(Math.sin)];
}

/** The columns' best combination of the values, and what it leaves. */
function solved(columns: readonly Float64Array[], y: Float64Array) {
  const linear = combineColumns(columns, y)!;
  const left = y.map((value, i) =>
    columns.reduce((rest, column, k) => rest - linear[k]! * column[i]!, value),
  );
  return { linear, left, squares: left.reduce((sum, value) => sum + value * value, 0) };
}

describe('ENSO: air pressure between Easter Island and Darwin, 168 months', () => {
  // Source: NIST/ITL Statistical Reference Datasets, ENSO.dat, certified values; Kahaner, Moler & Nash 1989.
  const { certified, amplitudes } = series.ENSO;
  const rows = referenceText('ENSO.dat')
    .split(/\r?\n/)
    .slice(60)
    .filter((line) => line.trim() !== '')
    .map((line) => line.trim().split(/\s+/).map(Number) as [number, number]);
  const y = Float64Array.from(rows, ([value]) => value);
  const x = Float64Array.from(rows, ([, month]) => month);
  const columnsAt = ([b4, b7]: readonly number[]): Float64Array[] => [
    new Float64Array(x.length).fill(1),
    ...tone(x, 12),
    ...tone(x, b4!),
    ...tone(x, b7!),
  ];

  test('the file is read whole', () => {
    expect(rows).toHaveLength(168);
    expect([rows[0], rows[167]]).toEqual([
      [12.9, 1],
      [14.8, 168],
    ]);
  });

  test.each([
    ['start 1', 40, 25],
    ['start 2', 44, 26],
  ])('from %s: the two free periods, the amplitudes and their uncertainties', (_, b4Start, b7Start) => {
    const found = minimise((p) => solved(columnsAt(p), y).squares, [b4Start, b7Start], [2, 1], {
      tolerance: 1e-13,
      maxEvaluations: 2000,
    });
    const [b4, b7] = found.point as [number, number];
    expectClose([b4, b7], [certified.b[3]!, certified.b[6]!], {
      rel: 1e-6,
      why: 'six digits; a search without derivatives stops at half of double precision',
    });
    const { linear, squares } = solved(columnsAt([b4, b7]), y);
    expectClose(squares, certified.rss, { rel: 1e-10, why: 'eleven certified digits' });
    const why = 'follows the periods';
    expectClose(
      linear,
      [0, 1, 2, 4, 5, 7, 8].map((k) => certified.b[k]!),
      { rel: 1e-5, why },
    );
    expectClose(
      [1, 3, 5].map((k) => Math.hypot(linear[k]!, linear[k + 1]!)),
      [amplitudes.annual, amplitudes.b4_44month, amplitudes.b7_27month],
      { rel: 1e-6, why },
    );
    // The certified standard deviations: residual sd times the inverse of the normal matrix of all derivatives.
    const slope = (period: number, c: number, s: number) => {
      const [cos, sin] = tone(x, period) as [Float64Array, Float64Array];
      return x.map((m, i) => ((2 * Math.PI * m) / period ** 2) * (c * sin[i]! - s * cos[i]!));
    };
    const jacobian = [
      ...columnsAt([b4, b7]),
      slope(b4, linear[3]!, linear[4]!),
      slope(b7, linear[5]!, linear[6]!),
    ];
    const covariance = invertSymmetric(normalMatrix(jacobian), 9)!;
    const residualSd = Math.sqrt(squares / certified.dof);
    expectClose(residualSd, certified.residual_sd, { rel: 1e-9, why: 'eleven certified digits' });
    expectClose(
      [7, 8].map((k) => residualSd * Math.sqrt(covariance[k * 9 + k]!)),
      [certified.sd[3]!, certified.sd[6]!],
      { rel: 1e-6, why },
    );
  });

  test('the sine fit, tone by tone with the others taken out, ends beside the certified periods', () => {
    // It fits a slope that the certified model does not have, so it ends elsewhere by a part of their
    // standard deviations, 0.944 and 0.416 months.
    const periods = [12, certified.b[3]! * 1.03, certified.b[6]! * 0.97];
    const parts = periods.map(() => new Float64Array(x.length));
    for (let round = 0; round < 40; round += 1) {
      parts.forEach((_, k) => {
        const rest = y.map((value, i) =>
          parts.reduce((left, p, j) => (j === k ? left : left - p[i]!), value),
        );
        const fit = fitSine(x, rest, 1 / periods[k]!);
        periods[k] = 1 / fit.cyclesPerUnit.value;
        parts[k] = x.map(
          (m) => fit.amplitude.value * Math.cos(2 * Math.PI * fit.cyclesPerUnit.value * m + fit.phaseRad),
        );
      });
    }
    expectClose(periods[1]!, certified.b[3]!, {
      abs: 0.1 * certified.sd[3]!,
      why: 'a slope is fitted as well',
    });
    expectClose(periods[2]!, certified.b[6]!, {
      abs: 0.1 * certified.sd[6]!,
      why: 'a slope is fitted as well',
    });
  });
});

describe('carbon dioxide at Mauna Loa, weekly 1958–2001, weeks missing', () => {
  // Source: Keeling & Whorf 2004 by way of statsmodels; the year is the period that is known beforehand.
  const rows = readCsv('co2_mauna_loa_weekly.csv', ['year_decimal_minus_1958', 'co2_ppm']);
  const years = Float64Array.from(rows, (row) => row.year_decimal_minus_1958);
  const ppm = Float64Array.from(rows, (row) => row.co2_ppm);
  const middle = (years[0]! + years[years.length - 1]!) / 2;
  const trend = [0, 1, 2, 3].map((power) => years.map((year) => ((year - middle) / 22) ** power));
  const expected = series.co2;

  test('the file is read whole', () => {
    expect(rows).toHaveLength(expected.n);
  });

  test('the sine fit on the detrended series finds the year', () => {
    const fit = fitSine(years, solved(trend, ppm).left, 1.02);
    expectClose(1 / fit.cyclesPerUnit.value, 1, { rel: 1e-3, why: 'the season’s shape drifts: 0.04 %' });
    expectClose(fit.amplitude.value, expected.annual_amplitude_ppm, {
      rel: 2e-3,
      why: 'trend and second harmonic are not fitted at the same time',
    });
  });

  test('cubic trend and two harmonics give the minimum that scipy found', () => {
    // Source: least squares recomputed with scipy: test/reference/series_expected.json.
    const columnsAt = (f: number) => [...trend, ...tone(years, 1 / f), ...tone(years, 0.5 / f)];
    const { point } = minimise1d((f) => solved(columnsAt(f), ppm).squares, 0.99, 1.01, 1e-9);
    expectClose(point, expected.ls_freq_per_year, { rel: 1e-7, why: 'half of double precision' });
    const { linear, squares } = solved(columnsAt(point), ppm);
    expectClose(
      [Math.hypot(linear[4]!, linear[5]!), Math.hypot(linear[6]!, linear[7]!)],
      [expected.annual_amplitude_ppm, expected.second_harmonic_ppm],
      { rel: 1e-5, why: 'follows the frequency' },
    );
    expectClose(Math.sqrt(squares / (expected.n - 9)), expected.resid_sd, {
      rel: 1e-6,
      why: 'follows the frequency; nine parameters',
    });
  });
});
