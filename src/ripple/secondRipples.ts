import type { Estimate } from '../core/estimate.js';
import type { Hz } from '../core/units.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import {
  bandAmplitudes,
  besideOther,
  countBands,
  decayPerS,
  freedomOf,
  jointCost,
  moveFit,
  searchJoint,
  withoutOther,
  type BandAmplitude,
  type JointFit,
} from './jointFit.js';
import { LEAST_DAMPING, MOST_DAMPING } from './searchBand.js';
import { typeA } from './typeA.js';

/** Ripples of a second swing of the machine, beside the first, whose amplitude is the larger one. */
export interface SecondRipples {
  /** Damped frequency; type A only. */
  readonly frequencyHz: Estimate;
  readonly dampingRatio: Estimate;
  /** Amplitude at the leading corner ÷ the first's, root mean square over the heights. */
  readonly share: number;
  /**
   * How much the first's frequency changes when both are fitted, as a share of it, where the two overlap too much to be
   * told apart for certain; undefined where they do not, and the second was taken out.
   */
  readonly moves: number | undefined;
  /** Its fit beside the first, so that several photos of one axis can be fitted together. */
  readonly fit: JointFit;
}

/** Both swings, and the profiles without the second. */
export interface TwoSwings {
  readonly first: JointFit;
  readonly second: SecondRipples;
  readonly without: Profiles;
}

/** The first swing beside a second one that may be there, but does not stand out enough to be told and taken out. */
export interface DoubtfulSwing {
  readonly beside: JointFit;
}

/** Where a second frequency is looked for, ÷ the first; what is slower is taken for background. */
const REACH = { low: 0.58, high: 1.95 } as const;
const SEARCH_STEP = 1.025;
const SEARCH_DAMPINGS = [0.035, 0.12] as const;
/**
 * Chi-square for each band that a second swing must explain: at the resolution of the search, and at the full one. It is
 * about the square of its signal-to-noise ratio. What else stands out so of drawn faces without one (tuning seeds) has no
 * decay, or is less than a tenth as strong as the ripples, whose shape the light changes by as much.
 */
const SUSPECT_CHI_SQUARE = 5;
const LEAST_CHI_SQUARE = 12;
const LEAST_SHARE = 0.12;
/** Its damping ratio must lie so many standard uncertainties above 0: on drawn faces what passes for a swing by chance has up to 3.5, true ones mostly 5 and more. */
const LEAST_DECAY = 4;
/** Each is fitted beside the other in turn, until neither moves by more than this share, or so often. */
const ROUNDS = 4;
const ARRIVED = 1e-4;
/**
 * Squared scalar product of two damped lines ÷ their energies above which one does in part what the other does, and light
 * that changes along the wall imitates a second one.
 */
const MOST_OVERLAP = 0.5;

/**
 * Looks for a second frequency in what the first leaves: another mode of the machine, or the move along the wall that
 * rings as well. Both are then fitted together, each beside the other in turn until neither moves (the minimum of the
 * joint cost, reached one pair of variables at a time).
 * @param profiles - The profiles that were fitted; not modified.
 * @param fit - Their fit, at full resolution.
 * @param coarse - The same ripples at a resolution to search with.
 * @returns Both; the first beside a second that is too faint to be told; or undefined where nothing else stands out.
 */
