import type { DampingRatio } from '../core/units.js';

/** A shaper with times in natural periods: it then depends on the damping ratio alone. */
export interface UnitShaper {
  /** Shares of the command, sum 1. */
  readonly amplitudes: readonly number[];
  /** Times, natural periods of the frequency that the shaper is built for; the first is 0. */
  readonly periods: readonly number[];
}

/** Residual vibration that the EI family tolerates at its humps: 5 %, the value of its papers. */
export const TOLERATED_VIBRATION = 0.05;

/**
 * Impulses half a damped period apart, each K = exp(−πζ/√(1 − ζ²)) times weaker for every half period than
 * without damping.
 * @param undamped - Amplitudes without damping, up to a common factor; not modified.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns Amplitudes (sum 1) and times.
 */
export function spacedByHalfPeriods(undamped: readonly number[], dampingRatio: DampingRatio): UnitShaper {
  const root = Math.sqrt(1 - dampingRatio * dampingRatio);
  const k = Math.exp((-Math.PI * dampingRatio) / root);
  const scaled = undamped.map((amplitude, i) => amplitude * k ** i);
  const sum = scaled.reduce((total, amplitude) => total + amplitude, 0);
  return {
    amplitudes: scaled.map((amplitude) => amplitude / sum),
    periods: scaled.map((_, i) => (0.5 * i) / root),
  };
}
