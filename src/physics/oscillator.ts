import type { DampingRatio, Hz, Mm, MmPerS, MmPerS2 } from '../core/units.js';

/**
 * Frequency at which a damped mode swings freely.
 * @param naturalHz - Natural (undamped) frequency.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns f_d = f √(1 − ζ²).
 */
export function dampedHz(naturalHz: Hz, dampingRatio: DampingRatio): Hz {
  return naturalHz * Math.sqrt(1 - dampingRatio * dampingRatio);
}

/**
 * Natural (undamped) frequency of a mode that swings freely at a given frequency.
 * @param dampedHz - Damped frequency.
 * @param dampingRatio - Damping ratio ζ, 0 to below 1.
 * @returns f = f_d / √(1 − ζ²).
 */
export function naturalHz(dampedHz: Hz, dampingRatio: DampingRatio): Hz {
  return dampedHz / Math.sqrt(1 - dampingRatio * dampingRatio);
}

/**
 * Damping ratio from the logarithmic decrement, the logarithm of the ratio of two swings one period apart.
 * @param logDecrement - δ = ln(x₀/x₁), ≥ 0.
 * @returns ζ = δ / √(4π² + δ²).
 * @see Rao, *Mechanical Vibrations*, ch. 2 (from memory).
 */
export function dampingFromDecrement(logDecrement: number): DampingRatio {
  return logDecrement / Math.hypot(2 * Math.PI, logDecrement);
}

/**
 * Amplitude of the free swing that a change of speed at constant acceleration leaves in an undamped mode:
 * (2a/ω²) |sin(ω Δv/(2a))|. It vanishes when the ramp lasts whole swings, f Δv/a = 1, 2, …
 * @param change - The speed change and the mode.
 * @param change.deltaMmPerS - Change of speed Δv.
 * @param change.accelerationMmPerS2 - Acceleration a, > 0.
 * @param change.hz - Frequency of the mode, > 0.
 * @returns Amplitude, mm.
 * @see Checked against quadrature: test/reference/corner_ringing_amplitude.csv.
 */
export function ringAfterSpeedChangeMm(change: {
  readonly deltaMmPerS: MmPerS;
  readonly accelerationMmPerS2: MmPerS2;
  readonly hz: Hz;
}): Mm {
  const { deltaMmPerS, accelerationMmPerS2, hz } = change;
  const omega = 2 * Math.PI * hz;
  const halfTurn = (omega * deltaMmPerS) / (2 * accelerationMmPerS2);
  return ((2 * accelerationMmPerS2) / (omega * omega)) * Math.abs(Math.sin(halfTurn));
}
