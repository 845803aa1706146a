import type { Estimate } from '../core/estimate.js';
import {
  allTogether,
  bandAmplitudes,
  fitJoint,
  jointCost,
  moveFit,
  noisePull,
  type BandAmplitude,
  type JointFit,
} from './jointFit.js';
import type { Ripples } from './measureRipples.js';
import { typeA } from './typeA.js';

/** Ripples of several photos or walls of one axis, fitted together. */
export interface FusedRipples {
  /** Damped frequency of all; type A only. */
  readonly frequencyHz: Estimate;
  readonly dampingRatio: Estimate;
  /** For each source, one for each band of its profiles, at the shared frequency and damping ratio. */
  readonly amplitudes: readonly (readonly (BandAmplitude | undefined)[])[];
}

/** Around each source's own frequency and damping ratio, to begin with. */
const FREQUENCIES = [0.98, 0.99, 1, 1.01, 1.02] as const;
const DAMPINGS = [0.7, 1, 1.4] as const;

/**
 * Fits the ripples of several photos or walls of one axis together: frequency and damping ratio are shared, every band
 * keeps its amplitude.
 * @param sources - Each measured by itself, with what spoils it taken out.
 * @returns Their common ripples, or undefined where there is no source.
 */
export function fuseRipples(sources: readonly Ripples[]): FusedRipples | undefined {
  const problem = allTogether(sources.map(({ fit }) => fit.problem));
  const tried = sources.flatMap(({ fit }): JointFit[] => {
    const one = fitJoint(problem, {
      frequenciesHz: FREQUENCIES.map((factor) => factor * fit.frequencyHz),
      dampingRatios: DAMPINGS.map((factor) => Math.min(0.3, factor * fit.dampingRatio)),
    });
    return one === undefined ? [] : [one];
  });
  const [first] = tried;
  if (first === undefined) return undefined;
  // Held against each other with the same weights: those by which each source weighs its own bands.
  const weights = Float64Array.from(sources.flatMap((source) => [...source.fit.weights]));
  const costOf = (fit: JointFit) => jointCost(problem, fit.frequencyHz, fit.dampingRatio, weights);
  const best = tried.reduce((least, one) => (costOf(one) < costOf(least) ? one : least));
  const near = moveFit(problem, best);
  const fit = moveFit(problem, near, noisePull(near));
  const bands = sources.map((source) => source.fit.problem.bandCount);
  const sds = typeA(fit, heightOrder(bands));
  const all = bandAmplitudes(fit);
  let from = 0;
  const amplitudes = bands.map((count) => {
    from += count;
    return all.slice(from - count, from);
  });
  return {
    frequencyHz: { value: fit.frequencyHz, sd: sds.frequencyHz },
    dampingRatio: { value: fit.dampingRatio, sd: sds.dampingRatio },
    amplitudes,
  };
}

/**
 * All bands in the order of their share of the height: photos of one print share its uneven layers, so that a block of
 * the jackknife must leave the same heights out of all of them.
 */
function heightOrder(bands: readonly number[]): readonly number[] {
  let before = 0;
  const places = bands.flatMap((count) => {
    const offset = before;
    before += count;
    return Array.from({ length: count }, (_, k) => ({ band: offset + k, share: (k + 0.5) / count }));
  });
  return places.sort((a, b) => a.share - b.share).map(({ band }) => band);
}
