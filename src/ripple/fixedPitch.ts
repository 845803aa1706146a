import type { Estimate } from '../core/estimate.js';
import type { Mm } from '../core/units.js';
import type { Profiles, Wall } from '../profiles/makeProfiles.js';
import { nextPowerOfTwo, realSpectrum } from '../signal/fft.js';
import { fitSine, type SineFit } from '../signal/fitSine.js';
import { median } from '../signal/median.js';
import { interpolatePeak } from '../signal/peak.js';
import { hann } from '../signal/windows.js';
import { LEAST_CONTRAST } from './jointFit.js';

/** A pattern that repeats at a fixed distance whatever the speed: belt teeth, motor steps, a pulley. */
export interface FixedPitch {
  readonly pitchMm: Estimate;
  /** Relative contrast of its line in the median profile. */
  readonly amplitude: Estimate;
}

/** Where to look: ripples have died out there mostly, a pattern has not. */
export interface FarWall {
  readonly wall: Wall;
  readonly fromMm: Mm;
}

/** More of them are left in. */
export const MAX_PATTERNS = 4;
/** A pattern whose pitch is this near the ripple's spacing may not be projected out: it would take the ripple along. */
export const PITCH_GUARD = 0.05;
/** Pitches that are looked for, mm: from a few px to several in a segment of the wall. */
const PITCHES_MM = [0.5, 5] as const;
/** A line must stand this far out of the median of the spectrum: 1 in 10⁴ noise bins reaches 3.6 times. */
const LINE_CONTRAST = 6;
const PADDING = 4;
const LEAST_COLUMNS = 60;
const LEAST_PITCHES = 4;
/** Half-overlapping segments: a pattern's contrast changes along the wall with the light, even its sign. */
const SEGMENTS = 3;

/**
 * Finds the strongest pattern of fixed pitch in the median profile of all bands: a pattern belongs to the
 * position and keeps its phase over the height, ringing turns over and averages out.
 * @param profiles - Profiles of the face.
 * @param far - Where to look.
 * @param known - Pitches found before; their surroundings are passed over.
 * @returns The strongest line, or undefined when none stands out.
 */
export function findFixedPitch(
  profiles: Profiles,
  far: FarWall,
  known: readonly Mm[],
): FixedPitch | undefined {
  const spectrum = segmentSpectra(profiles, far);
  if (spectrum === undefined) return undefined;
  const { mean, perBin, resolution, low, high } = spectrum;
  const floor = median(mean.slice(low, high + 1));
  let best: number | undefined;
  for (let k = low; k <= high; k += 1) {
    const isPeak = mean[k]! >= mean[k - 1]! && mean[k]! >= mean[k + 1]!;
    const isNew = known.every((pitch) => Math.abs(k * perBin - 1 / pitch) > 1.5 * resolution);
    if (!isPeak || !isNew || !standsOut(mean[k]!, floor)) continue;
    if (best === undefined || mean[k]! > mean[best]!) best = k;
  }
  return best === undefined ? undefined : lineAt(spectrum, best, floor);
}

/**
 * Measures a fixed pitch within 5 % of a guess on the far wall.
 * @param profiles - Profiles of the face.
 * @param far - Where to look.
 * @param guessMm - Approximate pitch.
 * @returns The highest line near the guess, or undefined when none stands out or the wall is too short.
 */
export function measureFixedPitch(profiles: Profiles, far: FarWall, guessMm: Mm): FixedPitch | undefined {
  const spectrum = segmentSpectra(profiles, far);
  if (spectrum === undefined) return undefined;
  const { mean, perBin, low, high } = spectrum;
  const from = Math.max(low, Math.floor(1 / (1.05 * guessMm) / perBin));
  const to = Math.min(high, Math.ceil(1 / (0.95 * guessMm) / perBin));
  if (from > to) return undefined;
  let best = from;
  for (let k = from; k <= to; k += 1) if (mean[k]! > mean[best]!) best = k;
  const floor = median(mean.slice(low, high + 1));
  // The highest of a few noise bins is no pattern: what does not stand out is not taken out.
  return standsOut(mean[best]!, floor) ? lineAt(spectrum, best, floor) : undefined;
}

/** Out of the noise, and out of rounding where a burnt-out wall has no noise. */
function standsOut(line: number, floor: number): boolean {
  return line >= LINE_CONTRAST * floor && line > LEAST_CONTRAST;
}

/** The segments of the far wall and their amplitude spectrum over cycles per mm. */
interface SegmentSpectra {
  readonly segments: readonly { readonly x: Float64Array; readonly y: Float64Array }[];
  /** Root mean square over the segments: phases of a line need not agree between them. */
  readonly mean: Float64Array;
  readonly perBin: number;
  /** 1 ÷ length of a segment, cycles per mm. */
  readonly resolution: number;
  readonly low: number;
  readonly high: number;
}

