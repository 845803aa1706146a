import type { DampingRatio, Hz, Seconds } from '../core/units.js';
import type { Complex } from '../signal/complex.js';
import { lengthS, type Impulses } from './impulses.js';

/**
 * Complex factor by which a shaper changes the free vibration of a mode, both referred to the first impulse:
 * R = Σ Aᵢ e^{−λtᵢ} with λ = 2πf(−ζ + j√(1 − ζ²)).
 * @param impulses - The shaper's impulses.
 * @param naturalHz - Natural (undamped) frequency f of the mode.
 * @param dampingRatio - Damping ratio ζ of the mode, 0 to below 1.
 * @returns R; 1 for a single impulse at 0.
 * @see Singer & Seering, J. Dyn. Syst. Meas. Control 112, 1990 (from memory), in complex form.
 */
export function residualFactor(impulses: Impulses, naturalHz: Hz, dampingRatio: DampingRatio): Complex {
  const { amplitudes, timesS } = impulses;
  const omega = 2 * Math.PI * naturalHz;
  const decay = omega * dampingRatio;
  const turn = omega * Math.sqrt(1 - dampingRatio * dampingRatio);
  let re = 0;
  let im = 0;
  for (let i = 0; i < amplitudes.length; i += 1) {
    const t = timesS[i] ?? 0;
    const amplitude = amplitudes[i] ?? 0;
    // Every shaper begins so: its first impulse needs no exponential.
    if (t === 0) {
      re += amplitude;
      continue;
    }
    const size = amplitude * Math.exp(decay * t);
    re += size * Math.cos(turn * t);
    im -= size * Math.sin(turn * t);
  }
  return { re, im };
}

/**
 * How much a shaper leaves of the free vibration of a mode, whatever its phase.
 * @param impulses - The shaper's impulses.
 * @param naturalHz - Natural (undamped) frequency of the mode.
 * @param dampingRatio - Damping ratio of the mode, 0 to below 1.
 * @returns |R| of `residualFactor`.
 */
export function residualSize(impulses: Impulses, naturalHz: Hz, dampingRatio: DampingRatio): number {
  const { re, im } = residualFactor(impulses, naturalHz, dampingRatio);
  return Math.hypot(re, im);
}

/**
 * Residual vibration V of a shaper, as the literature tells it: what is left once its last impulse has passed, as a share
 * of what one unshaped impulse excites at once. It counts the decay during the shaper, which `residualSize` does not: that
 * compares shaped and unshaped at one instant.
 * @param impulses - The shaper's impulses.
 * @param naturalHz - Natural (undamped) frequency of the mode.
 * @param dampingRatio - Damping ratio of the mode, 0 to below 1.
 * @returns V = e^{−ζωtₙ} |R|, 1 for a single impulse at 0.
 * @see Singer & Seering, J. Dyn. Syst. Meas. Control 112, 1990 (from memory).
 */
export function residualVibration(impulses: Impulses, naturalHz: Hz, dampingRatio: DampingRatio): number {
  const decayed = Math.exp(-2 * Math.PI * naturalHz * dampingRatio * lengthS(impulses));
  return decayed * residualSize(impulses, naturalHz, dampingRatio);
}

/**
 * By how much a shaper delays a command on the whole: Σ Aᵢ tᵢ.
 * @param impulses - The shaper's impulses.
 * @returns The delay, s.
 */
export function meanDelayS(impulses: Impulses): Seconds {
  return impulses.amplitudes.reduce((sum, amplitude, i) => sum + amplitude * (impulses.timesS[i] ?? 0), 0);
}
