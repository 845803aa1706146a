import type { DampingRatio } from '../core/units.js';
import { residualVibration } from './residual.js';
import { shaperImpulses, type Impulses, type ShaperFamily } from './shapers.js';

/** From the least to the largest value that something may have. */
export interface Span {
  readonly low: number;
  readonly high: number;
}

/** Steps in which a span of damping ratios is looked through: V has one minimum in ζ, so that its ends decide. */
const DAMPING_STEPS = 4;
/** Steps in which a span of frequencies is looked through, relative: humps are 0.1 wide and more. */
const HZ_STEP = 0.005;
/** How far a band is followed; 3-hump EI ends at 0.6 and 1.6. */
const FARTHEST: Span = { low: 0.2, high: 5 };
/** Halvings between the last quiet step and the first that is not: HZ_STEP / 2^40 is rounding. */
const HALVINGS = 40;

/**
 * The largest residual vibration that a shaper leaves anywhere in a span of frequencies and damping ratios.
 * @param impulses - The shaper's impulses.
 * @param naturalHz - Span of the axis's natural frequency, Hz, > 0.
 * @param dampingRatio - Span of its damping ratio, 0 to below 1.
 * @returns The largest V, looked for in steps of 0.5 % of the frequency: the true one is larger by 0.0005 at most.
 */
export function worstVibration(impulses: Impulses, naturalHz: Span, dampingRatio: Span): number {
  const steps = Math.max(1, Math.ceil(Math.log(naturalHz.high / naturalHz.low) / HZ_STEP));
  const frequencies = Array.from(
    { length: steps + 1 },
    (_, i) => naturalHz.low + ((naturalHz.high - naturalHz.low) * i) / steps,
  );
  return Math.max(...frequencies.map((hz) => worstAt(impulses, hz, dampingRatio)));
}

/**
 * Over which frequencies of the axis, as shares of the shaper's own, residual vibration stays within a limit whatever the
 * damping ratio in its span.
 * @param family - Family of the shaper.
 * @param setTo - Damping ratio that the shaper is built for.
 * @param dampingRatio - Span of the axis's damping ratio.
 * @param limit - Residual vibration V that is tolerated.
 * @returns The span around 1, its ends to rounding; undefined where it is exceeded at 1 already.
 * @throws {RangeError} When the shaper is impossible.
 */
export function quietBand(
  family: ShaperFamily,
  setTo: DampingRatio,
  dampingRatio: Span,
  limit: number,
): Span | undefined {
  const impulses = shaperImpulses({ family, hz: 1, dampingRatio: setTo, hzMeans: 'natural' });
  const quiet = (ratio: number) => worstAt(impulses, ratio, dampingRatio) <= limit;
  if (!quiet(1)) return undefined;
  const end = (direction: 1 | -1): number => {
    let inside = 1;
    let outside = 1 + direction * HZ_STEP;
    while (quiet(outside) && outside > FARTHEST.low && outside < FARTHEST.high) {
      inside = outside;
      outside += direction * HZ_STEP;
    }
    for (let k = 0; k < HALVINGS; k += 1) {
      const middle = (inside + outside) / 2;
      if (quiet(middle)) inside = middle;
      else outside = middle;
    }
    return inside;
  };
  return { low: end(-1), high: end(1) };
}

function worstAt(impulses: Impulses, naturalHz: number, { low, high }: Span): number {
  let worst = 0;
  for (let i = 0; i <= DAMPING_STEPS; i += 1) {
    worst = Math.max(worst, residualVibration(impulses, naturalHz, low + ((high - low) * i) / DAMPING_STEPS));
  }
  return worst;
}
