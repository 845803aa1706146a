import type { Mm, MmPerS2 } from '../core/units.js';
import { minimise1d } from '../signal/simplex.js';
import { distanceMm, type CornerMotion } from './cornerMotion.js';
import { lengthS, type Impulses } from './impulses.js';

/** Impulses of the axis that comes to a stop in a corner of 90°, and of the one that starts there. */
export interface CornerShapers {
  readonly incoming: Impulses;
  readonly outgoing: Impulses;
}

/** A commanded corner of 90° as its shapers round it. */
export interface ShapedCorner {
  /** From the sharp corner to the nearest point of the shaped path. */
  readonly roundingMm: Mm;
  /** Points of the shaped path, from before the corner to behind it: what is left to it (mm along the incoming axis, ≥ 0) and how far on (along the outgoing one, ≥ 0). */
  readonly path: readonly (readonly [beforeMm: Mm, behindMm: Mm])[];
}

/** Points between two impulses: in each such stretch the path is smooth. */
const STEPS = 24;
/** Points of the path that are told. */
const PATH_POINTS = 48;
/** The path is told until it is as far from the corner as so many times the rounding. */
const PATH_REACH = 4;
/** Beyond this an acceleration is no limit: ten times what any printer does (common practice, no source). */
const FASTEST_MM_PER_S2: MmPerS2 = 1e6;
/** To a millionth of an mm/s². */
const HALVINGS = 40;

/**
 * How shapers round a corner of 90° of the commanded path. Each axis's command is convolved with its own impulses. Before
 * the corner (t = 0) the incoming axis is s₀(−t) away from it, s₀ as in `distanceMm`, and the outgoing one s₀(t) behind it
 * afterwards, so that the shaped ones are u(t) = Σ Aᵢ s₀(tᵢ − t) and w(t) = Σ Bⱼ s₀(t − τⱼ). As long as the incoming axis has not
 * arrived the other one is on its way: the corner is cut, nearest to it by √(u² + w²) at its least. For ZV without damping, a
 * corner taken at rest and a ramp that is longer than the shaper that is √2 a L²/16, L the shaper's length; for ZVD √2 a L²/32.
 *
 * The corner itself is the point of the commanded path that the shaped one keeps farthest from. Only what is commanded is
 * rounded so: the axis, which gives way, leads its command while it brakes and trails it while it starts, so that the nozzle
 * cuts the corner less (test/physics/shapedCorner.test.ts integrates both).
 * @param motion - Speeds and acceleration on both sides of the corner.
 * @param shapers - Impulses of both axes.
 * @returns The rounding, to 1e-7 mm, and the path.
 */
export function shapedCorner(motion: CornerMotion, shapers: CornerShapers): ShapedCorner {
  const at = pathOf(motion, shapers);
  const away = (t: number) => Math.hypot(...at(t));
  const { incoming, outgoing } = shapers;
  const endS = lengthS(incoming);
  const knots = [...incoming.timesS, ...outgoing.timesS.filter((t) => t < endS)].sort((a, b) => a - b);
  let nearest = away(0);
  knots.slice(1).forEach((to, i) => {
    const from = knots[i] ?? 0;
    if (!(to > from)) return;
    const stepS = (to - from) / STEPS;
    let best = 0;
    for (let k = 1; k <= STEPS; k += 1) if (away(from + k * stepS) < away(from + best * stepS)) best = k;
    const [low, high] = [Math.max(0, best - 1), Math.min(STEPS, best + 1)];
    const { cost } = minimise1d(away, from + low * stepS, from + high * stepS, 1e-9);
    nearest = Math.min(nearest, cost, away(to));
  });
  // As far as to show where it leaves the commanded path, or at least where the shapers end.
  let fromS = 0;
  let toS = Math.max(endS, lengthS(outgoing));
  const stepS = Math.max(toS, 1e-4) / STEPS;
  while (away(fromS) < PATH_REACH * nearest) fromS -= stepS;
  while (away(toS) < PATH_REACH * nearest) toS += stepS;
  const path = Array.from({ length: PATH_POINTS + 1 }, (_, i) =>
    at(fromS + ((toS - fromS) * i) / PATH_POINTS),
  );
  return { roundingMm: nearest, path };
}

/**
 * The highest acceleration at which shapers round a corner of 90° by no more than a limit.
 * @param motion - Speeds at the corner and behind it.
 * @param shapers - Impulses of both axes.
 * @param limitMm - Rounding that is tolerated, > 0.
 * @returns The acceleration, to 1e-6 mm/s²; 0 where the speed that is kept through the corner rounds it by more already; Infinity
 * where no acceleration does.
 */
export function accelerationForRounding(
  motion: Pick<CornerMotion, 'speedMmPerS' | 'cornerSpeedMmPerS'>,
  shapers: CornerShapers,
  limitMm: Mm,
): MmPerS2 {
  const rounding = (accelerationMmPerS2: MmPerS2) =>
    shapedCorner({ ...motion, accelerationMmPerS2 }, shapers).roundingMm;
  if (rounding(FASTEST_MM_PER_S2) <= limitMm) return Infinity;
  let low: MmPerS2 = 0;
  let high = FASTEST_MM_PER_S2;
  for (let k = 0; k < HALVINGS; k += 1) {
    const middle = (low + high) / 2;
    if (rounding(middle) <= limitMm) low = middle;
    else high = middle;
  }
  return low;
}

function pathOf(
  motion: CornerMotion,
  { incoming, outgoing }: CornerShapers,
): (tS: number) => readonly [beforeMm: Mm, behindMm: Mm] {
  const shaped = ({ amplitudes, timesS }: Impulses, since: (impulseS: number) => number) =>
    amplitudes.reduce((sum, amplitude, i) => sum + amplitude * distanceMm(motion, since(timesS[i] ?? 0)), 0);
  return (tS) => [shaped(incoming, (t) => t - tS), shaped(outgoing, (t) => tS - t)];
}
