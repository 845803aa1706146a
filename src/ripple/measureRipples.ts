import type { Estimate } from '../core/estimate.js';
import type { DampingRatio, Hz, Mm } from '../core/units.js';
import type { PrintSettings } from '../print/settle.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import { percentile } from '../signal/median.js';
import { clamp } from '../core/vector.js';
import { checkAcceleration, type AccelerationCheck } from './accelerationCheck.js';
import { beginsAtBothEnds } from './bothEnds.js';
import { doublingOf } from './doubling.js';
import {
  findFixedPitch,
  MAX_PATTERNS,
  measureFixedPitch,
  PITCH_GUARD,
  withoutPattern,
  type FixedPitch,
} from './fixedPitch.js';
import {
  bandAmplitudes,
  decayPerS,
  fitAt,
  fitJoint,
  jointCost,
  measuredRows,
  mendedProfiles,
  moveFit,
  searchJoint,
  noisePull,
  setUpJoint,
  withSquares,
  withoutOutliers,
  type BandAmplitude,
  type JointFit,
  type JointGrid,
  type JointOptions,
} from './jointFit.js';
import { lateDamping } from './lateDamping.js';
import { asFixedPitch, sharedPattern, withoutShared, type SharedPattern } from './sharedPattern.js';
import { phaseTurn, type PhaseTurn } from './phaseTurn.js';
import { LEAST_DAMPING, SEARCH_HZ } from './searchBand.js';
import { secondRipples, type SecondRipples } from './secondRipples.js';
import { typeA } from './typeA.js';

/** What repeats along the wall, over all heights together. */
export interface Ripples {
  readonly wall: Wall;
  readonly fit: JointFit;
  /** Damped frequency; the uncertainty is type A only (what scatter of this photo's bands shows). */
  readonly frequencyHz: Estimate;
  readonly dampingRatio: Estimate;
  /** Of the wall beyond one decay length; undefined when too little of it is left. */
  readonly lateDampingRatio: DampingRatio | undefined;
  /** The told acceleration held against others. */
  readonly acceleration: AccelerationCheck;
  /** One for each band of the profiles, undefined where it has too few columns or no texture. */
  readonly amplitudes: readonly (BandAmplitude | undefined)[];
  /** 75th percentile of amplitude ÷ its standard error. */
  readonly signalToNoise: number;
  /** Amplitude at 2f ÷ amplitude at f: light from the front doubles ripples. Undefined where nothing stands out at f. */
  readonly doubling: Estimate | undefined;
  /** Where ripples turn over along the wall; undefined where they do not. */
  readonly phaseTurn: PhaseTurn | undefined;
  /** Patterns without decay that were taken out. */
  readonly fixedPitches: readonly FixedPitch[];
  /** What the same profiles would be taken for if something that is not known for certain were otherwise. */
  readonly otherwise: readonly OtherReading[];
  /** What was fitted has no decay even after taking patterns out. */
  readonly undamped: boolean;
  /** Ripple energy near the far end ÷ near the leading corner: above `SWAPPED_ENDS` the ends look swapped. */
  readonly endRatio: number;
  /** The same before any pattern was taken out: ripples of the other corner pass for a pattern that grows. */
  readonly endRatioBefore: number;
  /** Ripples were fitted from both ends: layers are printed in alternating directions, as told or as it looks. */
  readonly bothEnds: boolean;
  /** Ripples of a second swing that were taken out; undefined where none stand out. */
  readonly second: SecondRipples | undefined;
}

/** The ripples, if one thing that is not known for certain were otherwise. */
export interface OtherReading {
  /**
   * `near-pattern`: less was taken out of a pattern of nearly the ripples' spacing. `taken-second`: less was taken out of
   * a second swing. `faint-second`: a second swing that is
   * too faint to be told is fitted beside them. The others were not told, and are changed: acceleration and corner speed
   * by a factor, the move along the wall from shaped to unshaped.
   */
  readonly cause:
    | 'near-pattern'
    | 'taken-second'
    | 'faint-second'
    | 'assumed-acceleration'
    | 'assumed-corner-speed'
    | 'assumed-along-wall';
  /** How many standard uncertainties one such change stands for; signed. */
  readonly sds: number;
  readonly frequencyHz: Hz;
  readonly amplitudes: readonly (BandAmplitude | undefined)[];
}

/**
 * The far third of the wall must hold this much more energy than the near one before the ends look swapped:
 * five standard deviations of the ratio for white noise on a face of 50 bands × 200 columns a third,
 * √(2 · 2 ÷ 10,000) = 2 %.
 */
