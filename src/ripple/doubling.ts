import type { Estimate } from '../core/estimate.js';
import { jackknifeBlocks, jackknifeSd } from '../signal/jackknife.js';
import type { BandAmplitude } from './jointFit.js';

/** Fewer bands tell no scatter. */
const LEAST_BANDS = 2;
/** Ripples stand out by so many standard deviations of the power that noise alone has: 2 sd² for a complex amplitude. */
const STANDS_OUT = 3;

/**
 * How much of the ripples shows at twice their frequency. Light that rakes along the wall makes brightness follow
 * the slope s; light from the front makes it follow the slope's square, which swings twice as often: with
 * s = Re(A e^{λt}) it is s² = |A|² e^{−2σt}/2 + Re(A² e^{2λt})/2. So the amplitudes at 2f are those at f squared,
 * times one real number, and what does not follow them from height to height is noise.
 * @param amplitudes - One for each band, at the fit with the columns of the squares.
 * @param weights - Weight of each band, shape (bands,).
 * @returns Amplitude at 2f ÷ amplitude at f at the leading corner, rms over the bands, and its standard uncertainty
 * by the jackknife over ten blocks of bands, their amplitudes at f taken as they are. Too small where the ripples at
 * f hardly stand out, since noise is then squared as well. Undefined where nothing stands out at f, or in one band only.
 */
export function doublingOf(
  amplitudes: readonly (BandAmplitude | undefined)[],
  weights: Float64Array,
): Estimate | undefined {
  const bands = amplitudes.flatMap((band, i) => {
    if (band?.doubled === undefined) return [];
    const { re, im } = band.amplitude;
    const size = re ** 2 + im ** 2;
    const along = (re ** 2 - im ** 2) * band.doubled.amplitude.re + 2 * re * im * band.doubled.amplitude.im;
    const weight = weights[i]!;
    // Noise adds to the power of each part.
    const noise = 2 * weight * band.sd ** 2;
    return [
      { power: weight * size - noise, noise: noise ** 2, square: weight * size ** 2, along: weight * along },
    ];
  });
  const sum = (of: (band: (typeof bands)[number]) => number, from: number, to: number) =>
    bands.reduce((all, band, i) => (i >= from && i < to ? all : all + of(band)), 0);
  const square = sum((band) => band.square, 0, 0);
  const power = sum((band) => band.power, 0, 0);
  const noise = Math.sqrt(sum((band) => band.noise, 0, 0));
  if (bands.length < LEAST_BANDS || !(power > STANDS_OUT * noise)) return undefined;
  // Of the real number that both amplitudes share.
  const factorWithout = (from: number, to: number) =>
    sum((band) => band.along, from, to) /
    Math.max(
      sum((band) => band.square, from, to),
      Number.MIN_VALUE,
    );
  const size = Math.sqrt(square / power);
  const others = jackknifeBlocks(bands.length).map(([from, to]) => factorWithout(from, to));
  return { value: size * Math.abs(factorWithout(0, 0)), sd: size * jackknifeSd(others) };
}
