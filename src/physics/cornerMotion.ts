import type { Mm, MmPerS, MmPerS2, Seconds } from '../core/units.js';
import type { Impulses } from './impulses.js';

/** The commanded move along the wall behind a corner: from the corner's speed up to print speed. */
export interface CornerMotion {
  /** Print speed v, > 0. */
  readonly speedMmPerS: MmPerS;
  /** Speed v_c at which the corner is taken, 0 to v. */
  readonly cornerSpeedMmPerS: MmPerS;
  /** Acceleration a along the wall, > 0. */
  readonly accelerationMmPerS2: MmPerS2;
}

/** When the nozzle passes positions along the wall, and how fast. */
export interface TravelMap {
  /** Time since the command left the corner, at each position, shape (positions,). */
  readonly timeS: Float64Array;
  /** Speed there, shape (positions,); at least 0.3 v_c, so 0 only at a corner taken at rest. */
  readonly speedMmPerS: Float64Array;
  /** Where the nozzle is when the last impulse has passed; 0 when the move is not shaped. */
  readonly lastImpulseMm: Mm;
}

/**
 * The speed is not let fall below this share of the corner's speed. At the start of a shaped move only the
 * first impulse drives, and amplitudes are divided by the speed.
 */
const LEAST_SPEED_SHARE = 0.3;

const UNSHAPED: Impulses = { amplitudes: [1], timesS: [0] };

/**
 * Distance from the corner that an unshaped move has come.
 * @param motion - Speeds and acceleration.
 * @param tS - Time since the corner.
 * @returns s₀ = v_c t + a t²/2 up to print speed, then v t − (v − v_c)²/(2a); 0 for t ≤ 0.
 */
export function distanceMm(motion: CornerMotion, tS: Seconds): Mm {
  if (tS <= 0) return 0;
  const { speedMmPerS: v, cornerSpeedMmPerS: vc, accelerationMmPerS2: a } = motion;
  const rise = v - vc;
  return a * tS < rise ? tS * (vc + 0.5 * a * tS) : v * tS - (rise * rise) / (2 * a);
}

/**
 * Speed of an unshaped move.
 * @param motion - Speeds and acceleration.
 * @param tS - Time since the corner.
 * @returns v_c + a t up to print speed; 0 for t < 0.
 * @internal
 */
export function speedAt(motion: CornerMotion, tS: Seconds): MmPerS {
  if (tS < 0) return 0;
  return Math.min(motion.cornerSpeedMmPerS + motion.accelerationMmPerS2 * tS, motion.speedMmPerS);
}

/**
 * How long an unshaped move takes from the corner's speed to print speed.
 * @param motion - Speeds and acceleration.
 * @returns (v − v_c)/a.
 * @internal
 */
export function rampTimeS(motion: CornerMotion): Seconds {
  return (motion.speedMmPerS - motion.cornerSpeedMmPerS) / motion.accelerationMmPerS2;
}

/**
 * How far an unshaped move comes until it has print speed.
 * @param motion - Speeds and acceleration.
 * @returns (v² − v_c²)/(2a).
 */
export function rampLengthMm(motion: CornerMotion): Mm {
  const { speedMmPerS: v, cornerSpeedMmPerS: vc, accelerationMmPerS2: a } = motion;
  return ((v - vc) * (v + vc)) / (2 * a);
}

/**
 * The time at which the nozzle passes each position along the wall, and its speed there: the inverse of
 * s = Σ Aᵢ s₀(t − tᵢ).
 * @param motion - Speeds and acceleration of the command.
 * @param alongWall - Impulses that shape the move along the wall, or undefined when it is not shaped.
 * @param positionsMm - Distances from the corner in any order; below 0 counts as 0. Not modified.
 * @returns Times (to 1e-12 s), speeds, and where the last impulse has passed.
 * @throws {RangeError} When the motion is impossible: v ≤ 0, a ≤ 0, or v_c outside 0 to v.
 */
export function travelMap(
  motion: CornerMotion,
  alongWall: Impulses | undefined,
  positionsMm: Float64Array,
): TravelMap {
  checkMotion(motion);
  const impulses = alongWall ?? UNSHAPED;
  const lastS = impulses.timesS.at(-1) ?? 0;
  const timeS = positionsMm.map((position) => timeAt(motion, impulses, lastS, Math.max(0, position)));
  const least = LEAST_SPEED_SHARE * motion.cornerSpeedMmPerS;
  return {
    timeS,
    speedMmPerS: timeS.map((t) => Math.max(least, shapedSpeed(motion, impulses, t))),
    lastImpulseMm: shapedDistance(motion, impulses, lastS),
  };
}

/** Time at a position: Newton's method, kept between the times of the unshaped and of the latest move. */
function timeAt(motion: CornerMotion, impulses: Impulses, lastS: Seconds, positionMm: Mm): Seconds {
  if (positionMm === 0) return 0;
  let low = unshapedTime(motion, positionMm);
  let high = low + lastS;
  let t = low + (high - low) / 2;
  while (high - low > TIME_TOLERANCE_S) {
    const ahead = shapedDistance(motion, impulses, t) - positionMm;
    if (ahead > 0) high = t;
    else low = t;
    const newton = t - ahead / shapedSpeed(motion, impulses, t);
    // Written so that a speed of 0 (Newton's step NaN or infinite) halves the bracket.
    const next = newton > low && newton < high ? newton : low + (high - low) / 2;
    if (Math.abs(next - t) < TIME_TOLERANCE_S) return next;
    t = next;
  }
  return t;
}

/** A tenth of what is promised. */
const TIME_TOLERANCE_S: Seconds = 1e-13;

/** Time at which an unshaped move passes a position > 0, in the form that does not cancel. */
function unshapedTime(motion: CornerMotion, positionMm: Mm): Seconds {
  const { speedMmPerS: v, cornerSpeedMmPerS: vc, accelerationMmPerS2: a } = motion;
  const rampMm = rampLengthMm(motion);
  if (positionMm >= rampMm) return rampTimeS(motion) + (positionMm - rampMm) / v;
  return (2 * positionMm) / (vc + Math.sqrt(vc * vc + 2 * a * positionMm));
}

function shapedDistance(motion: CornerMotion, impulses: Impulses, tS: Seconds): Mm {
  const { amplitudes, timesS } = impulses;
  let sum = 0;
  for (let i = 0; i < timesS.length; i += 1) {
    sum += (amplitudes[i] ?? 0) * distanceMm(motion, tS - (timesS[i] ?? 0));
  }
  return sum;
}

function shapedSpeed(motion: CornerMotion, impulses: Impulses, tS: Seconds): MmPerS {
  const { amplitudes, timesS } = impulses;
  let sum = 0;
  for (let i = 0; i < timesS.length; i += 1) {
    sum += (amplitudes[i] ?? 0) * speedAt(motion, tS - (timesS[i] ?? 0));
  }
  return sum;
}

function checkMotion(motion: CornerMotion): void {
  const { speedMmPerS: v, cornerSpeedMmPerS: vc, accelerationMmPerS2: a } = motion;
  if (!(v > 0 && a > 0 && vc >= 0 && vc <= v)) {
    throw new RangeError(
      `Expected speed > 0, acceleration > 0 and corner speed from 0 to speed but received ${v}, ${a}, ${vc}.`,
    );
  }
}
