import { RECTANGULAR } from '../core/estimate.js';
import type { Estimate } from '../core/estimate.js';
import type { Mm } from '../core/units.js';
import { dot } from '../core/vector.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { solveSymmetric } from '../signal/leastSquares.js';
import { less, type FixedPitch } from './fixedPitch.js';
import { bandAmplitudes, besideRipples, type BesideRipples, type JointFit } from './jointFit.js';

/** A pattern of fixed pitch that is nearly the ripples' spacing, the same at all heights. */
export interface SharedPattern {
  readonly pitchMm: Estimate;
  /** Factors of cos and −sin of 2π x/pitch, x from the leading corner; relative contrast. */
  readonly re: number;
  readonly im: number;
  /** Chi-square by which ripples with it fit better than without. */
  readonly chiSquare: number;
}

/** How far from the spacing such a pitch is looked for, as a share: a bit more than what may be projected out. */
const REACH = 0.08;
/** Of the ripples' phase over the wall's length, one pitch to the next: a fifth of a turn apart, none is missed by more than a tenth. */
const STEP_TURNS = 0.2;
const RIDGE = 1e-9;

/**
 * Looks for a pattern whose pitch is nearly the ripples' spacing. Where ripples are strong nothing tells the two apart
 * in one profile; but the pattern belongs to the place and is the same at all heights, while the ladder changes the
 * ripples. What a pattern would leave beside the ripples of a fit is therefore split, over the heights, into a constant
 * part and one that follows the ripples' amplitude, which is what ripples of a slightly other shape leave.
 * @param fit - The joint fit.
 * @param spacingMm - Spacing of the ripples.
 * @returns The pattern that explains most, or undefined where no band is used.
 */
export function sharedPattern(fit: JointFit, spacingMm: Mm): SharedPattern | undefined {
  const amplitudes = bandAmplitudes(fit).map((band) => band?.amplitude);
  const followed = (band: number) => [amplitudes[band]?.re ?? 0, amplitudes[band]?.im ?? 0];
  const lengthMm = Math.max(...fit.problem.groups.map(({ positionsMm: x }) => x[x.length - 1]! - x[0]!));
  if (!Number.isFinite(lengthMm)) return undefined;
  const steps = Math.ceil((REACH * lengthMm) / spacingMm / STEP_TURNS);
  // Of a rectangular distribution over one step: GUM (JCGM 100:2008) 4.3.7.
  const stepSd = (RECTANGULAR * REACH) / steps;
  let best: SharedPattern | undefined;
  for (let k = -steps; k <= steps; k += 1) {
    const pitchMm = spacingMm * (1 + (REACH * k) / steps);
    const wave = (turn: (phase: number) => number, sign: number) => (positionsMm: Float64Array) =>
      positionsMm.map((x) => sign * turn((2 * Math.PI * x) / pitchMm));
    const beside = besideRipples(fit, (x) => [wave(Math.cos, 1)(x), wave(Math.sin, -1)(x)]);
    const whole = explainedBy(beside, fit.weights, (band) => [1, ...followed(band)]);
    const without = explainedBy(beside, fit.weights, followed);
    if (whole === undefined || without === undefined) continue;
    const chiSquare = whole.energy - without.energy;
    if (best === undefined || chiSquare > best.chiSquare) {
      best = {
        pitchMm: { value: pitchMm, sd: stepSd * pitchMm },
        re: whole.factors[0] ?? 0,
        im: whole.factors[1] ?? 0,
        chiSquare,
      };
    }
  }
  return best;
}

/**
 * Least squares over the bands: both columns' factors are linear in what a band is described by.
 * @returns Energy that is explained, and the factors, two for each term.
 */
function explainedBy(
  beside: readonly BesideRipples[],
  weights: Float64Array,
  termsOf: (band: number) => readonly number[],
): { readonly energy: number; readonly factors: Float64Array } | undefined {
  const size = 2 * termsOf(0).length;
  const matrix = new Float64Array(size * size);
  const rhs = new Float64Array(size);
  for (const { band, products, gram } of beside) {
    const weight = weights[band] ?? 0;
    termsOf(band).forEach((a, i, terms) => {
      for (let p = 0; p < 2; p += 1) {
        rhs[2 * i + p] = (rhs[2 * i + p] ?? 0) + weight * a * (products[p] ?? 0);
        terms.forEach((b, j) => {
          for (let q = 0; q < 2; q += 1) {
            const at = (2 * i + p) * size + 2 * j + q;
            matrix[at] = (matrix[at] ?? 0) + weight * a * b * (gram[2 * p + q] ?? 0);
          }
        });
      }
    });
  }
  let trace = 0;
  for (let i = 0; i < size; i += 1) trace += matrix[i * size + i] ?? 0;
  for (let i = 0; i < size; i += 1) {
    const at = i * size + i;
    matrix[at] = (matrix[at] ?? 0) * (1 + RIDGE) + Number.MIN_VALUE;
  }
  const factors = solveSymmetric(matrix, rhs);
  return factors && trace > 0 ? { energy: dot(factors, rhs), factors } : undefined;
}

/**
 * Profiles without a shared pattern.
 * @param profiles - The profiles; not modified.
 * @param pattern - What to take out, at all heights alike.
 * @returns The profiles that are left.
 */
export function withoutShared(profiles: Profiles, { pitchMm, re, im }: SharedPattern): Profiles {
  const pattern = profiles.positionsMm.map((x) => {
    const phase = (2 * Math.PI * x) / pitchMm.value;
    return re * Math.cos(phase) - im * Math.sin(phase);
  });
  return less(profiles, pattern);
}

/**
 * A shared pattern as one of the patterns that were set aside.
 * @param pattern - The pattern, as first found.
 * @returns Pitch and amplitude; the latter with what chi-square says of its noise.
 */
export function asFixedPitch({ pitchMm, re, im, chiSquare }: SharedPattern): FixedPitch {
  const value = Math.hypot(re, im);
  return { pitchMm, amplitude: { value, sd: value / Math.sqrt(chiSquare) } };
}
