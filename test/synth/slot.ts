import {
  commandedAlong,
  cornerResponse,
  integrate,
  responseAt,
  wallOfLayer,
  type Corner,
  type CornerResponse,
  type Mode,
} from './motion.js';
import type { Impulse } from './shapers.js';

/**
 * A slot in the face. The perimeter follows it: at the near edge it turns inwards along the swinging axis, crosses at the
 * slot's bottom, comes out again and turns onto the face, as at the leading corner.
 */
export interface Slot {
  /** Its near edge, mm from the leading corner, and how wide it was printed. */
  readonly fromMm: number;
  readonly widthMm: number;
  /** How deep it is. */
  readonly flankMm: number;
  /** Where the shaper is too long for it: at and beyond this height there is no gap, and on this stretch before it narrows. */
  readonly closes?: { readonly atMm: number; readonly side: 'below' | 'above'; readonly overMm: number };
}

/** Brightness of a gap against the face beside it. */
const GAP_LIGHT = 0.12;

/**
 * How wide the gap is that shows at a height.
 * @param slot - The slot.
 * @param heightMm - Height above the bed.
 * @returns Mm; 0 where it is closed.
 */
export function gapAt({ widthMm, closes }: Slot, heightMm: number): number {
  if (closes === undefined) return widthMm;
  const beyondMm = closes.side === 'below' ? heightMm - closes.atMm : closes.atMm - heightMm;
  return widthMm * Math.max(0, Math.min(1, beyondMm / closes.overMm));
}

/**
 * Darkens the gap of one layer.
 * @param light - Its brightness along the face; changed.
 * @param positionsMm - Where the brightness is, evenly spaced.
 * @param heightMm - The layer's middle.
 * @param slot - The slot.
 */
export function darkenGap(
  light: Float32Array,
  positionsMm: Float64Array,
  heightMm: number,
  slot: Slot,
): void {
  const gapMm = gapAt(slot, heightMm);
  const middleMm = slot.fromMm + slot.widthMm / 2;
  const stepMm = positionsMm[1]! - positionsMm[0]!;
  for (let i = 0; i < light.length; i += 1) {
    const x = positionsMm[i]!;
    const within =
      Math.min(x + stepMm / 2, middleMm + gapMm / 2) - Math.max(x - stepMm / 2, middleMm - gapMm / 2);
    const share = Math.max(0, within) / stepMm;
    light[i] = light[i]! * (1 - share * (1 - GAP_LIGHT));
  }
}

/** Highest speed between two stops at corner speed. */
function topSpeed(
  { speedMmPerS, accelerationMmPerS2: a, cornerSpeedMmPerS: slow }: Corner,
  mm: number,
): number {
  return Math.min(speedMmPerS, Math.sqrt(slow * slow + a * mm));
}

/** Grid on which the way round the slot is kept, s. */
const GRID_S = 2e-5;

/**
 * How an axis answers the unshaped way round a slot, and what is left of the leading corner's swing.
 * @param corner - The leading corner, with the whole face's width.
 * @param mode - The axis.
 * @param slot - The slot.
 * @param untilS - Seconds after the slot's far edge.
 * @returns Position (mm) and rate (mm/s) relative to the command, t from the far edge.
 */
export function slotResponse(corner: Corner, mode: Mode, slot: Slot, untilS: number): CornerResponse {
  const { accelerationMmPerS2: a, cornerSpeedMmPerS: slow } = corner;
  const front = { ...corner, widthMm: slot.fromMm };
  const frontS = lengthS(front);
  let [position, rate] = responseAt(cornerResponse(front, mode, frontS + 0.01), frontS);
  const top = topSpeed(corner, slot.flankMm);
  const rampS = (top - slow) / a;
  const steadyS = (slot.flankMm - (top + slow) * rampS) / top;
  const crossingS = lengthS({ ...corner, widthMm: slot.widthMm });
  // Each piece: how the command's rate jumps at its start, its acceleration, how long it lasts. Outwards is positive.
  const pieces: readonly (readonly [number, number, number])[] = [
    [-slow, -a, rampS],
    [0, 0, steadyS],
    [0, a, rampS],
    [slow, 0, crossingS],
    [slow, a, rampS],
    [0, 0, steadyS],
    [0, -a, rampS],
  ];
  const wholeS = pieces.reduce((sum, [, , spanS]) => sum + spanS, 0);
  const count = Math.ceil(wholeS / GRID_S);
  const stepS = wholeS / count;
  const braking = { stepS, position: new Float64Array(count + 1), rate: new Float64Array(count + 1) };
  let startS = 0;
  for (const [jump, command, spanS] of pieces) {
    rate -= jump;
    if (spanS <= 0) continue;
    const piece = integrate(mode, command, position, rate, spanS);
    for (let k = Math.ceil(startS / stepS); k <= Math.min(count, (startS + spanS) / stepS); k += 1) {
      const place = (k * stepS - startS) / piece.stepS;
      const i = Math.min(piece.position.length - 2, Math.floor(place));
      const between = (of: Float64Array) => of[i]! + (place - i) * (of[i + 1]! - of[i]!);
      braking.position[k] = between(piece.position);
      braking.rate[k] = between(piece.rate);
    }
    position = piece.position[piece.position.length - 1]!;
    rate = piece.rate[piece.rate.length - 1]!;
    startS += spanS;
  }
  braking.position[count] = position;
  braking.rate[count] = rate;
  return { rampS: wholeS, braking, after: integrate(mode, 0, position, rate + slow, untilS) };
}

/** How long the move along a wall takes, from corner to corner. */
function lengthS(corner: Corner): number {
  const { accelerationMmPerS2: a, cornerSpeedMmPerS: slow, widthMm } = corner;
  const top = topSpeed(corner, widthMm);
  const rampS = (top - slow) / a;
  const at = 2 * rampS + (widthMm - (slow + top) * rampS) / top;
  // Told twice, so that a change of the move shows.
  const [place] = commandedAlong(corner)(at);
  if (Math.abs(place - widthMm) > 1e-6) throw new Error(`Expected ${widthMm} mm but came ${place} mm.`);
  return at;
}

/**
 * The slope of one layer of a face with a slot: before it, and behind it where it is open.
 * @param corner - The leading corner, with the whole face's width.
 * @param front - Answers of the swinging modes to the leading corner, with the share of each.
 * @param behind - The same to the way round the slot.
 * @param slot - The slot.
 * @param across - Shaper of the axis perpendicular to the face.
 * @param along - Shaper of the move along the face.
 * @param positionsMm - Places, ascending, mm from the leading corner.
 * @returns Slope at each place; 0 in the slot.
 */
export function slottedSlope(
  corner: Corner,
  front: readonly { readonly response: CornerResponse; readonly share: number }[],
  behind: readonly { readonly response: CornerResponse; readonly share: number }[],
  slot: Slot,
  across: readonly Impulse[],
  along: readonly Impulse[],
  positionsMm: Float64Array,
): Float64Array {
  const farMm = slot.fromMm + slot.widthMm;
  const before = wallOfLayer(
    { ...corner, widthMm: slot.fromMm },
    front,
    across,
    along,
    positionsMm.map((x) => Math.min(x, slot.fromMm)),
  ).slope;
  const rest = {
    ...corner,
    widthMm: corner.widthMm - farMm,
    comesInMmPerS: topSpeed(corner, slot.flankMm),
  };
  const after = wallOfLayer(
    rest,
    behind,
    across,
    along,
    positionsMm.map((x) => x - farMm),
  ).slope;
  return positionsMm.map((x, i) => (x <= slot.fromMm ? before[i]! : x < farMm ? 0 : after[i]!));
}
