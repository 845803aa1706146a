import type { DampingRatio, Hz } from '../core/units.js';
import { extraInsensitive } from './extraInsensitive.js';
import type { Impulses } from './impulses.js';
import { naturalHz } from './oscillator.js';
import { spacedByHalfPeriods, TOLERATED_VIBRATION } from './unitShaper.js';

export type { Impulses } from './impulses.js';

/** Families of input shapers by their names in the literature. */
export const SHAPER_FAMILIES = ['ZV', 'ZVD', 'ZVDD', 'EI', '2-hump EI', '3-hump EI'] as const;
export type ShaperFamily = (typeof SHAPER_FAMILIES)[number];

/** What a shaper was built for. */
export interface Shaper {
  readonly family: ShaperFamily;
  /** Frequency it was built for. */
  readonly hz: Hz;
  /** Damping ratio it was built for, 0 to below 1. */
  readonly dampingRatio: DampingRatio;
  /** Whether `hz` is the natural or the damped frequency; they differ by √(1 − ζ²). */
  readonly hzMeans: 'natural' | 'damped';
}

/**
 * Impulses of a shaper by published theory. ZV, ZVD, ZVDD and EI are exact for every damping ratio. The
 * hump shapers are exact without damping; with damping their amplitudes are scaled by 1, K, K², … at half
 * damped periods, which is an approximation: their nulls then are no longer exact zeros.
 * @param shaper - Family, frequency and damping ratio.
 * @returns Amplitudes (sum 1) and times (first 0).
 * @throws {RangeError} When the frequency is not positive or the damping ratio is outside 0 to below 1 (for
 * EI: 0 to 0.5).
 * @see Singer & Seering, J. Dyn. Syst. Meas. Control 112, 1990 (ZV, ZVD, ZVDD); Singhose, Seering & Singer,
 * J. Mech. Design 116, 1994 (EI); Singhose, Porter, Tuttle & Singer, J. Dyn. Syst. Meas. Control 119, 1997
 * (hump shapers). All from memory; checked against test/reference/shapers.json.
 */
export function shaperImpulses(shaper: Shaper): Impulses {
  const { family, hz, dampingRatio, hzMeans } = shaper;
  if (!(hz > 0 && hz < Infinity)) throw new RangeError(`Expected a frequency > 0 Hz but received ${hz}.`);
  if (!(dampingRatio >= 0 && dampingRatio < 1)) {
    throw new RangeError(`Expected a damping ratio from 0 to below 1 but received ${dampingRatio}.`);
  }
  const { amplitudes, periods } =
    family === 'EI' ? extraInsensitive(dampingRatio) : spacedByHalfPeriods(UNDAMPED[family], dampingRatio);
  const builtForHz = hzMeans === 'natural' ? hz : naturalHz(hz, dampingRatio);
  return { amplitudes, timesS: periods.map((period) => period / builtForHz) };
}

/** Undamped amplitudes at 0, T/2, T, … up to a common factor. */
const UNDAMPED: Readonly<Record<Exclude<ShaperFamily, 'EI'>, readonly number[]>> = {
  ZV: [1, 1],
  ZVD: [1, 2, 1],
  ZVDD: [1, 3, 3, 1],
  '2-hump EI': twoHump(TOLERATED_VIBRATION),
  '3-hump EI': threeHump(TOLERATED_VIBRATION),
};

/** Singhose, Porter, Tuttle & Singer 1997 (from memory): X = ∛(V²(1 + √(1 − V²))). */
function twoHump(tolerated: number): readonly number[] {
  const square = tolerated * tolerated;
  const x = Math.cbrt(square * (1 + Math.sqrt(1 - square)));
  const outer = (3 * x * x + 2 * x + 3 * square) / (16 * x);
  return [outer, 0.5 - outer, 0.5 - outer, outer];
}

/** Singhose, Porter, Tuttle & Singer 1997 (from memory). */
function threeHump(tolerated: number): readonly number[] {
  const outer = (1 + 3 * tolerated + 2 * Math.sqrt(2 * (tolerated + tolerated * tolerated))) / 16;
  const next = (1 - tolerated) / 4;
  return [outer, next, 1 - 2 * (outer + next), next, outer];
}
