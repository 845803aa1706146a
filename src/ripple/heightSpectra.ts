import { RECTANGULAR } from '../core/estimate.js';
import type { Estimate } from '../core/estimate.js';
import type { DampingRatio, Hz } from '../core/units.js';
import { nextPowerOfTwo, realSpectrum } from '../signal/fft.js';
import { median } from '../signal/median.js';
import { noisePeakChance } from '../signal/noisePeak.js';
import { interpolatePeak } from '../signal/peak.js';
import { halfHann } from '../signal/windows.js';
import { decayPerS, bandProfile, type JointFit } from './jointFit.js';
import { SEARCH_HZ } from './searchBand.js';

/** Spectrum of one profile as a function of travel time. */
export interface HeightSpectrum {
  /** Spacing of the bins, Hz. */
  readonly binHz: Hz;
  /** Amplitude spectrum, relative contrast, scaled by 2 ÷ sum of the window. Shape (bins,). */
  readonly amplitude: Float64Array;
  /** Highest line between the search limits. */
  readonly peakHz: Estimate;
  readonly peakAmplitude: number;
  /** Median of the bins between the search limits, those next to the peak left out; 0 where there are no others. */
  readonly noiseFloor: number;
  /** White noise has so high a line in less than 1 % of profiles; false where the floor is 0. */
  readonly significant: boolean;
}

/** Share of profiles of white noise that may count as significant. */
const FALSE_ALARMS = 0.01;
/** Standard deviation of time under the squared half-Hann window ÷ its length, by quadrature. */
const HALF_HANN_SPREAD = 0.165;
/**
 * Independent amplitudes in the median of a half-Hann spectrum for each resolved bin (1 ÷ length): by quadrature
 * over the correlation of the signs about the median, a Laguerre series in the correlation of the powers.
 */
const HALF_HANN_INDEPENDENT = 0.744;
/**
 * Resolved bins beside the peak that do not count as noise. Farther out the whole band does: the skirts of a
 * line with damping 0.1 still stand above the noise 20 bins away.
 */
const LINE_BINS = 4;
const PADDING = 4;
/** Rate of the even time grid, per second: four samples to the highest frequency looked for. */
const SAMPLES_PER_S = 600;
/**
 * Standard deviation of an interpolated FFT peak of a damped line over the bound for a full record:
 * 1.2–3.3 in the method study; the geometric middle is taken.
 */
const PEAK_EFFICIENCY = 2;

/**
 * FFT of one band's profile in travel time: half-Hann window from the corner, zero-padded, log-parabola peak.
 * @param fit - The joint fit, which holds the travel map and the background of the band.
 * @param band - Index of the band.
 * @returns The spectrum, or undefined where the band was not used.
 */
export function heightSpectrum(fit: JointFit, band: number): HeightSpectrum | undefined {
  const profile = bandProfile(fit, band);
  if (profile === undefined) return undefined;
  const even = resample(profile.timeS, profile.measured, profile.speedRatio);
  const window = halfHann(even.length);
  const padded = new Float64Array(nextPowerOfTwo(PADDING * even.length));
  let windowSum = 0;
  even.forEach((value, i) => {
    padded[i] = value * window[i]!;
    windowSum += window[i]!;
  });
  const { re, im } = realSpectrum(padded);
  const amplitude = re.map((value, k) => (2 * Math.sqrt(value * value + im[k]! * im[k]!)) / windowSum);
  const binHz = SAMPLES_PER_S / padded.length;
  const durationS = even.length / SAMPLES_PER_S;
  // Below half the ripples' frequency the background has been taken out, and with it the noise.
  const low = Math.ceil(Math.max(SEARCH_HZ.low, fit.frequencyHz / 2) / binHz);
  const high = Math.min(amplitude.length - 2, Math.floor(SEARCH_HZ.high / binHz));
  let peak = low;
  for (let k = low; k <= high; k += 1) if (amplitude[k]! > amplitude[peak]!) peak = k;
  const frequency = (peak + interpolatePeak(amplitude, peak)) * binHz;
  const perResolved = padded.length / even.length;
  const away = awayFrom(peak, amplitude, low, high, perResolved);
  const noiseFloor = away.length === 0 ? 0 : median(away);
  const bandHz = (high - low) * binHz;
  return {
    binHz,
    amplitude,
    peakHz: {
      value: frequency,
      // Nothing to compare with: anywhere in the band (rectangular distribution, GUM 4.3.7).
      sd:
        noiseFloor > 0
          ? peakSd(frequency, amplitude[peak]!, noiseFloor, fit.dampingRatio, durationS)
          : RECTANGULAR * bandHz,
    },
    peakAmplitude: amplitude[peak]!,
    noiseFloor,
    significant:
      noiseFloor > 0 &&
      noisePeakChance(
        amplitude[peak]! / noiseFloor,
        bandHz * HALF_HANN_SPREAD * durationS,
        (HALF_HANN_INDEPENDENT * away.length) / perResolved,
      ) < FALSE_ALARMS,
  };
}

/** The profile times v(t)/v on an even grid of travel time; a masked gap is bridged by a straight line. */
function resample(timeS: Float64Array, values: Float64Array, speedRatio: Float64Array): Float64Array {
  const first = timeS[0]!;
  const count = Math.floor((timeS[timeS.length - 1]! - first) * SAMPLES_PER_S) + 1;
  const result = new Float64Array(count);
  let i = 0;
  for (let k = 0; k < count; k += 1) {
    const t = first + k / SAMPLES_PER_S;
    while (i < timeS.length - 2 && timeS[i + 1]! < t) i += 1;
    const share = (t - timeS[i]!) / (timeS[i + 1]! - timeS[i]!);
    const left = values[i]! * speedRatio[i]!;
    result[k] = left + share * (values[i + 1]! * speedRatio[i + 1]! - left);
  }
  return result;
}

/** Amplitudes from `low` to `high` that are at least `LINE_BINS` away from the peak. */
function awayFrom(
  peak: number,
  amplitude: Float64Array,
  low: number,
  high: number,
  perResolved: number,
): readonly number[] {
  const near = Math.round(LINE_BINS * perResolved);
  const away: number[] = [];
  for (let k = low; k <= high; k += 1) if (Math.abs(k - peak) >= near) away.push(amplitude[k]!);
  return away;
}

/**
 * How far the peak may be off: the bound of a fully decayed damped line, var(ω) = 16 α³ s²Δt/A²
 * (project's references, derived from the Fisher matrix), with s taken from the noise floor.
 */
function peakSd(
  frequencyHz: Hz,
  peakAmplitude: number,
  noiseFloor: number,
  dampingRatio: DampingRatio,
  durationS: number,
): Hz {
  // A window no longer than the record cannot resolve a slower decay than its own.
  const alpha = Math.max(decayPerS(frequencyHz, dampingRatio), 2 / durationS);
  // Half-Hann of length T over white noise: amplitude median 1.177 · s √(2 · 0.375 Δt/T) · 2 → s² Δt.
  const noisePerRootHz = (noiseFloor / 1.177 / 2) * Math.sqrt(durationS / 0.75);
  // The line's own amplitude at the corner is larger than its windowed mean by about αT/2.
  const cornerAmplitude = peakAmplitude * Math.max(1, (alpha * durationS) / 2);
  const omegaSd = (4 * alpha ** 1.5 * noisePerRootHz) / cornerAmplitude;
  return (PEAK_EFFICIENCY * omegaSd) / (2 * Math.PI);
}
