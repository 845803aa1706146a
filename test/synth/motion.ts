import type { Impulse } from './shapers.js';

/** How the nozzle turns the leading corner and runs along the face. Both walls have the same speeds. */
export interface Corner {
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly cornerSpeedMmPerS: number;
  /** Length of the face's wall; at its end the nozzle brakes to the corner speed again. */
  readonly widthMm: number;
  /** Speed of the nozzle on its way to the corner. @default speedMmPerS */
  readonly comesInMmPerS?: number;
}

/** An axis that swings, as a second-order system. */
export interface Mode {
  readonly naturalHz: number;
  readonly dampingRatio: number;
}

/**
 * How an axis answers the unshaped command of one corner: position and rate relative to the command, in two
 * stretches of even steps: while braking, and from the corner on.
 */
export interface CornerResponse {
  readonly rampS: number;
  readonly braking: Samples;
  readonly after: Samples;
}

interface Samples {
  readonly stepS: number;
  readonly position: Float64Array;
  readonly rate: Float64Array;
}

/** Largest step of the integrator. At 90 Hz a straight line between steps errs by 6e-6 of the amplitude. */
const STEP_S = 2e-5;

/**
 * Integrates the axis perpendicular to the face through one corner, step by step (fourth-order Runge–Kutta):
 * it comes in at print speed, brakes to the corner speed until t = 0, and stops there at once.
 * @param corner - The commanded motion.
 * @param mode - The axis.
 * @param untilS - Seconds after the corner.
 * @returns Position (mm) and rate (mm/s) relative to the command.
 */
export function cornerResponse(corner: Corner, mode: Mode, untilS: number): CornerResponse {
  const { speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS } = corner;
  const rampS = (speedMmPerS - cornerSpeedMmPerS) / accelerationMmPerS2;
  const braking = integrate(mode, -accelerationMmPerS2, 0, 0, rampS);
  const last = braking.position.length - 1;
  // A command that stops within no time leaves the axis going on at the corner speed.
  const rate = braking.rate[last]! + cornerSpeedMmPerS;
  return { rampS, braking, after: integrate(mode, 0, braking.position[last]!, rate, untilS) };
}

/**
 * Integrates the axis over a stretch of steady commanded acceleration.
 * @param mode - The axis.
 * @param commandMmPerS2 - Acceleration of the command.
 * @param from - Position relative to the command at the start, mm.
 * @param fromRate - Its rate, mm/s.
 * @param spanS - How long.
 * @returns Position and rate in even steps.
 */
export function integrate(
  mode: Mode,
  commandMmPerS2: number,
  from: number,
  fromRate: number,
  spanS: number,
): Samples {
  const count = Math.max(1, Math.ceil(spanS / STEP_S));
  const h = spanS / count;
  const omega = 2 * Math.PI * mode.naturalHz;
  const push = (x: number, w: number): number =>
    -2 * mode.dampingRatio * omega * w - omega * omega * x - commandMmPerS2;
  const position = new Float64Array(count + 1);
  const rate = new Float64Array(count + 1);
  let x = from;
  let w = fromRate;
  position[0] = x;
  rate[0] = w;
  for (let i = 1; i <= count; i += 1) {
    const k1 = push(x, w);
    const w2 = w + (h / 2) * k1;
    const k2 = push(x + (h / 2) * w, w2);
    const w3 = w + (h / 2) * k2;
    const k3 = push(x + (h / 2) * w2, w3);
    const w4 = w + h * k3;
    const k4 = push(x + h * w3, w4);
    x += (h / 6) * (w + 2 * w2 + 2 * w3 + w4);
    w += (h / 6) * (k1 + 2 * k2 + 2 * k3 + k4);
    position[i] = x;
    rate[i] = w;
  }
  return { stepS: h, position, rate };
}

/**
 * Position and rate of the axis relative to the unshaped command.
 * @param response - The integrated corner.
 * @param t - Seconds from the corner.
 * @returns [mm, mm/s]; past the last step the last value.
 */
export function responseAt(response: CornerResponse, t: number): readonly [number, number] {
  if (t < -response.rampS) return [0, 0];
  const samples = t < 0 ? response.braking : response.after;
  const place = (t < 0 ? t + response.rampS : t) / samples.stepS;
  const i = Math.min(samples.position.length - 2, Math.floor(place));
  const share = Math.min(1, place - i);
  const { position, rate } = samples;
  return [
    position[i]! + share * (position[i + 1]! - position[i]!),
    rate[i]! + share * (rate[i + 1]! - rate[i]!),
  ];
}

/** Rate of the axis relative to the unshaped command; the second part of `responseAt` without a pair. */
function rateAt(response: CornerResponse, t: number): number {
  if (t < -response.rampS) return 0;
  const samples = t < 0 ? response.braking : response.after;
  const place = (t < 0 ? t + response.rampS : t) / samples.stepS;
  const { rate } = samples;
  const i = Math.min(rate.length - 2, Math.floor(place));
  return rate[i]! + Math.min(1, place - i) * (rate[i + 1]! - rate[i]!);
}

