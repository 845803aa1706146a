import type { Estimate } from '../core/estimate.js';
import type { DampingRatio, Hz } from '../core/units.js';
import { nextPowerOfTwo, realSpectrum } from '../signal/fft.js';
import { median } from '../signal/median.js';
import { interpolatePeak } from '../signal/peak.js';
import { halfHann } from '../signal/windows.js';
import { decayPerS, bandProfile, type JointFit } from './jointFit.js';

/** Spectrum of one profile as a function of travel time. */
export interface HeightSpectrum {
  /** Spacing of the bins, Hz. */
  readonly binHz: Hz;
  /** Amplitude spectrum, relative contrast, scaled by 2 ÷ sum of the window. Shape (bins,). */
  readonly amplitude: Float64Array;
  /** Highest line between the search limits. */
  readonly peakHz: Estimate;
  readonly peakAmplitude: number;
  /** Median of the neighbouring bins. */
  readonly noiseFloor: number;
  /** The peak stands out of its neighbours: more than 3.5 times their median. */
  readonly significant: boolean;
}

/** Lines are looked for where ringing of printers lies; common practice, no source. */
const SEARCH_HZ = [12, 150] as const;
/**
 * The highest of about thirty independent noise bins exceeds 3.5 times their median amplitude in 1 % of
 * profiles (Rayleigh distribution: median 1.177 σ, P = exp(−(3.5·1.177)²/2) ≈ 2·10⁻⁴ for each bin).
 */
const SIGNIFICANT = 3.5;
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
  const amplitude = re.map((value, k) => (2 * Math.hypot(value, im[k]!)) / windowSum);
  const binHz = SAMPLES_PER_S / padded.length;
  const low = Math.ceil(SEARCH_HZ[0] / binHz);
  const high = Math.min(amplitude.length - 2, Math.floor(SEARCH_HZ[1] / binHz));
  let peak = low;
  for (let k = low; k <= high; k += 1) if (amplitude[k]! > amplitude[peak]!) peak = k;
  const frequency = (peak + interpolatePeak(amplitude, peak)) * binHz;
  const noiseFloor = floorAround(amplitude, peak, low, high, padded.length / even.length);
  const durationS = even.length / SAMPLES_PER_S;
  return {
    binHz,
    amplitude,
    peakHz: {
      value: frequency,
      sd: peakSd(frequency, amplitude[peak]!, noiseFloor, fit.dampingRatio, durationS),
    },
    peakAmplitude: amplitude[peak]!,
    noiseFloor,
    significant: amplitude[peak]! > SIGNIFICANT * noiseFloor,
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

/** Median amplitude between 4 and 20 resolved bins away from the peak, on both sides. */
function floorAround(
  amplitude: Float64Array,
  peak: number,
  low: number,
  high: number,
  padding: number,
): number {
  const near = Math.round(4 * padding);
  const far = Math.round(20 * padding);
  const around: number[] = [];
  for (let k = Math.max(low, peak - far); k <= Math.min(high, peak + far); k += 1) {
    if (Math.abs(k - peak) >= near) around.push(amplitude[k]!);
  }
  return around.length === 0 ? 0 : median(around);
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
