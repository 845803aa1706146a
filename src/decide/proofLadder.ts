import type { Hz, Mm, MmPerS, MmPerS2 } from '../core/units.js';

/** One step of a proof print. */
export interface ProofStep {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly mmPerS2: MmPerS2;
}

/** What a proof print has to suit. */
export interface ProofNeeds {
  /** The stretch of height there is. */
  readonly bottomMm: Mm;
  readonly topMm: Mm;
  /** The user's limit, > 0. */
  readonly highestMmPerS2: MmPerS2;
  /** Of the prints to come. */
  readonly speedMmPerS: MmPerS;
  readonly cornerSpeedMmPerS: MmPerS;
  /** Natural frequencies of the axes that it proves. */
  readonly naturalHz: readonly Hz[];
}

/** Accelerations by height that prove a setting. */
export interface ProofLadder {
  readonly steps: readonly ProofStep[];
  /** At what speed: that of the prints to come, or, where a corner taken at that speed excites nothing at the limit, the next lower one at which it does. */
  readonly speedMmPerS: MmPerS;
}

/** Steps are read best from 6 mm up (README); with more than eight nothing more is learned. */
const STEP_MM = { usual: 8, least: 6 } as const;
const MOST_STEPS = 8;
/** From this share of the limit, at which hardly any axis rings, in even ratios. */
const LOWEST_SHARE = 1 / 8;
/** A speed ramp that lasts about 1 or 2 swings excites nothing: DESIGN 5.10, issue of planning a print. */
const WHOLE_SWINGS = [1, 2] as const;
const NEAR = 0.15;
/** Steps nearer to each other than this say the same. */
const LEAST_RATIO = 1.15;
/** An acceleration is told to so many digits. */
const DIGITS = 2;

/**
 * Accelerations of a proof print: they climb in even ratios from an eighth of the limit up to it. One at which the speed
 * ramp in the corner lasts about one or two whole swings of an axis would look quiet whatever the shaper does; it is moved beside.
 * @param told - Height, limit, speeds and axes.
 * @returns The ladder; undefined where there is no room for two steps.
 * @see test/reference/corner_ringing_amplitude.csv: residual amplitude (2a/ω²)|sin(ωΔv/2a)|.
 */
export function proofLadder(told: ProofNeeds): ProofLadder | undefined {
  const { bottomMm, topMm, highestMmPerS2: highest } = told;
  const needs = { ...told, speedMmPerS: seeingSpeed(told) };
  const heightMm = topMm - bottomMm;
  const usual = Math.floor(heightMm / STEP_MM.usual);
  const count = Math.min(MOST_STEPS, usual >= 3 ? usual : Math.floor(heightMm / STEP_MM.least));
  if (count < 2) return undefined;
  const asked = Array.from({ length: count }, (_, i) => highest * LOWEST_SHARE ** (1 - i / (count - 1)));
  const climbing = apart(asked.map((value) => shown(seen(value, needs), highest)));
  const each = heightMm / climbing.length;
  return {
    steps: climbing.map((mmPerS2, i) => ({
      fromMm: tenth(bottomMm + i * each),
      toMm: tenth(bottomMm + (i + 1) * each),
      mmPerS2,
    })),
    speedMmPerS: needs.speedMmPerS,
  };
}

/** Those that differ, rising; the highest stays. */
function apart(accelerations: readonly MmPerS2[]): readonly MmPerS2[] {
  const falling = accelerations.toSorted((a, b) => b - a);
  const kept: MmPerS2[] = [];
  for (const value of falling) {
    const above = kept.at(-1);
    if (above === undefined || value * LEAST_RATIO <= above) kept.push(value);
  }
  return kept.toReversed();
}

/** The speed of the prints to come, or the next lower whole one at which a corner excites every axis at the limit. */
function seeingSpeed(needs: ProofNeeds): MmPerS {
  const { speedMmPerS, cornerSpeedMmPerS, highestMmPerS2 } = needs;
  const sees = (speed: MmPerS) => blindAt(highestMmPerS2, { ...needs, speedMmPerS: speed }) === undefined;
  if (sees(speedMmPerS)) return speedMmPerS;
  for (let speed = Math.ceil(speedMmPerS) - 1; speed > cornerSpeedMmPerS; speed -= 1) {
    if (sees(speed)) return speed;
  }
  return speedMmPerS;
}

/** The nearest acceleration at which no ramp lasts a whole swing, not above the limit. */
function seen(asked: MmPerS2, needs: ProofNeeds): MmPerS2 {
  const blind = blindAt(asked, needs);
  if (blind === undefined) return asked;
  const edges = [blind.high, blind.low].filter(
    (edge) => edge <= needs.highestMmPerS2 && blindAt(edge, needs) === undefined,
  );
  const [nearest] = edges.toSorted((a, b) => Math.abs(Math.log(a / asked)) - Math.abs(Math.log(b / asked)));
  return nearest ?? asked;
}

/** The accelerations around one that excite nothing; undefined where it does excite every axis. */
function blindAt(
  mmPerS2: MmPerS2,
  { speedMmPerS, cornerSpeedMmPerS, naturalHz }: ProofNeeds,
): { readonly low: MmPerS2; readonly high: MmPerS2 } | undefined {
  for (const hz of naturalHz) {
    for (const swings of WHOLE_SWINGS) {
      const whole = hz * (speedMmPerS - cornerSpeedMmPerS);
      const [low, high] = [whole / (swings + NEAR), whole / (swings - NEAR)];
      // The edges themselves are seen, as rounded to their digits.
      if (mmPerS2 > low * (1 + 1e-9) && mmPerS2 < high * (1 - 1e-9)) return { low, high };
    }
  }
  return undefined;
}

/** Two digits, and the limit as it was told. */
function shown(mmPerS2: MmPerS2, highest: MmPerS2): MmPerS2 {
  return mmPerS2 === highest ? highest : Math.min(highest, Number(mmPerS2.toPrecision(DIGITS)));
}

function tenth(mm: Mm): Mm {
  return Number(mm.toFixed(1));
}
