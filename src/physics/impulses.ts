import type { Seconds } from '../core/units.js';

/** A train of impulses that a command is convolved with. */
export interface Impulses {
  /** Shares of the command, sum 1, shape (impulses,). */
  readonly amplitudes: readonly number[];
  /** When each share comes, ascending from 0, shape (impulses,). */
  readonly timesS: readonly Seconds[];
}
