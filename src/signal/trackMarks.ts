import { nextPowerOfTwo, realSpectrum } from './fft.js';
import { MAD_TO_SD, median } from './median.js';
import { interpolatePeak } from './peak.js';
import { fitProjectiveLine, positionOn, spacingOn, type ProjectiveLine } from './projectiveLine.js';

/** Evenly divided marks that were found in a profile. */
export interface MarkSeries {
  /** Whole numbers of the marks, ascending, from an arbitrary one; and where each lies, samples. */
  readonly numbers: readonly number[];
  readonly positions: readonly number[];
  /** Where each should lie. */
  readonly line: ProjectiveLine;
  /** Robust standard deviation of a mark about its place, samples. */
  readonly markSd: number;
  /** Share of the marks between the first and the last that lie in their places. */
  readonly share: number;
}

/** Windows in which the local spacing is looked for, samples; the best one counts. */
const WINDOWS = [128, 256, 512, 1024] as const;
/** A spacing is looked for from just over the sampling limit up to a window of so many marks. */
const LEAST_SPACING = 2.4;
const LEAST_PER_WINDOW = 6;
/** Least share of a window's power that lies at one frequency and its harmonics. */
const LEAST_PEAK_SHARE = 0.3;
/** The spacing is followed by the marks of the last so many. */
const MEMORY = 8;
/** A mark counts as there with this share of the usual contrast, and the series ends where so many are not. */
const LEAST_CONTRAST = 0.25;
const MOST_MISSING = 5;
const LEAST_MARKS = 15;
/** Share of the marks between the first and the last that must lie in their places: in noise it is up to 0.8. */
const LEAST_SHARE = 0.85;
/** Tukey's biweight at 95 % efficiency (Beaton & Tukey 1974; from memory). */
const TUKEY = 4.685;
/** What an individual mark's place is good for at best, samples: keeps the weights finite on noiseless data. */
const FLOOR_SD = 1e-4;
/** Marks that stray more than this share of their spacing are no even divisions. */
const MOST_STRAY = 0.12;

/**
 * Finds evenly divided marks in a profile: their spacing by the spectrum of short windows, each mark's place by the
 * phase at that spacing, one mark after the other from the clearest window outwards, and a projective map of
 * number to place that leaves out what strays.
 * @param profile - Evenly sampled brightness, sample i at i + 0.5, shape (n,); not modified.
 * @returns The marks, at their brightest or darkest phase whichever is the narrower, or undefined when there are none.
 */
export function trackMarks(profile: Float64Array): MarkSeries | undefined {
  const start = clearestWindow(profile);
  if (start === undefined) return undefined;
  const usual = Math.abs(contrastAt(profile, start.middle, start.spacing).size);
  if (!(usual > 0)) return undefined;
  const first = centred(profile, start.middle, start.spacing);
  if (first === undefined) return undefined;
  const after = follow(profile, first, start.spacing, 1, usual);
  const before = follow(profile, first, start.spacing, -1, usual);
  return settleMarks(profile, [...before.reverse(), { number: 0, position: first }, ...after]);
}

/** A mark of a scale: which it is, and where it lies, samples. */
export interface Mark {
  readonly number: number;
  readonly position: number;
}

/**
 * The projective map through marks that are nearly known, those that stray left out; each is measured again where the
 * map has it, with the map's own spacing.
 * @param profile - Evenly sampled brightness, sample i at i + 0.5, shape (n,); not modified.
 * @param known - The marks, ascending.
 * @returns The marks that lie in their places, or undefined when too few do.
 */
export function settleMarks(profile: Float64Array, known: readonly Mark[]): MarkSeries | undefined {
  if (known.length < LEAST_MARKS) return undefined;
  let marks = known;
  let weights = new Float64Array(marks.length).fill(1);
  const PASSES = 6;
  for (let pass = 0; pass < PASSES; pass += 1) {
    const line = fitProjectiveLine(
      marks.map(({ number }) => number),
      marks.map(({ position }) => position),
      weights,
    );
    if (line === undefined) return undefined;
    marks = marks.map(({ number }) => {
      const at = positionOn(line, number);
      return { number, position: at + contrastAt(profile, at, Math.abs(spacingOn(line, number))).ahead };
    });
    const strays = marks.map(({ number, position }) => position - positionOn(line, number));
    const sd = Math.max(FLOOR_SD, MAD_TO_SD * median(strays.map(Math.abs)));
    weights = Float64Array.from(strays, (stray) => Math.max(0, 1 - (stray / (TUKEY * sd)) ** 2) ** 2);
    if (pass < PASSES - 1) continue;
    const spacing = Math.abs(spacingOn(line, line.middle));
    const kept = marks.filter((_, i) => weights[i]! > 0);
    const span = kept.at(-1)!.number - kept[0]!.number + 1;
    const share = kept.length / span;
    if (!(sd < MOST_STRAY * spacing) || kept.length < LEAST_MARKS || share < LEAST_SHARE) return undefined;
    return {
      numbers: kept.map(({ number }) => number),
      positions: kept.map(({ position }) => position),
      line,
      markSd: sd,
      share,
    };
  }
  return undefined;
}

