import { combineSd, type Estimate } from '../core/estimate.js';

/** A new value of an axis with what is known of that axis from before. */
export interface AxisHistory {
  readonly now: Estimate;
  /** Mean of the readings before it; absent where there are none. */
  readonly before?: Estimate;
}

/** Whether two axes of one machine look exchanged. */
export interface SwapGuard {
  readonly swapped: boolean;
  /** Sum of squared distances from the history, in squared standard deviations: as told, and exchanged. */
  readonly asTold: number;
  readonly exchanged: number;
}

/** χ² of two degrees of freedom, upper 1 % and upper 5 %: −2 ln p. */
const UNLIKELY = -2 * Math.log(0.01);
const LIKELY = -2 * Math.log(0.05);
/** A frequency hardly keeps to less than this over months, whatever a reading says: share of itself (common practice, no source). */
const KEEPS_TO = 0.01;

/**
 * Holds a pair of axes against the machine's history, as told and exchanged.
 * @param one - One axis.
 * @param other - The other.
 * @returns Swapped where the pair as told is less likely than 1 in 100 and exchanged is not even 1 in 20 off; undefined where
 * either axis has no history, or both histories are alike, so that nothing can be told.
 */
export function swapGuard(one: AxisHistory, other: AxisHistory): SwapGuard | undefined {
  if (one.before === undefined || other.before === undefined) return undefined;
  if (distance(one.before, other.before) < LIKELY / 2) return undefined;
  const asTold = distance(one.now, one.before) + distance(other.now, other.before);
  const exchanged = distance(one.now, other.before) + distance(other.now, one.before);
  return { swapped: asTold > UNLIKELY && exchanged < LIKELY, asTold, exchanged };
}

/** Squared distance in squared standard deviations of the difference. */
function distance(a: Estimate, b: Estimate): number {
  return ((a.value - b.value) / combineSd(a.sd, b.sd, KEEPS_TO * b.value)) ** 2;
}
