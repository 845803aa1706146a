import { combineSd, COVERAGE_95, type Estimate } from '../core/estimate.js';
import { SHAPER_TOLERANCE } from '../core/outcome.js';
import type { DampingRatio, Hz, Mm } from '../core/units.js';
import { dampedHz } from '../physics/oscillator.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { dampingSd } from './dampingSd.js';
import { findFixedPitch, MAX_PATTERNS, PITCH_GUARD, withoutPattern } from './fixedPitch.js';
import { bandAmplitudes, decayPerS, fitAt, setUpJoint, withoutOutliers, type JointFit } from './jointFit.js';
import { spacingMm, type Ripples } from './measureRipples.js';
import { MOST_DAMPING, MOST_DECAY_U95, SEARCH_HZ } from './searchBand.js';
import { stepAmplitudes, type StepAmplitude } from './stepAmplitudes.js';

/** Where on the frequency axis the ripples of a proof print were looked at. */
export type ProofFrequency =
  /** Ripples stand out there. */
  | { readonly state: 'measured' }
  /** None do anywhere: at the frequency that the shaper is set to, with an assumed damping ratio. */
  | { readonly state: 'assumed'; readonly dampedHz: Hz; readonly dampingRatio: DampingRatio }
  /** None do, and no shaper tells the frequency: at several, the worst of which counts. */
  | { readonly state: 'range'; readonly lowHz: Hz; readonly highHz: Hz; readonly dampingRatio: DampingRatio };

/** Ripples of a proof print, whose acceleration changes over the height. */
export interface ProofRipples {
  readonly frequency: ProofFrequency;
  /** At the frequency of `frequency`; of a range as the search left them. */
  readonly ripples: Ripples;
  /** One for each step of the acceleration ladder; undefined where none of its heights could be read. */
  readonly steps: readonly (ProofStep | undefined)[];
  /**
   * Relative standard uncertainty that all amplitudes share: what is read some way behind the corner is followed back to it by
   * the decay, which is as uncertain as that is. 0 where the damping ratio is assumed.
   */
  readonly sharedSd: number;
  /** Amplitude ÷ noise of the clearest step of what the search found, ringing or not. */
  readonly clearest: number;
}

/** One acceleration. */
export interface ProofStep {
  readonly heights: number;
  /** At the leading corner, relative contrast; undefined where the ripples' frequency is not known. */
  readonly amplitude: Estimate | undefined;
  /** Standard error of each part of the complex amplitude, from noise alone. */
  readonly noise: number;
}

/**
 * A step's mean must stand so many times out of its noise before its frequency is believed: over all that is looked for, some
 * 100 resolved frequencies at 5 steps, noise reaches it in 1 of 500 prints (500 · exp(−k²/2)).
 */
export const STANDS_OUT = 5;
/** Where no ripples show: amid the 0.05 to 0.15 that machines have (common practice, no source). */
const ASSUMED_DAMPING: DampingRatio = 0.1;
/** Where axes ring (common practice, no source), and how many places of that are looked at: a line's width apart. */
const USUAL_RANGE_HZ = { low: 20, high: 100, places: 8 } as const;
/** Faint ringing in one phase all the way up looks like a pattern: patterns are measured where 1 % of it is left. */
const DIED_OUT = { decays: 5, dampingRatio: 0.05 } as const;
const MOST_GROUPS = 6;

/**
 * Amplitude of the ripples at each acceleration of a proof print. Where ripples stand out, at their own frequency and
 * damping; where none do, which is what the print is to prove, at the frequency of the shaper, so that it can be told how
 * large they would have to be to show.
 * @param profiles - Profiles of the face.
 * @param settings - The print's settings, with an acceleration ladder.
 * @param found - What repeats along the wall, whether it stands out or not.
 * @returns Ripples and their amplitudes by step, or undefined where no height of any step can be read.
 */
export function proofRipples(
  profiles: Profiles,
  settings: PrintSettings,
  found: Ripples,
): ProofRipples | undefined {
  const count = settings.accelerationLadder?.length ?? 0;
  const own = stepAmplitudes(profiles, found.fit, count);
  const clearest = Math.max(0, ...own.map((step) => (step === undefined ? 0 : sizeOf(step) / step.noise)));
  if (clearest > STANDS_OUT && isRinging(found)) {
    return {
      frequency: { state: 'measured' },
      ripples: found,
      clearest,
      ...withDamping(profiles, found, own),
    };
  }
  const dampingRatio = ASSUMED_DAMPING;
  const { ladder, shaper } = settings;
  if (ladder.kind === 'fixed') {
    const setHz = shaper.hzMeans === 'damped' ? ladder.hz : dampedHz(ladder.hz, dampingRatio);
    const fit = fitKnown(profiles, settings, found, setHz);
    if (fit === undefined) return undefined;
    const steps = stepAmplitudes(profiles, fit, count).map((step) => step && plainStep(step));
    const ripples = { ...found, fit, amplitudes: bandAmplitudes(fit) };
    return {
      frequency: { state: 'assumed', dampedHz: setHz, dampingRatio },
      ripples,
      steps,
      clearest,
      sharedSd: 0,
    };
  }
  const steps = worstSteps(profiles, settings, found, count);
  const { low: lowHz, high: highHz } = USUAL_RANGE_HZ;
  return {
    frequency: { state: 'range', lowHz, highHz, dampingRatio },
    ripples: found,
    steps,
    clearest,
    sharedSd: 0,
  };
}