/** The window whose power lies most at one spacing and its harmonics. */
function clearestWindow(profile: Float64Array): { middle: number; spacing: number } | undefined {
  let best: { middle: number; spacing: number; share: number } | undefined;
  for (const size of WINDOWS) {
    if (size > profile.length) break;
    for (let from = 0; from + size <= profile.length; from += size / 2) {
      const peak = peakOf(profile.subarray(from, from + size));
      if (peak.share > Math.max(LEAST_PEAK_SHARE, best?.share ?? 0)) {
        best = { middle: from + size / 2, spacing: peak.spacing, share: peak.share };
      }
    }
  }
  return best;
}

function peakOf(window: Float64Array): { spacing: number; share: number } {
  const n = window.length;
  const mean = window.reduce((sum, value) => sum + value, 0) / n;
  const padded = new Float64Array(2 * nextPowerOfTwo(n));
  for (let i = 0; i < n; i += 1) {
    padded[i] = (window[i]! - mean) * 0.5 * (1 - Math.cos((2 * Math.PI * (i + 0.5)) / n));
  }
  const { re, im } = realSpectrum(padded);
  const power = re.map((value, k) => value * value + im[k]! * im[k]!);
  const perBin = 1 / padded.length;
  const low = Math.ceil(LEAST_PER_WINDOW / n / perBin);
  const high = Math.floor(1 / LEAST_SPACING / perBin);
  let top = low;
  let total = 0;
  for (let k = low / 2; k < power.length; k += 1) total += power[Math.floor(k)]!;
  for (let k = low; k <= high; k += 1) if (power[k]! > power[top]!) top = k;
  const at = top + interpolatePeak(power, top);
  // A Hann window's peak is four bins wide, eight once padded.
  let inPeaks = 0;
  for (let harmonic = 1; harmonic * at < power.length; harmonic += 1) {
    const centre = Math.round(harmonic * at);
    for (let k = centre - 4; k <= centre + 4; k += 1) inPeaks += power[k] ?? 0;
  }
  return { spacing: 1 / (at * perBin), share: total > 0 ? Math.min(1, inPeaks / total) : 0 };
}

/**
 * Complex contrast of one period about a place: its size, and how far on the darkest (or brightest) phase lies.
 * The window of two periods, Hann, has zeros at no frequency and at twice the frequency, so that a slow change of
 * brightness does not count.
 */
function contrastAt(profile: Float64Array, at: number, spacing: number): { size: number; ahead: number } {
  const from = Math.max(0, Math.ceil(at - spacing - 0.5));
  const to = Math.min(profile.length - 1, Math.floor(at + spacing - 0.5));
  let [re, im, weights, mean] = [0, 0, 0, 0];
  for (let i = from; i <= to; i += 1) {
    const w = 0.5 * (1 + Math.cos((Math.PI * (i + 0.5 - at)) / spacing));
    weights += w;
    mean += w * profile[i]!;
  }
  mean /= weights;
  for (let i = from; i <= to; i += 1) {
    const u = (i + 0.5 - at) / spacing;
    const w = 0.5 * (1 + Math.cos(Math.PI * u));
    re += w * (profile[i]! - mean) * Math.cos(2 * Math.PI * u);
    im += w * (profile[i]! - mean) * Math.sin(2 * Math.PI * u);
  }
  return {
    size: (2 * Math.hypot(re, im)) / weights,
    ahead: (spacing * Math.atan2(-im, -re)) / (2 * Math.PI),
  };
}

/** The darkest phase nearest to a place. */
function centred(profile: Float64Array, at: number, spacing: number): number | undefined {
  let place = at;
  for (let pass = 0; pass < 3; pass += 1) place += contrastAt(profile, place, spacing).ahead;
  return place > spacing && place < profile.length - spacing ? place : undefined;
}

/** Marks from one on, in one direction, until they stop. */
function follow(
  profile: Float64Array,
  first: number,
  firstSpacing: number,
  direction: 1 | -1,
  usual: number,
): Mark[] {
  const marks: Mark[] = [];
  const recent: Mark[] = [{ number: 0, position: first }];
  let spacing = firstSpacing;
  let missing = 0;
  for (let number = direction; missing <= MOST_MISSING; number += direction) {
    const last = recent.at(-1)!;
    const expected = last.position + (number - last.number) * spacing;
    if (expected < spacing || expected > profile.length - spacing) break;
    const { size, ahead } = contrastAt(profile, expected, spacing);
    if (size < LEAST_CONTRAST * usual || Math.abs(ahead) > spacing / 4) {
      missing += 1;
      continue;
    }
    missing = 0;
    const mark = { number, position: expected + ahead };
    marks.push(mark);
    recent.push(mark);
    if (recent.length > MEMORY) recent.shift();
    spacing = slopeOf(recent, spacing);
  }
  return marks;
}

/** Spacing by a straight line through recent marks, drawn towards what it was while they are few. */
function slopeOf(marks: readonly Mark[], before: number): number {
  const n = marks.length;
  const k = marks.reduce((sum, mark) => sum + mark.number, 0) / n;
  const x = marks.reduce((sum, mark) => sum + mark.position, 0) / n;
  let [kk, kx] = [0, 0];
  for (const { number, position } of marks) {
    kk += (number - k) ** 2;
    kx += (number - k) * (position - x);
  }
  const PRIOR = 20; // as much as five marks in a row tell
  return (kx + PRIOR * before) / (kk + PRIOR);
}
