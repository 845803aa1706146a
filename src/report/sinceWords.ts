import { interval95 } from '../core/estimate.js';
import type { AxisPoint } from '../history/axisPoint.js';
import type { Reading } from '../reading/schema.js';
import { decimals, halfWidth95, percent, withUnit } from './format.js';

/** What is told of a frequency that nothing but the ripple spacing, or nothing at all, speaks for. */
export const TRUST_BY_LADDER = 'measure again with a ladder before the setting is trusted';

/** What to do where the newer frequency, by a ladder, is another one. */
const ENTER_NEWER =
  'enter the newer value, and look for what moved it: belts, screws, moving mass, feet, frame';

/**
 * What to do where a frequency has moved.
 * @param newer - The routes that the newer readings come by.
 * @returns A clause: only what a ladder has checked is entered.
 */
export function movedAdvice(newer: readonly AxisPoint['by'][]): string {
  return newer.every((by) => by === 'ladder') ? ENTER_NEWER : TRUST_BY_LADDER;
}

/** How a frequency by spacing compares with an earlier one. */
export type Since = NonNullable<Extract<Reading['proposal'], { state: 'spacing-only' }>['since']>;

/**
 * Says whether the frequency has moved.
 * @param since - The comparison.
 * @returns For the verdict, the numbers and what to do next.
 */
export function sinceWords({ wasHz, wasExact, changeHz, moved, withinZv }: Since): {
  readonly verdict: string;
  readonly numbers: string;
  readonly next: string;
} {
  const was = wasExact
    ? `${withUnit(String(wasHz.value), 'Hz')} (told without its ±, taken as exact)`
    : halfWidth95(interval95(wasHz), 'Hz');
  const least = withUnit(decimals(changeHz.high95 - changeHz.value, 1), 'Hz');
  const size = { ...changeHz, value: Math.abs(changeHz.value) };
  const by = halfWidth95(interval95(size), 'Hz');
  const way = changeHz.value < 0 ? 'down' : 'up';
  // Readings of an earlier version do not tell it.
  const likely =
    withinZv === undefined
      ? ''
      : `; still within the ± 3.2 % that a ZV shaper allows: ${likelihood(withinZv)} likely`;
  return {
    verdict: moved ? `moved ${way} by ${by}` : 'not moved, as far as can be told',
    numbers: `earlier ${was}, now ${by} ${way === 'up' ? 'higher' : 'lower'}${likely}`,
    next: moved
      ? `this is more than the two uncertainties allow: ${TRUST_BY_LADDER}`
      : `keep the setting; a change of less than ${least} cannot be seen by spacing alone`,
  };
}

/** A probability in whole percent, never as sure as 0 or 100. */
function likelihood(share: number): string {
  if (share < 0.01) return `less than ${percent(0.01)}`;
  if (share > 0.99) return `more than ${percent(0.99)}`;
  return percent(share);
}
