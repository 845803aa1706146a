import { describe, expect, it } from 'vitest';
import { expectClose } from '../helpers/closeTo.js';
import { readCsv } from '../helpers/readReference.js';
import { cornerResponse, rateAtCorner, responseAt, wallOfLayer, type Corner, type Mode } from './motion.js';
import { residualOf, shaperOf, type Impulse } from './shapers.js';

const CORNER: Corner = { speedMmPerS: 105, accelerationMmPerS2: 5500, cornerSpeedMmPerS: 6, widthMm: 80 };
const MODE: Mode = { naturalHz: 38, dampingRatio: 0.07 };
const NONE: readonly Impulse[] = [{ share: 1, lateS: 0 }];
const RAMP_S = (CORNER.speedMmPerS - CORNER.cornerSpeedMmPerS) / CORNER.accelerationMmPerS2;

/**
 * Rate of the axis relative to its command, in closed form: braking begins with a step of acceleration, ends with
 * another at t = 0, and there the command's rate jumps by the corner speed. Each answer is that of ẍ + 2ζωẋ + ω²x = u
 * to a step, u·e^{−ζωt} sin(ω_d t)/ω_d, and to a jump of rate, its derivative.
 */
function exactRate(corner: Corner, mode: Mode, t: number): number {
  const omega = 2 * Math.PI * mode.naturalHz;
  const damped = omega * Math.sqrt(1 - mode.dampingRatio ** 2);
  const grow = -mode.dampingRatio * omega;
  const step = (s: number) => (s < 0 ? 0 : (Math.exp(grow * s) * Math.sin(damped * s)) / damped);
  const jump = (s: number) =>
    s < 0 ? 0 : Math.exp(grow * s) * (Math.cos(damped * s) + (grow / damped) * Math.sin(damped * s));
  const rampS = (corner.speedMmPerS - corner.cornerSpeedMmPerS) / corner.accelerationMmPerS2;
  const a = corner.accelerationMmPerS2;
  return a * step(t + rampS) - a * step(t) + corner.cornerSpeedMmPerS * jump(t);
}

describe('the step-by-step integrator against closed forms', () => {
  const modes: readonly Mode[] = [
    MODE,
    { naturalHz: 22, dampingRatio: 0.03 },
    { naturalHz: 90, dampingRatio: 0.15 },
  ];

  // Source: closed form, superposition of the second-order system's step responses (any textbook of vibrations).
  it.each(modes)('rate through braking and corner: %o', (mode) => {
    const response = cornerResponse(CORNER, mode, 0.8);
    const times = Array.from({ length: 4000 }, (_, i) => -0.02 + i * 0.0002 + 0.000013);
    const exact = times.map((t) => exactRate(CORNER, mode, t));
    const largest = Math.max(...exact.map(Math.abs));
    expectClose(
      times.map((t) => responseAt(response, t)[1]),
      exact,
      { abs: 2e-5 * largest, why: 'straight lines between steps of 20 µs: (ω·step)²/8 is 1.6e-5 at 90 Hz' },
    );
  });

  it.each(modes)('followed back to the corner it is the swing of the closed form: %o', (mode) => {
    const response = cornerResponse(CORNER, mode, 0.8);
    const across = shaperOf('ZV', 41, 0.1);
    const omega = 2 * Math.PI * mode.naturalHz;
    const damped = omega * Math.sqrt(1 - mode.dampingRatio ** 2);
    const grow = -mode.dampingRatio * omega;
    // The envelope at a late time, from two samples a quarter of a swing apart of the sum over the impulses.
    const rate = (t: number) =>
      across.reduce((sum, { share, lateS }) => sum + share * exactRate(CORNER, mode, t - lateS), 0);
    const at = 0.1;
    const quarter = Math.PI / 2 / damped;
    const [one, other] = [rate(at), rate(at + quarter) * Math.exp(-grow * quarter)];
    const envelope = Math.hypot(one, other) * Math.exp(-grow * at);
    expectClose(rateAtCorner(response, mode, across), envelope, {
      rel: 3e-5,
      why: 'the same straight lines',
    });
  });
});

describe('the swing after braking', () => {
  // Source: test/reference/corner_ringing_amplitude.csv, closed form and quadrature: X = (2a/ω²)|sin(ωΔv/2a)|.
  const rows = readCsv('corner_ringing_amplitude.csv', ['dv', 'a', 'f', 'X_closed']).filter(
    ({ a }) => a < 1e6,
  );
  it('there are rows to check', () => {
    expect(rows.length).toBeGreaterThanOrEqual(5);
  });
  it.each(rows)('Δv $dv mm/s at $a mm/s², $f Hz', ({ dv, a, f, X_closed: wanted }) => {
    const corner = { speedMmPerS: dv, accelerationMmPerS2: a, cornerSpeedMmPerS: 1e-9, widthMm: 80 };
    const mode = { naturalHz: f, dampingRatio: 0 };
    const swing = rateAtCorner(cornerResponse(corner, mode, 0.1), mode, NONE) / (2 * Math.PI * f);
    expectClose(swing, wanted, { abs: 1e-7, rel: 1e-6, why: 'the table has nine digits; steps of 20 µs' });
  });
});