export function secondRipples(
  profiles: Profiles,
  fit: JointFit,
  coarse: JointFit,
): TwoSwings | DoubtfulSwing | undefined {
  if (fit.dampingRatio < LEAST_DAMPING) return undefined;
  const found = searchJoint(besideOther(coarse.problem, coarse), {
    frequenciesHz: frequenciesFor(fit.frequencyHz),
    dampingRatios: SEARCH_DAMPINGS,
  });
  if (found === undefined || !(gainOf(coarse, coarse, found) > SUSPECT_CHI_SQUARE)) return undefined;
  const { problem } = fit;
  let one = fit;
  let other = moveFit(besideOther(problem, one), found);
  for (let round = 0; round < ROUNDS; round += 1) {
    const before = [one, other];
    one = moveFit(besideOther(problem, other), one);
    other = moveFit(besideOther(problem, one), other);
    if ([one, other].every((now, i) => hasArrived(now, before[i]!))) break;
  }
  const overlap = overlapOf(one, other);
  const size = { one: rms(bandAmplitudes(one)), other: rms(bandAmplitudes(other)) };
  const swings = isRinging(one, fit) && isRinging(other, fit) && Math.min(size.one, size.other) > 0;
  if (!swings) return undefined;
  const gain = gainOf(fit, one, other);
  const merged = overlap > MOST_OVERLAP;
  // Of what overlaps, the amplitudes say nothing: the fit alone is the first.
  const [first, second, share] =
    merged || size.one >= size.other
      ? [one, other, size.other / size.one]
      : [other, one, size.one / size.other];
  if (share < LEAST_SHARE) return undefined;
  // The stronger one is what the fit alone stands at; what a fainter one may do to it is no reason to exchange them.
  if (!(gain > LEAST_CHI_SQUARE)) return gain > SUSPECT_CHI_SQUARE ? { beside: one } : undefined;
  const sds = typeA(second);
  if (second.dampingRatio < LEAST_DECAY * sds.dampingRatio) return undefined;
  const described = {
    frequencyHz: { value: second.frequencyHz, sd: sds.frequencyHz },
    dampingRatio: { value: second.dampingRatio, sd: sds.dampingRatio },
    share,
    fit: second,
  };
  if (merged) {
    const moves = Math.abs(first.frequencyHz / fit.frequencyHz - 1);
    return { first: fit, second: { ...described, moves }, without: profiles };
  }
  return {
    first,
    second: { ...described, moves: undefined },
    without: withoutOther(profiles, problem, second),
  };
}

function hasArrived(now: JointFit, before: JointFit): boolean {
  const moved = [now.frequencyHz / before.frequencyHz, now.dampingRatio / before.dampingRatio];
  return moved.every((ratio) => Math.abs(ratio - 1) < ARRIVED);
}

function frequenciesFor(firstHz: Hz): readonly Hz[] {
  const count = Math.ceil(Math.log(REACH.high / REACH.low) / Math.log(SEARCH_STEP));
  return Array.from({ length: count + 1 }, (_, k) => firstHz * REACH.low * SEARCH_STEP ** k);
}

/** A decay of ringing, at a frequency that can be told from the background. */
function isRinging({ frequencyHz, dampingRatio }: JointFit, alone: JointFit): boolean {
  const ratio = frequencyHz / alone.frequencyHz;
  return (
    dampingRatio > LEAST_DAMPING && dampingRatio < MOST_DAMPING && ratio > REACH.low && ratio < REACH.high
  );
}

/** Chi-square for each band by which two swings fit better than one. */
function gainOf(alone: JointFit, first: JointFit, second: JointFit): number {
  const { problem, weights } = alone;
  const bands = countBands(problem);
  const both = besideOther(problem, second);
  const left = jointCost(both, first.frequencyHz, first.dampingRatio, weights);
  const before = jointCost(problem, alone.frequencyHz, alone.dampingRatio, weights);
  return ((before - left) / left) * (freedomOf(both) / bands);
}

/** 4σ₁σ₂ ÷ ((σ₁ + σ₂)² + (ω₁ − ω₂)²): the closed form of ∫ e^{(λ₁ + λ̄₂)t} dt; 0 far apart, 1 the same. */
function overlapOf(first: JointFit, second: JointFit): number {
  const [a, b] = [first, second].map((one) => decayPerS(one.frequencyHz, one.dampingRatio)) as [
    number,
    number,
  ];
  const apart = 2 * Math.PI * (first.frequencyHz - second.frequencyHz);
  return (4 * a * b) / ((a + b) ** 2 + apart ** 2);
}

/** Root mean square over the bands, noise taken off. */
function rms(amplitudes: readonly (BandAmplitude | undefined)[]): number {
  const bands = amplitudes.filter((band) => band !== undefined);
  const sum = bands.reduce((all, { amplitude: { re, im }, sd }) => all + re * re + im * im - 2 * sd * sd, 0);
  return Math.sqrt(Math.max(0, sum) / Math.max(1, bands.length));
}
