import { dot, dots, subtractMultiples } from '../core/vector.js';
import type { DampingRatio, Hz, Mm, MmPerS } from '../core/units.js';
import type { Complex } from '../signal/complex.js';
import { invertSymmetric, orthonormalise } from '../signal/leastSquares.js';

/** Places of a wall at which ripples are looked at. */
export interface WallSamples {
  /** Distances from the leading corner in even steps, shape (places,). */
  readonly positionsMm: Float64Array;
  /** Travel time there, shape (places,). */
  readonly timeS: Float64Array;
  /** Print speed ÷ speed there, shape (places,). */
  readonly slowness: Float64Array;
  readonly speedMmPerS: MmPerS;
}

/** What a wall tells of ripples whose amplitude is the noise of one place. */
export interface WallInformation {
  /** Fisher matrix of damped frequency and damping ratio: [ff, fζ, ζζ], the mean over all phases. */
  readonly shape: readonly [number, number, number];
  /** Variance of each part of the complex amplitude in units of the noise's, of the mean information over all phases. */
  readonly amplitudeVariance: number;
}

/** The background is anybody's guess below this share of the ripples' frequency. */
const BACKGROUND = 0.5;
/** Steps of the derivatives, shares of frequency and damping ratio. */
const STEPS = [1e-3, 1e-2] as const;

/**
 * What one profile tells of frequency, damping and amplitude of its ripples, for anyone who knows neither amplitude,
 * phase nor the slow background: the Fisher information with those projected out.
 * @param wall - Where ripples are seen.
 * @param dampedHz - Damped frequency of the ripples.
 * @param dampingRatio - Damping ratio, above 0.
 * @returns Information for a ratio of amplitude to noise of 1; it grows with the square of that ratio.
 * @see Kay, Fundamentals of Statistical Signal Processing I, 1993, ch. 3 (from memory).
 */
export function wallInformation(
  wall: WallSamples,
  dampedHz: Hz,
  dampingRatio: DampingRatio,
): WallInformation {
  const { positionsMm, timeS, slowness, speedMmPerS } = wall;
  const first = positionsMm[0] ?? 0;
  const span = (positionsMm.at(-1) ?? 0) - first;
  const cosines = Math.round((2 * span * BACKGROUND * dampedHz) / speedMmPerS);
  const background = orthonormalise(
    Array.from({ length: cosines + 1 }, (_, j) =>
      positionsMm.map((x) => Math.cos((Math.PI * j * (x - first)) / span)),
    ),
  );
  const ripple = (f: Hz, zeta: DampingRatio): readonly Float64Array[] => {
    const sigma = (2 * Math.PI * f * zeta) / Math.sqrt(1 - zeta * zeta);
    const part = (turn: (phase: number) => number) =>
      timeS.map((t, i) => Math.exp(-sigma * t) * turn(2 * Math.PI * f * t) * (slowness[i] ?? 0));
    return [part(Math.cos), part((phase) => -Math.sin(phase))];
  };
  const without = (column: Float64Array, directions: readonly Float64Array[]) => {
    const left = column.slice();
    subtractMultiples(left, directions, dots(directions, [left]));
    return left;
  };
  const clean = ripple(dampedHz, dampingRatio).map((column) => without(column, background));
  const nuisance = [...background, ...orthonormalise(clean)];
  const slopes = [
    [STEPS[0] * dampedHz, 0],
    [0, STEPS[1] * dampingRatio],
  ].map(([hz = 0, zeta = 0]) => {
    const up = ripple(dampedHz + hz, dampingRatio + zeta);
    const down = ripple(dampedHz - hz, dampingRatio - zeta);
    return up.map((column, p) =>
      without(
        column.map((value, i) => (value - (down[p]?.[i] ?? 0)) / (2 * (hz + zeta))),
        nuisance,
      ),
    );
  });
  // Any phase is as likely as another: the mean over cosine and sine.
  const product = (a: readonly Float64Array[], b: readonly Float64Array[]) =>
    a.reduce((sum, column, p) => sum + dot(column, b[p] ?? column), 0) / a.length;
  const [byHz = [], byDamping = []] = slopes;
  return {
    shape: [product(byHz, byHz), product(byHz, byDamping), product(byDamping, byDamping)],
    amplitudeVariance: 1 / product(clean, clean),
  };
}

/** What is known of one height. */
export interface NullHeight {
  readonly heightMm: Mm;
  /** Contrast that the ripples would have without a shaper. */
  readonly gain: number;
  /** Standard deviation of each part of the amplitude. */
  readonly sd: number;
  /** What the shaper leaves of the swing of an axis. */
  readonly left: (naturalHz: Hz, dampingRatio: DampingRatio) => Complex;
}