export const SWAPPED_ENDS = 1.1;

/**
 * Chi-square above which a pattern of nearly the ripples' spacing is taken out: on drawn faces without one it stays
 * below 70 (130 tuning seeds), with one that moves the null by over a standard uncertainty it lies in the hundreds.
 * Where one is known to be there, what is left of it counts sooner.
 */
const SHARED_CHI_SQUARE = { first: 100, known: 50 };
const SHARED_ROUNDS = 6;
/** How well such a pattern, or a second swing, is known, relative standard uncertainty: makes 95 % intervals hold (40 tuning seeds). */
const TAKEN_OUT_SD = 0.3;
/**
 * What is assumed lies in the middle of 2000 to 8000 mm/s² and of 2 to 25 mm/s (common practice, no source): standard
 * deviation of a rectangular distribution of the logarithm, ln 2 ÷ √3 and ln 3.5 ÷ √3 (GUM, JCGM 100:2008, 4.3.7).
 */
const ASSUMED_FACTOR = { acceleration: Math.exp(0.4), cornerSpeed: Math.exp(0.72) };
/** Shaped or not are the two ends of a rectangular distribution: its standard deviation is 1/√3 of half its width. */
const EITHER_WAY = 1 / Math.sqrt(3);
/** An undamped line that explains this nearly as much counts as undamped. */
const UNDAMPED_COST = 1.0005;
/** A pattern that outshines the ripples is measured from here on, mm behind the corner. */
const NEAR_WALL_MM: Mm = 8;
/** Decay lengths after which ripples have died out: 5 % of their amplitude is left. */
const DECAYED = 3;
/** Ratio of one trial frequency of the search to the next. */
const SEARCH_STEP = 1.035;
const SEARCH_DAMPING = [0.004, 0.035, 0.12] as const;
const SEARCH_CUTOFF_HZ = 11;
/** Standard uncertainties by which ripples at twice the frequency must stand out to be fitted beside the others. */
const DOUBLED = 3;
/** Of what the search leaves, outliers may make up the rest before it is made again without them. */
const SCRATCHED = 0.8;
/** Travel maps of the search: enough of them to come near. */
const SEARCH_GROUPS = 3;
const SEARCH_GRID: JointGrid = {
  frequenciesHz: Array.from(
    { length: Math.ceil(Math.log(SEARCH_HZ.high / SEARCH_HZ.low) / Math.log(SEARCH_STEP)) },
    (_, k) => SEARCH_HZ.low * SEARCH_STEP ** k,
  ),
  dampingRatios: SEARCH_DAMPING,
};
/** Begun without damping, a search from both ends stays at a pattern, which four columns follow a little better than two. */
const BOTH_ENDS_GRID: JointGrid = { ...SEARCH_GRID, dampingRatios: [0.035, 0.07, 0.12] };

/**
 * Finds the ripples of a wall: frequency and damping shared by all heights, amplitude at each.
 * @param profiles - Profiles of the face.
 * @param settings - The print's settings.
 * @param assumed - Fields of the print record that were not told: the ripples are fitted with other values, too.
 * @returns The ripples, or undefined when the wall is too short or too much of it is spoilt.
 */
