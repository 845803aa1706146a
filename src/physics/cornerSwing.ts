import type { DampingRatio, Hz } from '../core/units.js';
import type { CornerMotion } from './cornerMotion.js';

/**
 * How strongly a corner makes the axis swing that has to stop there. It comes in at print speed, brakes to the
 * corner's speed at the told acceleration, and stops at once; the rate of the swing left behind is followed back to
 * the corner, where it is Re(C e^{λt}) at t = 0.
 *
 * Stopping drives the axis against its command by f = a over the ramp T = (v − v_c)/a and by v_c at once, so
 * |C| = |λ|/ω_d · |a (e^{λT} − 1)/λ + v_c| with λ = 2πf_n(−ζ + j√(1 − ζ²)), ω_d = Im λ. Without damping and corner speed
 * the displacement |C|/ω is (2a/ω²)|sin(ωv/2a)|: a ramp of whole swings leaves nothing behind. A shaper multiplies C by
 * its residual, whatever the acceleration.
 * @param motion - Speeds and acceleration.
 * @param naturalHz - Natural (undamped) frequency of the axis.
 * @param dampingRatio - Its damping ratio, 0 to below 1.
 * @returns |C| ÷ print speed, no unit.
 * @see Closed form of the convolution with the impulse response of a damped oscillator (elementary); checked against
 * test/reference/corner_ringing_amplitude.csv.
 */
export function cornerSwing(motion: CornerMotion, naturalHz: Hz, dampingRatio: DampingRatio): number {
  const { speedMmPerS: v, cornerSpeedMmPerS: vc, accelerationMmPerS2: a } = motion;
  const omega = 2 * Math.PI * naturalHz;
  const grow = -omega * dampingRatio;
  const turn = omega * Math.sqrt(1 - dampingRatio * dampingRatio);
  const rampS = (v - vc) / a;
  const size = Math.exp(grow * rampS);
  // (e^{λT} − 1)·λ* / |λ|², λ* the conjugate.
  const re = size * Math.cos(turn * rampS) - 1;
  const im = size * Math.sin(turn * rampS);
  const drive = {
    re: (a * (re * grow + im * turn)) / omega ** 2 + vc,
    im: (a * (im * grow - re * turn)) / omega ** 2,
  };
  return ((omega / turn) * Math.hypot(drive.re, drive.im)) / v;
}