/** What is known before anything is measured, as standard deviations. */
export interface NullPriors {
  readonly dampingRatio: DampingRatio;
  /** Odd and even part of the corner's phase error over the height, radians at its ends. */
  readonly tiltRad: number;
  readonly bowRad: number;
  /** Of the gain's Chebyshev coefficient of order 1, 2, …, contrast. */
  readonly gain: readonly number[];
}

/** What signed amplitudes over the height tell of an axis. */
export interface NullInformation {
  /** Covariance of natural frequency and damping ratio: [ff, fζ, ζζ]. */
  readonly covariance: readonly [number, number, number];
  /**
   * How far frequency and damping ratio come out wrong where the amplitudes are not what is thought.
   * @param change - What is added to each height's amplitude.
   * @returns [Hz, no unit].
   */
  readonly moved: (change: readonly Complex[]) => readonly [Hz, DampingRatio];
}

const STEP = { hz: 1e-4, dampingRatio: 1e-4 } as const;
/** Frequency, damping ratio, common phase, tilt, bow; then the gain. */
const BEFORE_GAIN = 5;

/**
 * The information that signed amplitudes over the height hold of an axis, for anyone who knows neither gain, common
 * phase nor the corner's exact place. With what is known beforehand it is the bound of van Trees (Detection, Estimation,
 * and Modulation Theory I, 1968, 2.4.3; from memory): prior information adds to the Fisher matrix.
 * @param heights - From the bottom up, at least two.
 * @param axis - Natural frequency and damping ratio of the axis.
 * @param axis.naturalHz - Natural frequency.
 * @param axis.dampingRatio - Damping ratio.
 * @param priors - What is known beforehand.
 * @param ends - Heights between which the gain's polynomials run. @default the first and the last height
 * @returns The information; undefined where the heights do not fix the axis.
 */
export function nullInformation(
  heights: readonly NullHeight[],
  axis: { readonly naturalHz: Hz; readonly dampingRatio: DampingRatio },
  priors: NullPriors,
  ends: readonly [Mm, Mm] = [heights[0]?.heightMm ?? 0, heights.at(-1)?.heightMm ?? 0],
): NullInformation | undefined {
  const { naturalHz, dampingRatio } = axis;
  const size = BEFORE_GAIN + 1 + priors.gain.length;
  const fisher = new Float64Array(size * size);
  const rows = heights.map(({ heightMm, gain, sd, left }) => {
    const u = Math.max(-1, Math.min(1, (2 * (heightMm - ends[0])) / (ends[1] - ends[0]) - 1));
    const now = left(naturalHz, dampingRatio);
    const slope = (then: Complex, step: number): Complex => ({
      re: (gain * (then.re - now.re)) / step,
      im: (gain * (then.im - now.im)) / step,
    });
    const turned = { re: -gain * now.im, im: gain * now.re };
    const times = ({ re, im }: Complex, factor: number): Complex => ({ re: factor * re, im: factor * im });
    const columns = [
      slope(left(naturalHz * (1 + STEP.hz), dampingRatio), STEP.hz * naturalHz),
      slope(left(naturalHz, dampingRatio + STEP.dampingRatio), STEP.dampingRatio),
      turned,
      times(turned, u),
      times(turned, 2 * u * u - 1),
    ];
    for (let k = 0; k <= priors.gain.length; k += 1) columns.push(times(now, Math.cos(k * Math.acos(u))));
    return { columns, weight: 1 / (sd * sd) };
  });
  for (const { columns, weight } of rows) {
    columns.forEach((a, i) => {
      columns.forEach((b, j) => {
        fisher[i * size + j] = (fisher[i * size + j] ?? 0) + weight * (a.re * b.re + a.im * b.im);
      });
    });
  }
  const know = (k: number, sd: number) => {
    fisher[k * size + k] = (fisher[k * size + k] ?? 0) + 1 / (sd * sd);
  };
  know(1, priors.dampingRatio);
  know(3, priors.tiltRad);
  know(4, priors.bowRad);
  priors.gain.forEach((sd, k) => {
    know(BEFORE_GAIN + 1 + k, sd);
  });
  const inverse = invertSymmetric(fisher, size);
  if (inverse === undefined) return undefined;
  const at = (i: number, j: number) => inverse[i * size + j] ?? 0;
  return {
    covariance: [at(0, 0), at(0, 1), at(1, 1)],
    moved: (change) => {
      const score = new Float64Array(size);
      rows.forEach(({ columns, weight }, i) => {
        const { re, im } = change[i] ?? { re: 0, im: 0 };
        columns.forEach((column, k) => {
          score[k] = (score[k] ?? 0) + weight * (column.re * re + column.im * im);
        });
      });
      const along = (row: number) => score.reduce((sum, value, k) => sum + at(row, k) * value, 0);
      return [along(0), along(1)];
    },
  };
}