export function measureRipples(
  profiles: Profiles,
  settings: PrintSettings,
  assumed: ReadonlySet<string> = new Set(),
): Ripples | undefined {
  const wall = profiles.walls[0]!;
  if (profiles.bands.length === 0) return undefined;
  const speed = settings.speedMmPerS.value;
  const fromNear = { wall, fromMm: wall.startMm + NEAR_WALL_MM };
  const pitches: FixedPitch[] = settings.knownPitchesMm
    .map((pitch) => measureFixedPitch(profiles, fromNear, pitch))
    .filter((pitch) => pitch !== undefined);
  const coarse = halveResolution(profiles);
  // A proof print's heights are told apart by their acceleration, not by a ladder that turns them over.
  const isProof = settings.accelerationLadder !== undefined;
  const bothEnds = settings.direction === 'alternates';
  const fromBothEnds = (found: JointFit | undefined): boolean =>
    found !== undefined &&
    !isProof &&
    !bothEnds &&
    beginsAtBothEnds(coarse, settings, wall, searchOptions(pitches), BOTH_ENDS_GRID, found, endRatio(found));
  const again = () => measureRipples(profiles, { ...settings, direction: 'alternates' }, assumed);
  let search = searchFit(coarse, settings, wall, pitches);
  if (fromBothEnds(search)) return again();
  const endRatioBefore = search === undefined ? 0 : endRatio(search);
  for (let round = 0; round < MAX_PATTERNS && search !== undefined && isUndamped(search); round += 1) {
    const found = measureFixedPitch(profiles, fromNear, speed / search.frequencyHz);
    if (found === undefined || pitches.some((pitch) => isNear(pitch.pitchMm.value, found.pitchMm.value)))
      break;
    pitches.push(found);
    search = searchFit(coarse, settings, wall, pitches);
    // A pattern may hide that ripples come from both ends; left unnoticed, they would pass for a pattern themselves.
    if (fromBothEnds(search)) return again();
  }
  if (search === undefined) return undefined;
  const frequencyHz = search.frequencyHz;
  const spacing = spacingMm(speed, frequencyHz);
  // Weaker patterns show where the ripples have died out: three decay lengths from the corner.
  const decayMm = speed / decayPerS(frequencyHz, Math.max(LEAST_DAMPING, search.dampingRatio));
  const far = { wall, fromMm: wall.startMm + Math.max(NEAR_WALL_MM, DECAYED * decayMm) };
  while (pitches.length < MAX_PATTERNS) {
    const known = [spacing, ...pitches.map((pitch) => pitch.pitchMm.value)];
    const found = findFixedPitch(profiles, far, known);
    if (found === undefined) break;
    pitches.push(found);
  }
  // Projected out, a pattern this near would take the ripples with it.
  const close = pitches.filter((pitch) => isNear(pitch.pitchMm.value, spacing));
  const apart = pitches.filter((pitch) => !close.includes(pitch));
  const options = { cutoffHz: frequencyHz / 2, pitchesMm: apart.map((pitch) => pitch.pitchMm.value) };
  const near = { frequencyHz, dampingRatio: search.dampingRatio };
  let clean = close.reduce((left, pitch) => withoutPattern(left, far, pitch.pitchMm.value), profiles);
  let fitted = fitNear(clean, settings, wall, options, near);
  // A pattern that is nearly the ripples' spacing shows by not changing with the ladder.
  const shared: SharedPattern[] = [];
  for (let round = 0; round < SHARED_ROUNDS && fitted !== undefined; round += 1) {
    const pattern = sharedPattern(roughly(fitted), spacingMm(speed, fitted.fit.frequencyHz));
    const isKnown = close.length + shared.length > 0;
    if (pattern === undefined || !(pattern.chiSquare > SHARED_CHI_SQUARE[isKnown ? 'known' : 'first'])) break;
    clean = withoutShared(clean, pattern);
    shared.push(pattern);
    fitted = fitNear(clean, settings, wall, options, fitted.fit);
  }
  if (fitted === undefined) return undefined;
  const patternless = clean;
  const two = isProof ? undefined : secondRipples(clean, fitted.fit, roughly(fitted));
  const told = two !== undefined && 'second' in two ? two : undefined;
  if (told !== undefined && told.second.moves === undefined) {
    clean = told.without;
    options.cutoffHz = told.first.frequencyHz / 2;
    fitted = fitNear(clean, settings, wall, options, told.first);
    if (fitted === undefined) return undefined;
  }
  const { coarse: cleanCoarse, fit, doubling } = fitted;
  const sds = typeA(fit);
  const rough = { ...options, maxGroups: 2 };
  // Where little of the ripples is left, a faint scratch outweighs them; the whole wall tells it from them.
  const mended = halveResolution(mendedProfiles(clean, fit.problem));
  const amplitudes = bandAmplitudes(fit);
  const ratios = amplitudes
    .filter((band) => band !== undefined)
    .filter((band) => band.sd > 0)
    .map((band) => Math.hypot(band.amplitude.re, band.amplitude.im) / band.sd);
  return {
    wall,
    fit,
    frequencyHz: { value: fit.frequencyHz, sd: sds.frequencyHz },
    dampingRatio: { value: fit.dampingRatio, sd: sds.dampingRatio },
    lateDampingRatio: lateDamping(mended, settings, wall, rough, fit),
    acceleration: checkAcceleration(cleanCoarse, settings, wall, rough, fit),
    amplitudes,
    signalToNoise: ratios.length === 0 ? 0 : percentile(ratios, 75),
    doubling,
    phaseTurn: phaseTurn(cleanCoarse, settings, wall, rough, fit),
    fixedPitches: [...pitches, ...(close.length > 0 ? [] : shared.slice(0, 1).map(asFixedPitch))],
    otherwise: [
      ...otherReadings({ raw: profiles, patternless, clean, settings, wall, options, fit, assumed }),
      ...(two !== undefined && 'beside' in two ? [besideSecond(two.beside)] : []),
    ],
    undamped: fit.dampingRatio < LEAST_DAMPING,
    endRatio: endRatio(fit),
    endRatioBefore,
    bothEnds,
    second: told?.second,
  };
}

