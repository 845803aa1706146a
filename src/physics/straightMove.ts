import type { Mm, MmPerS, MmPerS2, Seconds } from '../core/units.js';

/** One straight move, as it is commanded. */
export interface StraightMove {
  /** Length, ≥ 0. */
  readonly lengthMm: Mm;
  /** Speed that is asked for, > 0. */
  readonly speedMmPerS: MmPerS;
  /** Speed at its start; more than the move's own counts as that. */
  readonly startMmPerS: MmPerS;
  /** Speed at its end; more than the move's own counts as that. */
  readonly endMmPerS: MmPerS;
  /** Acceleration and deceleration, > 0. */
  readonly accelerationMmPerS2: MmPerS2;
}

/** What becomes of it. */
export interface ReachedSpeed {
  /** Highest speed on the way. */
  readonly reachedMmPerS: MmPerS;
  /** Length that is travelled at the speed asked for; 0 when it is never reached. */
  readonly steadyMm: Mm;
  readonly timeS: Seconds;
}

/**
 * The speed that a straight move reaches: it accelerates evenly, holds, and slows down evenly to the speed of its end.
 * @param move - The move; not modified.
 * @returns Speed, length at full speed, and time. A move too short to change its speed as far as its ends ask for
 * takes the time of an even change between them.
 * @throws {RangeError} When speed or acceleration are not positive, or a length or speed is negative.
 * @see Elementary kinematics: v² = v₀² + 2as both ways gives the peak √((v₀² + v₁²)/2 + aL).
 */
export function reachedSpeed(move: StraightMove): ReachedSpeed {
  const { lengthMm: length, speedMmPerS: v, accelerationMmPerS2: a } = move;
  const { startMmPerS, endMmPerS } = move;
  if (!(v > 0 && a > 0 && length >= 0 && startMmPerS >= 0 && endMmPerS >= 0)) {
    throw new RangeError(
      `Expected a speed and an acceleration > 0 and no length or speed < 0 but received ${v}, ${a}, ${length}, ${startMmPerS} and ${endMmPerS}.`,
    );
  }
  const start = Math.min(startMmPerS, v);
  const end = Math.min(endMmPerS, v);
  const high = Math.max(start, end);
  const peak = Math.sqrt((start * start + end * end) / 2 + a * length);
  // Where the ends alone ask for more than the length allows, there is one even change of speed.
  if (peak <= high) {
    const mean = (start + end) / 2;
    return { reachedMmPerS: high, steadyMm: 0, timeS: mean > 0 ? length / mean : 0 };
  }
  const reachedMmPerS = Math.min(peak, v);
  const rampsMm = (2 * reachedMmPerS * reachedMmPerS - start * start - end * end) / (2 * a);
  const steadyMm = peak <= v ? 0 : Math.max(0, length - rampsMm);
  return {
    reachedMmPerS,
    steadyMm,
    timeS: (2 * reachedMmPerS - start - end) / a + steadyMm / reachedMmPerS,
  };
}
