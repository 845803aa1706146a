import type { Seconds } from '../core/units.js';

/** A train of impulses that a command is convolved with. */
export interface Impulses {
  /** Shares of the command, sum 1, shape (impulses,). */
  readonly amplitudes: readonly number[];
  /** When each share comes, ascending from 0, shape (impulses,). */
  readonly timesS: readonly Seconds[];
}

/**
 * How long a train of impulses is.
 * @param impulses - The train.
 * @returns Time of the last impulse, s; 0 for a single one.
 */
export function lengthS({ timesS }: Impulses): Seconds {
  return timesS.at(-1) ?? 0;
}