/** What the other readings are made of. */
interface Fitted {
  /** The profiles as they were, without patterns of nearly the ripples' spacing, and without a second swing as well. */
  readonly raw: Profiles;
  readonly patternless: Profiles;
  readonly clean: Profiles;
  readonly settings: PrintSettings;
  readonly wall: Wall;
  readonly options: Omit<JointOptions, 'maxGroups'>;
  readonly fit: JointFit;
  readonly assumed: ReadonlySet<string>;
}

/** The ripples beside a second swing that may be there. */
function besideSecond(beside: JointFit): OtherReading {
  return {
    cause: 'faint-second',
    sds: 1,
    frequencyHz: beside.frequencyHz,
    amplitudes: bandAmplitudes(beside),
  };
}

/** The fit with each setting that was not told as it might be instead, and with as much more of a near pattern. */
function otherReadings(fitted: Fitted): readonly OtherReading[] {
  const { raw, patternless, clean, settings, wall, options, fit, assumed } = fitted;
  const read = (
    cause: OtherReading['cause'],
    profiles: Profiles,
    change: Partial<PrintSettings>,
    sds = 1,
  ): OtherReading[] => {
    const other = fitNear(profiles, { ...settings, ...change }, wall, options, fit)?.fit;
    if (other === undefined) return [];
    return [{ cause, sds, frequencyHz: other.frequencyHz, amplitudes: bandAmplitudes(other) }];
  };
  const accelerationMmPerS2 = settings.accelerationMmPerS2 * ASSUMED_FACTOR.acceleration;
  // It must stay below the print speed.
  const cornerSpeedMmPerS = Math.min(
    settings.cornerSpeedMmPerS * ASSUMED_FACTOR.cornerSpeed,
    settings.speedMmPerS.value / 2,
  );
  return [
    ...(raw === patternless ? [] : read('near-pattern', withMore(clean, raw, patternless), {})),
    ...(patternless === clean ? [] : read('taken-second', withMore(clean, patternless, clean), {})),
    ...(assumed.has('accelerationMmPerS2')
      ? read('assumed-acceleration', clean, { accelerationMmPerS2 })
      : []),
    ...(assumed.has('cornerSpeedMmPerS') ? read('assumed-corner-speed', clean, { cornerSpeedMmPerS }) : []),
    ...(assumed.has('shaper.alongWall')
      ? read('assumed-along-wall', clean, { alongWall: 'off' }, EITHER_WAY)
      : []),
  ];
}

/** Profiles with as much of what was taken out as is uncertain of it. */
function withMore(profiles: Profiles, before: Profiles, after: Profiles): Profiles {
  const bands = profiles.bands.map((band, k) => {
    const [more, less] = [before.bands[k]!.values, after.bands[k]!.values];
    return { ...band, values: band.values.map((value, i) => value + TAKEN_OUT_SD * (more[i]! - less[i]!)) };
  });
  return { ...profiles, bands };
}

/** Ripples of profiles whose patterns are out. */
interface NearFit {
  /** The profiles at half the resolution, and where the fit of them stands. */
  readonly coarse: Profiles;
  readonly plain: JointFit;
  readonly fit: JointFit;
  readonly doubling: Estimate | undefined;
}

/** Ripples of profiles whose patterns are out, from where they were found roughly to the last step. */
function fitNear(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  options: Omit<JointOptions, 'maxGroups'>,
  near: { readonly frequencyHz: Hz; readonly dampingRatio: DampingRatio },
): NearFit | undefined {
  const coarse = halveResolution(profiles);
  const zeta = clamp(near.dampingRatio, [0.012, 0.25]);
  // Where to begin at full resolution: half of it tells the minimum to a small part of its uncertainty.
  const plain = fitJoint(setUpJoint(coarse, settings, wall, { ...options, maxGroups: SEARCH_GROUPS }), {
    frequenciesHz: Array.from({ length: 9 }, (_, i) => near.frequencyHz * (0.9 + 0.025 * i)),
    dampingRatios: [0.7 * zeta, zeta, Math.min(0.3, 1.4 * zeta)],
  });
  if (plain === undefined) return undefined;
  const problem = setUpJoint(profiles, settings, wall, { ...options, maxGroups: 6 });
  const first = moveFit(withSquares(problem, true), plain);
  const doubling = doublingOf(bandAmplitudes(first), first.weights);
  // Columns of squares that are not there only let noise in.
  const doubled = doubling !== undefined && doubling.value > DOUBLED * doubling.sd;
  const clear = withSquares(withoutOutliers(first), doubled);
  const fit = moveFit(clear, first, noisePull({ ...first, problem: clear }));
  return { coarse, plain, fit, doubling };
}

