import type { Complex } from '../signal/complex.js';
import type { Profiles } from '../profiles/makeProfiles.js';
import { bandAmplitudes, withoutRipples, type BandAmplitude, type JointFit } from './jointFit.js';

/** Ripples of one step of a proof print: all its heights were printed alike, and ring in one phase. */
export interface StepAmplitude {
  /** Heights that were read. */
  readonly heights: number;
  /** Mean over the heights, referred to the leading corner, relative contrast. */
  readonly amplitude: Complex;
  /** Standard error of each part from what looks like ripples elsewhere in the spectrum. */
  readonly noise: number;
  /** The same from the scatter of the heights, where that is more. */
  readonly sd: number;
}

/**
 * Where noise is looked at, ÷ the ripples' frequency: what lies in between, is in them. A line of damping ratio 0.1 is as
 * wide as the closest two are apart, so that most of them are independent.
 */
const ASIDE = [0.6, 0.67, 0.75, 1.25, 1.4, 1.55, 1.7, 1.9] as const;

/**
 * Amplitude of the ripples at each acceleration: the mean of the heights' complex amplitudes. Ripples of one step agree in
 * phase and noise does not, so it shows what a single height cannot. Uneven layers, scratches and stripes may agree over
 * some heights as well: how much so is seen beside the ripples' frequency, once the ripples are taken out.
 * @param profiles - The profiles that were fitted.
 * @param fit - Frequency and damping ratio of the ripples.
 * @param steps - How many steps there are.
 * @returns One for each step; undefined where no height of it could be read.
 */
export function stepAmplitudes(
  profiles: Profiles,
  fit: JointFit,
  steps: number,
): readonly (StepAmplitude | undefined)[] {
  const left = withoutRipples(fit);
  const elsewhere = ASIDE.map((factor) =>
    meansOf(
      profiles,
      bandAmplitudes({ ...fit, problem: left, frequencyHz: factor * fit.frequencyHz }),
      steps,
    ),
  );
  const colours = Array.from({ length: steps }, (_, step) =>
    colourOf(elsewhere.flatMap((means) => means[step] ?? [])),
  );
  const usual = colourOf(elsewhere.flatMap((means) => means.filter((mean) => mean !== undefined)));
  return meansOf(profiles, bandAmplitudes(fit), steps).map((mean, step) => {
    if (mean === undefined) return undefined;
    const { heights, amplitude, white, scatter } = mean;
    // A step that happens to be quiet is held to the usual noise.
    const noise = white * Math.max(1, usual, colours[step]!);
    return { heights, amplitude, noise, sd: Math.max(noise, scatter) };
  });
}

/** Mean of a step's heights, weighed by their variances. */
interface StepMean {
  readonly heights: number;
  readonly amplitude: Complex;
  /** Standard error of each part, were the noise white. */
  readonly white: number;
  /** The same from how far the heights lie apart; 0 of a single one. */
  readonly scatter: number;
}

function meansOf(
  profiles: Profiles,
  amplitudes: readonly (BandAmplitude | undefined)[],
  steps: number,
): readonly (StepMean | undefined)[] {
  return Array.from({ length: steps }, (_, step) =>
    meanOf(
      amplitudes.flatMap((at, band) =>
        at !== undefined && at.sd > 0 && profiles.bands[band]!.accelerationStep === step ? [at] : [],
      ),
    ),
  );
}

function meanOf(heights: readonly BandAmplitude[]): StepMean | undefined {
  const total = heights.reduce((sum, { sd }) => sum + 1 / sd ** 2, 0);
  if (total === 0) return undefined;
  const mean = (of: (amplitude: Complex) => number) =>
    heights.reduce((sum, { amplitude, sd }) => sum + of(amplitude) / sd ** 2, 0) / total;
  const amplitude = { re: mean(({ re }) => re), im: mean(({ im }) => im) };
  const apart = mean(({ re, im }) => (re - amplitude.re) ** 2 + (im - amplitude.im) ** 2);
  return {
    heights: heights.length,
    amplitude,
    white: 1 / Math.sqrt(total),
    scatter: heights.length < 2 ? 0 : Math.sqrt(apart / 2 / (heights.length - 1)),
  };
}

/** How much more there is than white noise leaves, root mean square over places where there are no ripples. */
function colourOf(means: readonly StepMean[]): number {
  const powers = means.map(({ amplitude: { re, im }, white }) => (re * re + im * im) / (2 * white * white));
  return Math.sqrt(powers.reduce((sum, power) => sum + power, 0) / Math.max(1, powers.length));
}