describe('the wall of a layer', () => {
  const places = Float64Array.from({ length: 800 }, (_, i) => (i + 0.5) / 10);

  // Source: closed form, v² = v₀² + 2ax.
  it('the nozzle is where constant acceleration brings it', () => {
    const { timeS } = wallOfLayer(CORNER, [], NONE, NONE, places);
    const rampMm = (CORNER.speedMmPerS ** 2 - CORNER.cornerSpeedMmPerS ** 2) / 2 / CORNER.accelerationMmPerS2;
    const wanted = places.map((x) => {
      if (x > rampMm) return RAMP_S + (x - rampMm) / CORNER.speedMmPerS;
      const root = Math.sqrt(CORNER.cornerSpeedMmPerS ** 2 + 2 * CORNER.accelerationMmPerS2 * x);
      return (root - CORNER.cornerSpeedMmPerS) / CORNER.accelerationMmPerS2;
    });
    const steady = places.length - 12;
    expectClose(timeS.slice(0, steady), wanted.slice(0, steady), {
      abs: 1e-8,
      why: 'Newton stops at 0.1 nm',
    });
    expect(timeS[799]).toBeGreaterThan(wanted[799]!);
  });

  it('its slope is the rate across ÷ the speed along, shaped both ways', () => {
    const response = cornerResponse(CORNER, MODE, 3);
    const shaper = shaperOf('ZV', 30, 0.1);
    const { slope, timeS } = wallOfLayer(CORNER, [{ response, share: 1 }], shaper, shaper, places);
    const settled = [...places.keys()].filter(
      (i) => timeS[i]! > RAMP_S + shaper[1]!.lateS && places[i]! < 70,
    );
    expect(settled.length).toBeGreaterThan(500);
    expectClose(
      settled.map((i) => slope[i]!),
      settled.map(
        (i) =>
          shaper.reduce(
            (sum, { share, lateS }) => sum + share * exactRate(CORNER, MODE, timeS[i]! - lateS),
            0,
          ) / CORNER.speedMmPerS,
      ),
      { abs: 1e-5, why: 'slopes are up to 0.3, and the integrator errs by 2e-5 of that' },
    );
  });
});

describe('shapers written out again', () => {
  // Source: test/reference/shapers.json, another program's values; those of EI are taken from there and need no check.
  it.each([
    ['ZV', 0.1, [0.5782861816535916, 0.42171381834640836], [0, 0.502518907629606]],
    [
      'ZVD',
      0.05,
      [0.2907778778723478, 0.49692072127712206, 0.2123014008505301],
      [0, 0.5006261743217588, 1.0012523486435176],
    ],
  ] as const)('%s at damping ratio %d', (family, zeta, shares, periods) => {
    const found = shaperOf(family, 20, zeta);
    const why = 'the same formula in doubles';
    expectClose(
      found.map(({ share }) => share),
      shares,
      { abs: 1e-14, why },
    );
    expectClose(
      found.map(({ lateS }) => 20 * lateS),
      periods,
      { abs: 1e-14, why },
    );
  });

  // Source: test/reference/shaper_V_table.csv, exact state propagation by another program.
  const columns = ['zeta_design', 'zeta_system', 'r=f/f_s', 'V_expm'] as const;
  const rows = readCsv('shaper_V_table.csv', columns, ['shaper']);
  it.each([
    ['2-hump EI', 'EI2hump5'],
    ['3-hump EI', 'EI3hump5'],
  ] as const)('%s leaves what the exact motion does', (family, name) => {
    const own = rows.filter(({ shaper }) => shaper === name);
    expect(own.length).toBeGreaterThanOrEqual(15);
    for (const row of own) {
      const shaper = shaperOf(family, 1, row.zeta_design);
      const [ratio, zeta] = [row['r=f/f_s'], row.zeta_system];
      const decayed = Math.exp(-2 * Math.PI * ratio * zeta * shaper.at(-1)!.lateS);
      expectClose(Math.hypot(...residualOf(shaper, ratio, zeta)) * decayed, row.V_expm, {
        abs: 1e-11,
        why: 'twelve printed decimals',
      });
    }
  });
});