/** At half the resolution and in few travel maps enough is seen of what lies beside the ripples. */
function roughly({ plain, fit }: NearFit): JointFit {
  return fitAt(withoutOutliers(plain), fit.frequencyHz, fit.dampingRatio);
}

/** Too near to be told apart, or taken out one without the other. */
function isNear(aMm: Mm, bMm: Mm): boolean {
  return Math.abs(aMm / bMm - 1) <= PITCH_GUARD;
}

function searchOptions(pitches: readonly FixedPitch[]): JointOptions {
  return {
    cutoffHz: SEARCH_CUTOFF_HZ,
    pitchesMm: pitches.map((pitch) => pitch.pitchMm.value),
    maxGroups: SEARCH_GROUPS,
  };
}

function searchFit(
  profiles: Profiles,
  settings: PrintSettings,
  wall: Wall,
  pitches: readonly FixedPitch[],
): JointFit | undefined {
  const problem = setUpJoint(profiles, settings, wall, searchOptions(pitches));
  const grid = settings.direction === 'alternates' ? BOTH_ENDS_GRID : SEARCH_GRID;
  const found = searchJoint(problem, grid);
  if (found === undefined) return undefined;
  // A scratch all the way up hides the ripples from the search, and what it finds leaves most of the scratch.
  const clear = withoutOutliers(found);
  return jointCost(clear, found.frequencyHz, found.dampingRatio, found.weights) < SCRATCHED * found.cost
    ? searchJoint(clear, grid)
    : found;
}

/** Every second bin's worth of profile: enough to find the ripples, at half the cost. */
function halveResolution(profiles: Profiles): Profiles {
  const count = Math.floor(profiles.positionsMm.length / 2);
  const pairs = (values: Float64Array) =>
    Float64Array.from({ length: count }, (_, i) => (values[2 * i]! + values[2 * i + 1]!) / 2);
  return {
    ...profiles,
    stepMm: 2 * profiles.stepMm,
    positionsMm: pairs(profiles.positionsMm),
    usable: Uint8Array.from(
      { length: count },
      (_, i) => profiles.usable[2 * i]! & profiles.usable[2 * i + 1]!,
    ),
    bands: profiles.bands.map(({ missing, ...band }) => ({
      ...band,
      values: pairs(band.values),
      ...(missing === undefined
        ? {}
        : { missing: Uint8Array.from({ length: count }, (_, i) => missing[2 * i]! | missing[2 * i + 1]!) }),
    })),
  };
}

/** No decay, or an undamped line close by explains as much. */
function isUndamped(fit: JointFit): boolean {
  if (fit.dampingRatio < LEAST_DAMPING) return true;
  for (let k = -12; k <= 12; k += 1) {
    const frequencyHz = fit.frequencyHz * (1 + 0.0025 * k);
    if (jointCost(fit.problem, frequencyHz, 0.002, fit.weights) <= fit.cost * UNDAMPED_COST) return true;
  }
  return false;
}

/** Energy of the background-free profiles in the last third of the wall against the first. */
function endRatio(fit: JointFit): number {
  let near = 0;
  let far = 0;
  for (const group of fit.problem.groups) {
    const third = Math.floor(group.timeS.length / 3);
    for (const y of measuredRows(group)) {
      for (let i = 0; i < third; i += 1) {
        near += y[i]! * y[i]!;
        far += y[y.length - 1 - i]! * y[y.length - 1 - i]!;
      }
    }
  }
  return near === 0 ? 0 : far / near;
}

/**
 * Spacing of the ripples on the steady part of the wall.
 * @param speedMmPerS - Print speed.
 * @param frequencyHz - Damped frequency.
 * @returns Spacing λ = v / f_d, mm.
 */
export function spacingMm(speedMmPerS: number, frequencyHz: Hz): Mm {
  return speedMmPerS / frequencyHz;
}