/** What repeats along the wall is ringing, and its frequency can be told. */
function isRinging(found: Ripples): boolean {
  const { frequencyHz, dampingRatio, undamped } = found;
  return (
    !undamped &&
    dampingRatio.value < MOST_DAMPING &&
    frequencyHz.value >= SEARCH_HZ.low &&
    COVERAGE_95 * frequencyHz.sd <= SHAPER_TOLERANCE.ZVD * frequencyHz.value &&
    COVERAGE_95 * dampingSd(found) <= MOST_DECAY_U95 * dampingRatio.value
  );
}

function sizeOf({ amplitude }: StepAmplitude): number {
  return Math.hypot(amplitude.re, amplitude.im);
}

function plainStep(step: StepAmplitude): ProofStep {
  return { heights: step.heights, amplitude: { value: sizeOf(step), sd: step.sd }, noise: step.noise };
}

/** The damping's share of the uncertainty: what the clearest step shows is common to all, the rest is each step's own. */
function withDamping(
  profiles: Profiles,
  found: Ripples,
  own: readonly (StepAmplitude | undefined)[],
): Pick<ProofRipples, 'steps' | 'sharedSd'> {
  const { fit } = found;
  const sd = Math.min(dampingSd(found), fit.dampingRatio / 2);
  const [less, more] = [-sd, sd].map((change) =>
    stepAmplitudes(profiles, { ...fit, dampingRatio: fit.dampingRatio + change }, own.length),
  ) as [typeof own, typeof own];
  const shares = own.map((step, i) => {
    const [low, high] = [less[i], more[i]];
    return step === undefined || low === undefined || high === undefined
      ? 0
      : (sizeOf(high) - sizeOf(low)) / 2 / sizeOf(step);
  });
  const clearness = own.map((step) => (step === undefined ? 0 : sizeOf(step) / step.noise));
  const shared = shares[clearness.indexOf(Math.max(...clearness))] ?? 0;
  return {
    sharedSd: Math.abs(shared),
    steps: own.map((step, i) => {
      if (step === undefined) return undefined;
      const value = sizeOf(step);
      // Where noise is all there is, its change with the damping says nothing.
      const apart = clearness[i]! > STANDS_OUT ? value * (shares[i]! - shared) : 0;
      return { ...plainStep(step), amplitude: { value, sd: combineSd(step.sd, apart) } };
    }),
  };
}

/** Over several frequencies: the heights that all of them could read, and the largest noise. */
function worstSteps(
  profiles: Profiles,
  settings: PrintSettings,
  found: Ripples,
  count: number,
): readonly (ProofStep | undefined)[] {
  const { low, high, places } = USUAL_RANGE_HZ;
  const each = Array.from({ length: places }, (_, i) => {
    const fit = fitKnown(profiles, settings, found, low * (high / low) ** (i / (places - 1)));
    return fit === undefined ? [] : stepAmplitudes(profiles, fit, count);
  });
  return Array.from({ length: count }, (_, step) => {
    const seen = each.flatMap((steps) => steps[step] ?? []);
    return seen.length < places
      ? undefined
      : {
          heights: Math.min(...seen.map(({ heights }) => heights)),
          amplitude: undefined,
          noise: Math.max(...seen.map(({ noise }) => noise)),
        };
  });
}

/** Ripples of a frequency that is told, with patterns and scratches taken out as far as they are no such ripples. */
function fitKnown(
  profiles: Profiles,
  settings: PrintSettings,
  { wall }: Ripples,
  frequencyHz: Hz,
): JointFit | undefined {
  const speed = settings.speedMmPerS.value;
  const spacing = spacingMm(speed, frequencyHz);
  const far = {
    wall,
    fromMm: wall.startMm + (DIED_OUT.decays * speed) / decayPerS(frequencyHz, DIED_OUT.dampingRatio),
  };
  const pitches: Mm[] = [...settings.knownPitchesMm];
  while (pitches.length < MAX_PATTERNS) {
    const pattern = findFixedPitch(profiles, far, pitches);
    if (pattern === undefined) break;
    pitches.push(pattern.pitchMm.value);
  }
  const isNear = (pitchMm: Mm) => Math.abs(pitchMm / spacing - 1) <= PITCH_GUARD;
  // Projected out, a pattern this near would take the ripples with it.
  const clean = pitches
    .filter(isNear)
    .reduce((left, pitchMm) => withoutPattern(left, far, pitchMm), profiles);
  const problem = setUpJoint(clean, settings, wall, {
    cutoffHz: frequencyHz / 2,
    pitchesMm: pitches.filter((pitchMm) => !isNear(pitchMm)),
    maxGroups: MOST_GROUPS,
  });
  if (problem.groups.length === 0) return undefined;
  const first = fitAt(problem, frequencyHz, ASSUMED_DAMPING);
  return fitAt(withoutOutliers(first), frequencyHz, ASSUMED_DAMPING);
}