/** Commanded rate of the axis perpendicular to the face, unshaped. */
function commandedAcross(corner: Corner, rampS: number, t: number): number {
  if (t >= 0) return 0;
  return t < -rampS
    ? (corner.comesInMmPerS ?? corner.speedMmPerS)
    : corner.cornerSpeedMmPerS - corner.accelerationMmPerS2 * t;
}

/**
 * The unshaped move along the face.
 * @param corner - The commanded motion.
 * @returns [Place, speed] at t.
 */
export function commandedAlong(corner: Corner): (t: number) => readonly [number, number] {
  const { speedMmPerS, accelerationMmPerS2: a, cornerSpeedMmPerS: slow, widthMm } = corner;
  // On a short wall the print speed is not reached.
  const top = Math.min(speedMmPerS, Math.sqrt(slow * slow + a * widthMm));
  const rampS = (top - slow) / a;
  const rampMm = ((slow + top) / 2) * rampS;
  const steadyS = (widthMm - 2 * rampMm) / top;
  return (t) => {
    if (t < 0) return [0, 0];
    if (t < rampS) return [slow * t + (a / 2) * t * t, slow + a * t];
    if (t < rampS + steadyS) return [rampMm + top * (t - rampS), top];
    const left = t - rampS - steadyS;
    if (left < rampS) return [widthMm - rampMm + top * left - (a / 2) * left * left, top - a * left];
    // Beyond the face's end only to give every place a time.
    return [widthMm + slow * (left - rampS), slow];
  };
}

/** Slower than this share of the corner speed the slope of the wall says nothing: plastic does not follow. */
const SLOWEST = 0.3;

/**
 * The wall that one layer leaves: its slope dy/dx along the face, where y is how far the nozzle's path lies
 * outside its place when nothing swings and the corner is sharp.
 * @param corner - The commanded motion.
 * @param responses - Answers of the swinging modes with the share of each.
 * @param across - Shaper of the axis perpendicular to the face.
 * @param along - Shaper of the move along the face.
 * @param positionsMm - Places, ascending, mm from the corner.
 * @returns Slope at each place and the time when the nozzle is there; places before the corner have slope 0.
 */
export function wallOfLayer(
  corner: Corner,
  responses: readonly { readonly response: CornerResponse; readonly share: number }[],
  across: readonly Impulse[],
  along: readonly Impulse[],
  positionsMm: Float64Array,
): { readonly slope: Float64Array; readonly timeS: Float64Array } {
  const slope = new Float64Array(positionsMm.length);
  const timeS = new Float64Array(positionsMm.length);
  const unshaped = commandedAlong(corner);
  const comesInMmPerS = corner.comesInMmPerS ?? corner.speedMmPerS;
  const rampS = (comesInMmPerS - corner.cornerSpeedMmPerS) / corner.accelerationMmPerS2;
  let t = 0;
  for (let i = 0; i < positionsMm.length; i += 1) {
    const x = positionsMm[i]!;
    if (x < 0) continue;
    let speed = 0;
    // Newton from the last time: the place grows with time, and is straight where the speed is steady.
    for (let round = 0; round < 12; round += 1) {
      let place = 0;
      speed = 0;
      for (const { share, lateS } of along) {
        const [s, v] = unshaped(t - lateS);
        place += share * s;
        speed += share * v;
      }
      if (Math.abs(place - x) < 1e-7) break;
      t = Math.max(0, t + (x - place) / Math.max(speed, SLOWEST * corner.cornerSpeedMmPerS));
    }
    let rate = 0;
    for (const { share, lateS } of across) {
      rate += share * commandedAcross(corner, rampS, t - lateS);
      for (const { response, share: part } of responses) rate += share * part * rateAt(response, t - lateS);
    }
    timeS[i] = t;
    slope[i] = rate / Math.max(speed, SLOWEST * corner.cornerSpeedMmPerS);
  }
  return { slope, timeS };
}

/**
 * Rate of the swing after the last impulse as Re(C e^{λt}), t from the corner, λ = 2πf_n(−ζ + j√(1 − ζ²)).
 * @param response - The integrated corner.
 * @param mode - The axis that was integrated.
 * @param across - Its shaper.
 * @returns |C| in mm/s: rate of the swing, followed back to the corner.
 */
export function rateAtCorner(response: CornerResponse, mode: Mode, across: readonly Impulse[]): number {
  const freeS = across[across.length - 1]!.lateS + STEP_S;
  let y = 0;
  let rate = 0;
  for (const { share, lateS } of across) {
    const [position, own] = responseAt(response, freeS - lateS);
    y += share * position;
    rate += share * own;
  }
  // y = Re B and rate = Re λB at that time, so Im B = (σ' y − rate) / ω_d with λ = σ' + jω_d.
  const omega = 2 * Math.PI * mode.naturalHz;
  const grow = -mode.dampingRatio * omega;
  const damped = omega * Math.sqrt(1 - mode.dampingRatio ** 2);
  const swing = Math.hypot(y, (grow * y - rate) / damped);
  return omega * swing * Math.exp(-grow * freeS);
}