function segmentSpectra(profiles: Profiles, far: FarWall): SegmentSpectra | undefined {
  const { stepMm } = profiles;
  const { y } = medianProfile(profiles, far, PITCHES_MM[1]);
  const length = Math.floor((2 * y.length) / (SEGMENTS + 1));
  if (length < LEAST_COLUMNS) return undefined;
  const window = hann(length);
  const total = window.reduce((sum, weight) => sum + weight, 0);
  const segments = Array.from({ length: SEGMENTS }, (_, s) => {
    const part = y.slice(Math.floor((s * length) / 2), Math.floor((s * length) / 2) + length);
    return { x: part.map((_value, i) => i * stepMm), y: part };
  });
  const each = segments.map((segment) => {
    const padded = new Float64Array(nextPowerOfTwo(PADDING * length));
    window.forEach((weight, i) => (padded[i] = weight * segment.y[i]!));
    const { re, im } = realSpectrum(padded);
    return re.map((value, k) => (2 * Math.hypot(value, im[k]!)) / total);
  });
  const mean = each[0]!.map((_, k) => Math.hypot(...each.map((size) => size[k]!)) / Math.sqrt(SEGMENTS));
  const perBin = 1 / (stepMm * nextPowerOfTwo(PADDING * length));
  const resolution = 1 / (length * stepMm);
  const low = Math.max(1, Math.ceil(Math.max(1 / PITCHES_MM[1], LEAST_PITCHES * resolution) / perBin));
  const high = Math.min(mean.length - 2, Math.floor(1 / PITCHES_MM[0] / perBin));
  return high - low < 4 * PADDING ? undefined : { segments, mean, perBin, resolution, low, high };
}

/** The line at a bin: a sine fitted to each segment, uncertain by their scatter. */
function lineAt(spectrum: SegmentSpectra, bin: number, floor: number): FixedPitch {
  const guess = (bin + interpolatePeak(spectrum.mean, bin)) * spectrum.perBin;
  const fits = spectrum.segments.map(({ x, y }) => fitSine(x, y, guess));
  // A segment in which the light hides the pattern says little about its pitch.
  const weights = fits.map((fit) => fit.amplitude.value ** 2);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const average = (of: (fit: SineFit) => number) =>
    fits.reduce((sum, fit, i) => sum + weights[i]! * of(fit), 0) / total;
  const cycles = average((fit) => fit.cyclesPerUnit.value);
  const scatter = Math.sqrt(average((fit) => (fit.cyclesPerUnit.value - cycles) ** 2) / (SEGMENTS - 1));
  return {
    pitchMm: { value: 1 / cycles, sd: scatter / (cycles * cycles) },
    amplitude: { value: average((fit) => fit.amplitude.value), sd: floor },
  };
}

/**
 * Subtracts a pattern whose pitch is so near the ripples' spacing that it cannot be told from them where they are
 * strong: measured where they have died out, and continued to the corner.
 * @param profiles - Profiles of the face; not modified.
 * @param far - Where the ripples have died out.
 * @param pitchMm - The pattern's pitch.
 * @returns Profiles without it, or the same where the far wall is too short to measure it.
 */
export function withoutPattern(profiles: Profiles, far: FarWall, pitchMm: Mm): Profiles {
  // A mean over whole pitches holds nothing of the pattern itself.
  const windowMm = Math.ceil(PITCHES_MM[1] / pitchMm) * pitchMm;
  const { x, y } = medianProfile(profiles, far, windowMm);
  if (x.length < LEAST_COLUMNS) return profiles;
  const { cyclesPerUnit, amplitude, phaseRad } = fitSine(x, y, 1 / pitchMm);
  const pattern = profiles.positionsMm.map(
    (position) => amplitude.value * Math.cos(2 * Math.PI * cyclesPerUnit.value * position + phaseRad),
  );
  return less(profiles, pattern);
}

/**
 * Profiles less what all heights have in common.
 * @param profiles - Profiles of the face; not modified.
 * @param pattern - What to take out of each, shape (positions,).
 * @returns The profiles that are left.
 */
export function less(profiles: Profiles, pattern: Float64Array): Profiles {
  const bands = profiles.bands.map((band) => ({
    ...band,
    values: band.values.map((value, i) => value - pattern[i]!),
  }));
  return { ...profiles, bands };
}

/** Median over the bands on an even grid, less its moving mean; a masked slot is 0. */
function medianProfile(
  profiles: Profiles,
  far: FarWall,
  windowMm: Mm,
): { readonly x: Float64Array; readonly y: Float64Array } {
  const columns = [...profiles.positionsMm.keys()].filter((i) => {
    const x = profiles.positionsMm[i]!;
    return x > far.fromMm && x < far.wall.endMm;
  });
  const column = new Float64Array(profiles.bands.length);
  const level = Float64Array.from(columns, (i) => {
    for (let k = 0; k < column.length; k += 1) column[k] = profiles.bands[k]!.values[i]!;
    return median(column);
  });
  const use = columns.map((i) => profiles.usable[i]!);
  const half = Math.round(windowMm / 2 / profiles.stepMm);
  const y = level.map((value, i) => {
    if (use[i] === 0) return 0;
    let sum = 0;
    let count = 0;
    for (let k = Math.max(0, i - half); k <= Math.min(level.length - 1, i + half); k += 1) {
      sum += use[k]! * level[k]!;
      count += use[k]!;
    }
    return value - sum / count;
  });
  return { x: Float64Array.from(columns, (i) => profiles.positionsMm[i]!), y };
}
