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
import type { SecondRipples } from './secondRipples.js';
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
/** Second frequencies this near are one: closer to each other than two of one photo can be told apart. */
const SAME_SECOND = 0.05;

/**
 * Fits the ripples of several photos or walls of one axis together: frequency and damping ratio are shared, every band
 * keeps its amplitude.
 * @param sources - Each measured by itself, with what spoils it taken out.
 * @returns Their common ripples, or undefined where there is no source.
 */
export function fuseRipples(sources: readonly Ripples[]): FusedRipples | undefined {
  return fuseFits(sources.map(({ fit }) => fit));
}

/**
 * Fits the second frequency of several photos or walls of one axis together, as it stands beside the first in each.
 * @param sources - Each measured by itself.
 * @returns The second frequency of those that show the one which is known best; undefined where none shows any.
 */
export function fuseSecond(sources: readonly Ripples[]): SecondRipples | undefined {
  const told = sources.flatMap(({ second }) =>
    second === undefined || second.moves !== undefined ? [] : [second],
  );
  const [first, ...others] = told;
  if (first === undefined) return undefined;
  const best = others.reduce((a, b) => (b.frequencyHz.sd < a.frequencyHz.sd ? b : a), first);
  // A photo may show another one, or have taken the first for the second.
  const alike = told.filter(
    ({ frequencyHz }) => Math.abs(frequencyHz.value / best.frequencyHz.value - 1) < SAME_SECOND,
  );
  const fused = alike.length === 1 ? best : fuseFits(alike.map(({ fit }) => fit));
  if (fused === undefined) return undefined;
  const squares = alike.reduce((sum, { share }) => sum + share * share, 0);
  return {
    ...best,
    frequencyHz: fused.frequencyHz,
    dampingRatio: fused.dampingRatio,
    share: Math.sqrt(squares / alike.length),
  };
}

function fuseFits(fits: readonly JointFit[]): FusedRipples | undefined {
  const problem = allTogether(fits.map((fit) => fit.problem));
  const tried = fits.flatMap((fit): JointFit[] => {
    const one = fitJoint(problem, {
      frequenciesHz: FREQUENCIES.map((factor) => factor * fit.frequencyHz),
      dampingRatios: DAMPINGS.map((factor) => Math.min(0.3, factor * fit.dampingRatio)),
    });
    return one === undefined ? [] : [one];
  });
  const [first] = tried;
  if (first === undefined) return undefined;
  // Held against each other with the same weights: those by which each source weighs its own bands.
  const weights = Float64Array.from(fits.flatMap((fit) => [...fit.weights]));
  const costOf = (fit: JointFit) => jointCost(problem, fit.frequencyHz, fit.dampingRatio, weights);
  const best = tried.reduce((least, one) => (costOf(one) < costOf(least) ? one : least));
  const near = moveFit(problem, best);
  const fit = moveFit(problem, near, noisePull(near));
  const bands = fits.map((one) => one.problem.bandCount);
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
