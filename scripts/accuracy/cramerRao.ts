import { fitJoint, trialColumns, type JointProblem } from '../../src/ripple/jointFit.js';
import { seeded } from '../../test/synth/random.js';

/** Runs of one signal-to-noise ratio. */
export interface CramerRaoJob {
  /** Amplitude ÷ standard deviation of the noise of one sample. */
  readonly amplitudeToNoise: number;
  readonly runs: number;
  readonly seed: number;
}

/** Sums over the runs: squares of (estimate − truth) ÷ bound. */
export interface CramerRaoSums extends CramerRaoJob {
  readonly frequencySquares: number;
  readonly dampingSquares: number;
}

/** 0.4 s of travel at 400 samples per second, as in the project's study. */
const SAMPLES = 160;
const RATE_HZ = 400;
/** The fit's own search: 12–150 Hz in steps of 3.5 %, then a narrow grid about what was found. */
const SEARCH_HZ = { low: 12, high: 150, step: 1.035 };
const SEARCH_DAMPING = [0.004, 0.035, 0.12];

/**
 * A damped sine in white noise, nothing else, through the joint fit: frequency 22–58 Hz, damping ratio 0.03–0.15, any phase.
 * @param job - How often, how noisy.
 * @returns Sums of squares.
 */
export function cramerRaoRun(job: CramerRaoJob): CramerRaoSums {
  const random = seeded(job.seed);
  const timeS = Float64Array.from({ length: SAMPLES }, (_, i) => i / RATE_HZ);
  let frequencySquares = 0;
  let dampingSquares = 0;
  for (let run = 0; run < job.runs; run += 1) {
    const hz = random.even(22, 58);
    const zeta = random.even(0.03, 0.15);
    const phase = random.even(0, 2 * Math.PI);
    const sigma = (2 * Math.PI * hz * zeta) / Math.sqrt(1 - zeta * zeta);
    const sd = 1 / job.amplitudeToNoise;
    const samples = timeS.map(
      (t) => Math.exp(-sigma * t) * Math.cos(2 * Math.PI * hz * t + phase) + sd * random.normal(),
    );
    const problem = plainProblem(timeS, samples);
    const frequenciesHz: number[] = [];
    for (let f = SEARCH_HZ.low; f < SEARCH_HZ.high; f *= SEARCH_HZ.step) frequenciesHz.push(f);
    const search = fitJoint(problem, { frequenciesHz, dampingRatios: SEARCH_DAMPING })!;
    const near = Math.max(0.012, Math.min(0.25, search.dampingRatio));
    const fit = fitJoint(problem, {
      frequenciesHz: Array.from({ length: 9 }, (_, i) => search.frequencyHz * (0.9 + 0.025 * i)),
      dampingRatios: [0.7 * near, near, 1.4 * near],
    })!;
    const bound = boundOf(timeS, hz, zeta, phase, sd);
    frequencySquares += ((fit.frequencyHz - hz) / bound.hz) ** 2;
    dampingSquares += ((fit.dampingRatio - zeta) / bound.dampingRatio) ** 2;
  }
  return { ...job, frequencySquares, dampingSquares };
}

/** One band without background, travel time as it stands. */
function plainProblem(timeS: Float64Array, samples: Float64Array): JointProblem {
  return {
    bandCount: 1,
    groups: [
      {
        bands: [0],
        columns: Array.from(timeS.keys()),
        // At 1 mm/s.
        positionsMm: timeS,
        timeS,
        speedRatio: new Float64Array(timeS.length).fill(1),
        background: [],
        profiles: [samples],
        energies: Float64Array.of(samples.reduce((sum, y) => sum + y * y, 0)),
        lateS: Float64Array.of(0),
        degreesOfFreedom: timeS.length - 2,
        squares: false,
        scratch: trialColumns(timeS.length),
      },
    ],
  };
}

/**
 * Cramér–Rao bound of frequency and damping ratio of a damped sine whose amplitude and phase are unknown too: inverse of
 * the Fisher information JᵀJ/σ² of all four (Kay, Fundamentals of Statistical Signal Processing I, 1993, ch. 3; from
 * memory). Derivatives by central differences of the closed form.
 * @param timeS - Sample times.
 * @param hz - Damped frequency.
 * @param zeta - Damping ratio.
 * @param phase - Phase, radians; the amplitude is 1.
 * @param sd - Standard deviation of the noise of one sample.
 * @returns Smallest possible standard deviations of an unbiased estimate.
 */
export function boundOf(
  timeS: Float64Array,
  hz: number,
  zeta: number,
  phase: number,
  sd: number,
): { readonly hz: number; readonly dampingRatio: number } {
  const at = ([f, z, a, p]: readonly number[], t: number) =>
    a! *
    Math.exp((-2 * Math.PI * f! * z! * t) / Math.sqrt(1 - z! * z!)) *
    Math.cos(2 * Math.PI * f! * t + p!);
  const point = [hz, zeta, 1, phase];
  const steps = [1e-4, 1e-6, 1e-5, 1e-5];
  const slopes = point.map((_, k) => {
    const moved = (by: number) => point.map((value, i) => (i === k ? value + by : value));
    const [up, down] = [moved(steps[k]!), moved(-steps[k]!)];
    return timeS.map((t) => (at(up, t) - at(down, t)) / (2 * steps[k]!));
  });
  const fisher = slopes.map((one) =>
    slopes.map((other) => one.reduce((sum, value, i) => sum + value * other[i]!, 0) / (sd * sd)),
  );
  return { hz: Math.sqrt(inverseAt(fisher, 0)), dampingRatio: Math.sqrt(inverseAt(fisher, 1)) };
}

/** Element (k, k) of the inverse: the unit vector's own solution, by elimination with row exchange. */
function inverseAt(matrix: readonly (readonly number[])[], k: number): number {
  const size = matrix.length;
  const rows = matrix.map((row, i) => [...row, i === k ? 1 : 0]);
  for (let c = 0; c < size; c += 1) {
    let best = c;
    for (let r = c; r < size; r += 1) if (Math.abs(rows[r]![c]!) > Math.abs(rows[best]![c]!)) best = r;
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = 0; r < size; r += 1) {
      if (r === c) continue;
      const share = rows[r]![c]! / rows[c]![c]!;
      for (let i = c; i <= size; i += 1) rows[r]![i]! -= share * rows[c]![i]!;
    }
  }
  return rows[k]![size]! / rows[k]![k]!;
}
