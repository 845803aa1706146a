import type { Impulse } from './shapers.js';
import type { Mode } from './motion.js';

/** A commanded corner of 90°: one axis brakes to the corner's speed and stops at t = 0, the other starts with it. */
export interface SquareCorner {
  readonly speedMmPerS: number;
  readonly accelerationMmPerS2: number;
  readonly cornerSpeedMmPerS: number;
}

/** Nearest distance to the sharp corner, mm. */
export interface CornerCut {
  readonly commandedMm: number;
  /** Of a nozzle that hangs on axes which give way. */
  readonly nozzleMm: number;
}

/** How long the nozzle is followed before the corner, in time constants of its swing, so that it has settled. */
const SETTLED = 12;

/**
 * Drives a corner in small steps of time: each axis's commanded speed is the sum of its delayed shares, and is added up
 * step by step; the nozzle follows each as a mass on a spring and a damper whose other end is driven.
 * @param corner - The command.
 * @param incoming - Impulses of the axis that comes in, or none to leave it unshaped.
 * @param outgoing - Impulses of the axis that starts.
 * @param mode - How both axes swing; the damper acts against rest.
 * @param stepS - Step of time.
 * @returns How near path and nozzle come to the corner.
 */
export function driveCorner(
  corner: SquareCorner,
  incoming: readonly Impulse[],
  outgoing: readonly Impulse[],
  mode: Mode,
  stepS: number,
): CornerCut {
  const { speedMmPerS: v, accelerationMmPerS2: a, cornerSpeedMmPerS: vc } = corner;
  const omega = 2 * Math.PI * mode.naturalHz;
  const brakingSpeed = (t: number) => (t < 0 ? Math.min(v, vc - a * t) : 0);
  const startingSpeed = (t: number) => (t > 0 ? Math.min(v, vc + a * t) : 0);
  const sum = (impulses: readonly Impulse[], speed: (t: number) => number, t: number) =>
    impulses.reduce((total, { share, lateS }) => total + share * speed(t - lateS), 0);
  const endS = Math.max(...incoming.map(({ lateS }) => lateS));
  const settleS = mode.dampingRatio > 0 ? SETTLED / (mode.dampingRatio * omega) : 0;
  const startS = -Math.max(v / a, 0) - settleS;
  const steps = Math.ceil((endS - startS) / stepS);
  // At the end the incoming axis stands in the corner, so it began as far before it as it has gone.
  const travel: [Float64Array, Float64Array] = [new Float64Array(steps + 1), new Float64Array(steps + 1)];
  for (let i = 0; i < steps; i += 1) {
    const middle = startS + (i + 0.5) * stepS;
    travel[0][i + 1] = travel[0][i]! + stepS * sum(incoming, brakingSpeed, middle);
    travel[1][i + 1] = travel[1][i]! + stepS * sum(outgoing, startingSpeed, middle);
  }
  const whole = travel[0][steps]!;
  const command = (axis: 0 | 1, i: number) => (axis === 0 ? travel[0][i]! - whole : travel[1][i]!);
  const nozzle = [0, 1].map((axis) => {
    const positions = new Float64Array(steps + 1);
    // It comes along at print speed; what it trails by then has long been settled.
    let position = command(axis as 0 | 1, 0) - (axis === 0 ? (2 * mode.dampingRatio * v) / omega : 0);
    let rate = axis === 0 ? v : 0;
    positions[0] = position;
    for (let i = 0; i < steps; i += 1) {
      const pull = omega * omega * (command(axis as 0 | 1, i) - position);
      rate += stepS * (pull - 2 * mode.dampingRatio * omega * rate);
      position += stepS * rate;
      positions[i + 1] = position;
    }
    return positions;
  });
  let [commandedMm, nozzleMm] = [Infinity, Infinity];
  for (let i = 0; i <= steps; i += 1) {
    commandedMm = Math.min(commandedMm, Math.hypot(command(0, i), command(1, i)));
    nozzleMm = Math.min(nozzleMm, Math.hypot(nozzle[0]![i]!, nozzle[1]![i]!));
  }
  return { commandedMm, nozzleMm };
}
