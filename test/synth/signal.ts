import type { Shade } from './light.js';
import { rateAtCorner, wallOfLayer, type CornerResponse } from './motion.js';
import type { FaceRecipe } from './recipe.js';
import type { Impulse } from './shapers.js';

/** Gathers over the layers how well ripples stand out of noise. */
export interface SignalMeter {
  /**
   * One layer: its height, the share of the swing it shows, how the axis answers its corner, its shaper, its own
   * unevenness along the wall.
   */
  readonly add: (
    heightMm: number,
    gain: number,
    response: CornerResponse,
    across: readonly Impulse[],
    widthSlope: Float32Array,
    grain: Float32Array,
  ) => void;
  readonly result: () => FaceSignal;
}

/** How well the ripples of a face stand out of noise. */
export interface FaceSignal {
  /**
   * DESIGN §10: 75th percentile over 1 mm bands of the ripple amplitude at the leading corner ÷ its white-noise
   * standard error, from what is known of the face, not from what is measured.
   */
  readonly signalToNoise: number;
  readonly bands: readonly BandSignal[];
}

/** Ripples and noise in 1 mm of height. */
export interface BandSignal {
  readonly heightMm: number;
  /** Relative contrast of the ripples at the leading corner. */
  readonly amplitude: number;
  /**
   * Standard deviation of a bin of 0.125 mm whose noise, were it white, is as strong as the band's is at the ripples'
   * frequency: uneven layers have more of slow changes.
   */
  readonly binSd: number;
}

/** Bins of DESIGN 5.2, and its bands. */
export const BIN_MM = 0.125;
const BAND_MM = 1;
/** Where brightness by slope is taken: a little behind the corner, where the ripples are. */
const NEAR_MM = 8;
/** Ripples are looked at from here to the end. */
export const FROM_MM = 2;

/**
 * Measures ripples and noise of a face while it is drawn.
 * @param recipe - The face.
 * @param shade - Brightness by slope.
 * @returns The meter.
 */
export function signalMeter(recipe: FaceRecipe, shade: Shade): SignalMeter {
  const { widthMm, pxPerMm, speedMmPerS } = recipe;
  const bins = Math.floor(widthMm / BIN_MM);
  const damped = recipe.naturalHz * Math.sqrt(1 - recipe.dampingRatio ** 2);
  // Blur makes ripples weaker: the transfer function of a Gaussian at their spacing.
  const blurMm = (recipe.picture?.blurPx ?? 0) / pxPerMm;
  const kept = Math.exp(-2 * (Math.PI * blurMm * (damped / speedMmPerS)) ** 2);
  const bands = new Map<number, { layers: number; amplitude: number; noise: Float64Array; level: number }>();
  // The part of Σ e^{−2σt}(v/v(t))²/2 over the bins: two columns share the energy.
  const centres = Float64Array.from({ length: bins }, (_, bin) => (bin + 0.5) * BIN_MM);
  const { timeS } = wallOfLayer(recipe, [], NONE, NONE, centres);
  const decay = 2 * Math.PI * recipe.naturalHz * recipe.dampingRatio;
  let energy = 0;
  const cosine = new Float64Array(bins);
  const sine = new Float64Array(bins);
  for (let bin = 0; bin < bins; bin += 1) {
    if (centres[bin]! < FROM_MM) continue;
    const stepS = (timeS[Math.min(bins - 1, bin + 1)]! - timeS[bin - 1]!) / 2;
    const slowness = (stepS * speedMmPerS) / BIN_MM;
    const size = Math.exp(-decay * timeS[bin]!) * slowness;
    energy += size ** 2 / 2;
    cosine[bin] = size * Math.cos(2 * Math.PI * damped * timeS[bin]!);
    sine[bin] = size * Math.sin(2 * Math.PI * damped * timeS[bin]!);
  }
  return {
    add: (heightMm, gain, response, across, widthSlope, grain) => {
      const index = Math.floor(heightMm / BAND_MM);
      let band = bands.get(index);
      if (band === undefined) {
        band = { layers: 0, amplitude: 0, noise: new Float64Array(bins), level: 0 };
        bands.set(index, band);
      }
      const step = 0.01;
      const level = shade(0, NEAR_MM, heightMm);
      const bySlope = (shade(step, NEAR_MM, heightMm) - shade(-step, NEAR_MM, heightMm)) / (2 * step * level);
      const rate = rateAtCorner(response, recipe, across);
      band.layers += 1;
      band.level += level;
      band.amplitude += Math.abs(bySlope) * kept * gain * (rate / speedMmPerS);
      for (let i = 0; i < widthSlope.length; i += 1) {
        const bin = Math.floor((i + 0.5) / pxPerMm / BIN_MM);
        if (bin < bins) band.noise[bin] = band.noise[bin]! + bySlope * widthSlope[i]! + grain[i]!;
      }
    },
    result: () => {
      const perBin = BIN_MM * pxPerMm;
      const all = [...bands].map(([index, { layers, amplitude, noise, level }]) => {
        const own = noise.map((value) => value / layers / perBin);
        const relative = level / layers;
        return {
          heightMm: (index + 0.5) * BAND_MM,
          amplitude: amplitude / layers,
          white: own.reduce((sum, value) => sum + value * value, 0) / bins,
          // Energy of the noise that looks like ripples, for one of their two columns.
          alike: (dot(own, cosine) ** 2 + dot(own, sine) ** 2) / (dot(cosine, cosine) + dot(sine, sine)),
          pixel:
            (recipe.noise ** 2 * (SHOT_SHARE / relative + (1 - SHOT_SHARE) / relative ** 2)) /
            (perBin * layers * recipe.layerHeightMm * pxPerMm),
        };
      });
      const total = (of: 'white' | 'alike') => all.reduce((sum, band) => sum + band[of], 0);
      const colour = total('alike') / (total('white') || Number.MIN_VALUE);
      const ratios = all.map(
        ({ amplitude, white, pixel }) => amplitude * Math.sqrt(energy / (white + pixel || Number.MIN_VALUE)),
      );
      ratios.sort((a, b) => a - b);
      return {
        signalToNoise: ratios[Math.min(ratios.length - 1, Math.floor(0.75 * ratios.length))] ?? 0,
        bands: all.map(({ heightMm, amplitude, white, pixel }) => ({
          heightMm,
          amplitude,
          binSd: Math.sqrt(colour * white + pixel),
        })),
      };
    },
  };
}

/** Share of a pixel's noise variance, at mean brightness, that is the light's own. */
export const SHOT_SHARE = 0.8;
const NONE: readonly Impulse[] = [{ share: 1, lateS: 0 }];

function dot(a: Float64Array, b: Float64Array): number {
  return a.reduce((sum, value, i) => sum + value * b[i]!, 0);
}
