import type { DampingRatio, Hz, Kg } from '../core/units.js';

/**
 * Frequency at which a mode swings freely.
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
 * A mode whose moving mass grows while stiffness and friction stay: f = √(k/m)/(2π) and ζ = c/(2√(km)) both go as 1/√m.
 * @param massKg - Moving mass before, > 0.
 * @param addedKg - What is added, ≥ 0.
 * @returns By what both natural frequency and damping ratio are multiplied, 0 to 1.
 * @throws {RangeError} When a mass is impossible.
 * @see Any book on mechanical vibration (elementary).
 */
export function loadFactor(massKg: Kg, addedKg: Kg): number {
  if (!(massKg > 0 && massKg < Infinity && addedKg >= 0 && addedKg < Infinity)) {
    throw new RangeError(
      `Expected a mass > 0 kg and an added one ≥ 0 but received ${massKg} and ${addedKg}.`,
    );
  }
  return Math.sqrt(massKg / (massKg + addedKg));
}
