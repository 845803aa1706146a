import { InputError } from '../core/errors.js';
import { interval95, type Estimate, type Interval } from '../core/estimate.js';
import type { Kg, Mm, MmPerS, MmPerS2 } from '../core/units.js';
import type { CornerMotion } from '../physics/cornerMotion.js';
import { loadFactor } from '../physics/oscillator.js';
import { worstVibration } from '../physics/quietBand.js';
import { accelerationForRounding, shapedCorner, type ShapedCorner } from '../physics/shapedCorner.js';
import type { ShaperFamily } from '../physics/shapers.js';
import type { AnyReading } from '../reading/jointSchema.js';
import { axisModeOf, type AxisMode, type NoMode } from './axisMode.js';
import { fitShaper, impulsesOf, type AxisSpan, type FittedShaper } from './shaperOption.js';

/** What is told of machine and prints that no reading shows. */
export interface DecideLimits {
  /** Families that the machine offers. */
  readonly families: readonly ShaperFamily[];
  /** The highest acceleration that the user and the machine's maker allow. */
  readonly maxAccelerationMmPerS2?: MmPerS2;
  /** How far a corner may be cut. */
  readonly maxRoundingMm?: Mm;
  /** Speed of the prints to come; absent: that of the test print. */
  readonly speedMmPerS?: MmPerS;
  /** Speed that is kept through a corner; absent: that of the test print. */
  readonly cornerSpeedMmPerS?: MmPerS;
  /** The narrowest gap in a wall that must stay open. */
  readonly slotMm?: Mm;
  readonly load?: {
    /** Which axis moves the bed. */
    readonly axis: string;
    /** What is added to the bed. */
    readonly addedKg: Kg;
    /** What moves with the bed without it. */
    readonly bedKg: Kg;
  };
}

/** The speeds that a decision is reckoned with. */
export interface DecideSpeeds {
  readonly speedMmPerS: MmPerS;
  readonly cornerSpeedMmPerS: MmPerS;
  /** The corner speed was told neither here nor in the print record. */
  readonly cornerSpeedAssumed: boolean;
}

/** A shaper with what it costs and how far the axis may drift. */
export interface ShaperOption extends FittedShaper {
  /** How far the natural frequency may fall, and rise, before residual vibration passes 5 %; absent where it is above already. */
  readonly mayFallHz?: Interval;
  readonly mayRiseHz?: Interval;
  /** Of a corner of 90° at most, the worse way round, at the decision's acceleration; absent where there is none. */
  readonly roundingMm?: Mm;
  /** The highest acceleration at which a corner is cut by no more than is allowed, Infinity excepted; absent where none is told. */
  readonly roundingAllowsMmPerS2?: MmPerS2;
  /** What the shaper's length is at print speed: a gap of less closes (common practice, no source). */
  readonly travelMm: Mm;
}

/** Which acceleration corners are reckoned at. */
export type ChosenAcceleration =
  | {
      /** The user's limit, or less where corners would be cut further than is allowed. */
      readonly state: 'chosen';
      readonly mmPerS2: number;
      readonly because: 'limit' | 'rounding';
    }
  /** No limit is told: that of the test print, as an example. */
  | { readonly state: 'test-print'; readonly mmPerS2: number }
  /** The corner speed alone cuts corners further than is allowed. */
  | { readonly state: 'none-fits' }
  /** No acceleration is known. */
  | { readonly state: 'unknown' };

/** One axis with the shaper chosen for it. */
export interface ChosenAxis {
  readonly state: 'chosen';
  readonly axis: string;
  readonly mode: AxisMode;
  /** The same with the load on the bed; absent of an axis that carries none. */
  readonly loaded?: {
    readonly addedKg: Kg;
    readonly bedKg: Kg;
    readonly naturalHz: Interval;
    readonly dampingRatio: Interval;
  };
  /** Families that hold over all that the reading leaves open, load aside. */
  readonly goodFor: readonly ShaperFamily[];
  /** Why ZV does not, where it is offered: what alone makes it leave more. */
  readonly zvFailsBy?: 'frequency' | 'damping';
  /** The chosen one: the shortest that holds, or, where none does, the one that leaves least at worst. */
  readonly choice: ShaperOption;
  /** All offered, in the order of what they cost; the chosen one among them. */
  readonly options: readonly ShaperOption[];
  readonly acceleration: ChosenAcceleration;
  /** The corner as the chosen shapers of both axes round it; absent without an acceleration. */
  readonly corner?: ShapedCorner & CornerMotion & { readonly otherAxis: 'measured' | 'alike' };
}

/** One axis without a choice. */
export interface UndecidedAxis extends NoMode {
  readonly state: 'no-choice';
}

/** What only the user knows and was not told. */
export type MissingLimit = 'max-acceleration' | 'max-rounding' | 'corner-speed' | 'other-axis';

/** What to enter, axis by axis, with what it costs. */
export interface ShaperDecision {
  readonly axes: readonly (ChosenAxis | UndecidedAxis)[];
  readonly limits: DecideLimits;
  /** Absent where nothing is chosen. */
  readonly speeds?: DecideSpeeds;
  readonly missing: readonly MissingLimit[];
}

/** From what costs least to what costs most: length first, of equal ones what rounds corners less. */
const BY_COST: readonly ShaperFamily[] = ['ZV', 'ZVD', 'EI', 'ZVDD', '2-hump EI', '3-hump EI'];

/** An acceleration is told to two digits, rounded down: it is a limit. */
const LIMIT_DIGITS = 2;

/**
 * Chooses a shaper for each axis: of those offered the shortest that keeps residual vibration within 5 % wherever frequency and
 * damping ratio lie in their 95 % intervals, with and without the load that is told.
 * @param readings - One of each axis of one machine, one or two of them.
 * @param limits - What is told of machine and prints.
 * @returns The choices, what they cost, and what was not told.
 * @throws {InputError} `readings-differ` for readings of different machines or twice of one axis; `usage` for a load on an axis
 * that has no reading, for no family, or for a corner speed above the speed.
 * @see Residual vibration: `residualVibration`; corners: `shapedCorner`; load: `loadFactor`.
 */
export function decideShapers(readings: readonly AnyReading[], limits: DecideLimits): ShaperDecision {
  const modes = readings.map(axisModeOf);
  checkTogether(modes, limits);
  const known = modes.filter((mode): mode is AxisMode => 'naturalHz' in mode);
  const [first] = known;
  const speeds = first === undefined ? undefined : speedsOf(first, limits);
  const fitted = known.map((mode) => fitAxis(mode, limits));
  const missing: MissingLimit[] = [];
  if (known.length > 0) {
    if (limits.maxAccelerationMmPerS2 === undefined) missing.push('max-acceleration');
    if (limits.maxRoundingMm === undefined) missing.push('max-rounding');
    if (speeds?.cornerSpeedAssumed === true) missing.push('corner-speed');
    if (known.length === 1) missing.push('other-axis');
  }
  return {
    axes: modes.map((mode) => {
      const own = fitted.find((one) => one.mode === mode);
      if (own === undefined || speeds === undefined) return { state: 'no-choice', ...(mode as NoMode) };
      const other = fitted.find((one) => one !== own);
      return decideAxis(own, other, limits, speeds);
    }),
    limits,
    ...(speeds === undefined ? {} : { speeds }),
    missing,
  };
}

function checkTogether(modes: readonly (AxisMode | NoMode)[], limits: DecideLimits): void {
  const machines = new Set(modes.flatMap(({ machine }) => machine ?? []));
  const axes = modes.map(({ axis }) => axis);
  const problem =
    machines.size > 1
      ? `they belong to the machines ${[...machines].join(' and ')}`
      : new Set(axes).size < axes.length
        ? `two of them belong to axis ${String(axes.find((axis, i) => axes.indexOf(axis) < i))}`
        : axes.length > 2
          ? `they belong to ${String(axes.length)} axes, and a corner has two`
          : undefined;
  if (problem !== undefined) {
    throw new InputError(
      'readings-differ',
      `Nothing can be decided by these readings together: ${problem}.`,
      'Give one reading of each axis of one machine; several photos of one axis are measured together by "stillband measure".',
    );
  }
  if (limits.families.length === 0) {
    throw new InputError('usage', 'No shaper is offered.', 'Name the families that the machine offers.');
  }
  const { load } = limits;
  if (load !== undefined && !axes.includes(load.axis)) {
    throw new InputError(
      'usage',
      `The load lies on axis ${load.axis}, and the readings are of ${axes.join(' and ')}.`,
      'Name the axis that moves the bed as its print record does.',
    );
  }
}

function speedsOf({ print }: AxisMode, limits: DecideLimits): DecideSpeeds {
  const speedMmPerS = limits.speedMmPerS ?? print.speedMmPerS;
  const told = limits.cornerSpeedMmPerS;
  const cornerSpeedMmPerS = told ?? Math.min(print.cornerSpeedMmPerS, speedMmPerS);
  if (cornerSpeedMmPerS > speedMmPerS) {
    throw new InputError(
      'usage',
      `The corner speed of ${String(cornerSpeedMmPerS)} mm/s lies above the speed of ${String(speedMmPerS)} mm/s.`,
      'Give the speed that is kept through a corner, which is lower than the print speed.',
    );
  }
  return {
    speedMmPerS,
    cornerSpeedMmPerS,
    cornerSpeedAssumed: told === undefined && print.cornerSpeedAssumed,
  };
}

/** An axis with all shapers fitted to it, before anything is said of corners, which need both axes. */
interface FittedAxis {
  readonly mode: AxisMode;
  readonly loaded: ChosenAxis['loaded'];
  readonly fits: readonly FittedShaper[];
  readonly choice: FittedShaper;
}

function fitAxis(mode: AxisMode, limits: DecideLimits): FittedAxis {
  const loaded = loadedMode(mode, limits.load);
  const span = spanOf(mode, loaded);
  const fits = BY_COST.filter((family) => limits.families.includes(family)).map((family) =>
    fitShaper(family, span, mode.hzMeans),
  );
  const [shortest] = fits.filter(({ holds }) => holds);
  const [mildest] = fits.toSorted((a, b) => a.worstLeft - b.worstLeft);
  const choice = shortest ?? mildest;
  if (choice === undefined) throw new RangeError('Expected at least one family but received none.');
  return { mode, loaded, fits, choice };
}

function loadedMode(mode: AxisMode, load: DecideLimits['load']): ChosenAxis['loaded'] {
  if (load?.axis !== mode.axis) return undefined;
  const { addedKg, bedKg } = load;
  const factor = loadFactor(bedKg, addedKg);
  const { value, sd, low95, high95 } = mode.dampingRatio;
  return {
    addedKg,
    bedKg,
    naturalHz: interval95({ value: factor * mode.naturalHz.value, sd: factor * mode.naturalHz.sd }),
    dampingRatio: { value: factor * value, sd: factor * sd, low95: factor * low95, high95: factor * high95 },
  };
}

function spanOf(mode: AxisMode, loaded: ChosenAxis['loaded']): AxisSpan {
  const lowest = loaded ?? mode;
  return {
    naturalHz: { low: lowest.naturalHz.low95, high: mode.naturalHz.high95 },
    dampingRatio: { low: lowest.dampingRatio.low95, high: mode.dampingRatio.high95 },
    ...(loaded === undefined
      ? { likely: { naturalHz: mode.naturalHz.value, dampingRatio: mode.dampingRatio.value } }
      : {}),
  };
}

function decideAxis(
  own: FittedAxis,
  other: FittedAxis | undefined,
  limits: DecideLimits,
  speeds: DecideSpeeds,
): ChosenAxis {
  const { mode, loaded, fits } = own;
  const alone = fits.map((fit) => fitShaper(fit.family, spanOf(mode, undefined), mode.hzMeans));
  const goodFor = (loaded === undefined ? fits : alone).flatMap(({ family, holds }) =>
    holds ? [family] : [],
  );
  const zv = alone.find(({ family }) => family === 'ZV');
  const acceleration = accelerationOf(own, other, limits, speeds);
  const atMmPerS2 = 'mmPerS2' in acceleration ? acceleration.mmPerS2 : undefined;
  const options = fits.map((fit) => optionOf(fit, own, other, limits, speeds, atMmPerS2));
  const choice = options.find(({ family }) => family === own.choice.family);
  if (choice === undefined) throw new RangeError('Expected the choice among the options.');
  return {
    state: 'chosen',
    axis: mode.axis,
    mode,
    ...(loaded === undefined ? {} : { loaded }),
    goodFor,
    ...(zv === undefined || zv.holds ? {} : { zvFailsBy: zvFailsBy(zv, mode) }),
    choice,
    options,
    acceleration,
    ...(atMmPerS2 === undefined
      ? {}
      : {
          corner: {
            ...worseCorner(own.choice, other?.choice, { ...speeds, accelerationMmPerS2: atMmPerS2 }),
            speedMmPerS: speeds.speedMmPerS,
            cornerSpeedMmPerS: speeds.cornerSpeedMmPerS,
            accelerationMmPerS2: atMmPerS2,
            otherAxis: other === undefined ? 'alike' : 'measured',
          },
        }),
  };
}

/** Which of the two, the other one being exact, lets ZV leave more. */
function zvFailsBy(zv: FittedShaper, { naturalHz, dampingRatio }: AxisMode): 'frequency' | 'damping' {
  const impulses = impulsesOf(zv);
  const exactly = ({ value }: Estimate) => ({ low: value, high: value });
  const within = ({ low95, high95 }: Interval) => ({ low: low95, high: high95 });
  const byHz = worstVibration(impulses, within(naturalHz), exactly(dampingRatio));
  const byDamping = worstVibration(impulses, exactly(naturalHz), within(dampingRatio));
  return byHz >= byDamping ? 'frequency' : 'damping';
}

function accelerationOf(
  own: FittedAxis,
  other: FittedAxis | undefined,
  { maxAccelerationMmPerS2: limit, maxRoundingMm }: DecideLimits,
  speeds: DecideSpeeds,
): ChosenAcceleration {
  const allowed =
    maxRoundingMm === undefined ? Infinity : roundingAllows(own.choice, other?.choice, speeds, maxRoundingMm);
  if (allowed === 0) return { state: 'none-fits' };
  if (limit === undefined) {
    const { accelerationMmPerS2: ofTest } = own.mode.print;
    return ofTest === undefined
      ? { state: 'unknown' }
      : { state: 'test-print', mmPerS2: Math.min(ofTest, allowed) };
  }
  return allowed < limit
    ? { state: 'chosen', mmPerS2: allowed, because: 'rounding' }
    : { state: 'chosen', mmPerS2: limit, because: 'limit' };
}

function optionOf(
  fit: FittedShaper,
  { mode, loaded }: FittedAxis,
  other: FittedAxis | undefined,
  { maxRoundingMm }: DecideLimits,
  speeds: DecideSpeeds,
  atMmPerS2: MmPerS2 | undefined,
): ShaperOption {
  const lowest = loaded?.naturalHz ?? mode.naturalHz;
  const { quietHz } = fit;
  const allowed =
    maxRoundingMm === undefined ? Infinity : roundingAllows(fit, other?.choice, speeds, maxRoundingMm);
  return {
    ...fit,
    ...(quietHz === undefined || !fit.holds
      ? {}
      : {
          mayFallHz: interval95({ value: lowest.value - quietHz.low, sd: lowest.sd }),
          mayRiseHz: interval95({ value: quietHz.high - mode.naturalHz.value, sd: mode.naturalHz.sd }),
        }),
    ...(atMmPerS2 === undefined
      ? {}
      : {
          roundingMm: worseCorner(fit, other?.choice, { ...speeds, accelerationMmPerS2: atMmPerS2 })
            .roundingMm,
        }),
    ...(allowed === Infinity ? {} : { roundingAllowsMmPerS2: allowed }),
    travelMm: fit.lengthS * speeds.speedMmPerS,
  };
}

/** The corner is turned both ways: each axis comes in and the other goes out. An axis without a reading is taken as shaped alike. */
function bothWays(own: FittedShaper, other: FittedShaper = own) {
  const [a, b] = [impulsesOf(own), impulsesOf(other)];
  return [
    { incoming: a, outgoing: b },
    { incoming: b, outgoing: a },
  ] as const;
}

function worseCorner(own: FittedShaper, other: FittedShaper | undefined, motion: CornerMotion): ShapedCorner {
  const [one, reverse] = bothWays(own, other);
  const [first, second] = [shapedCorner(motion, one), shapedCorner(motion, reverse)];
  return second.roundingMm > first.roundingMm ? second : first;
}

/** Two digits, rounded down. */
function roundingAllows(
  own: FittedShaper,
  other: FittedShaper | undefined,
  speeds: DecideSpeeds,
  limitMm: Mm,
): MmPerS2 {
  const least = Math.min(
    ...bothWays(own, other).map((shapers) => accelerationForRounding(speeds, shapers, limitMm)),
  );
  if (least === 0 || least === Infinity) return least;
  const step = 10 ** (Math.floor(Math.log10(least)) + 1 - LIMIT_DIGITS);
  return Math.floor(least / step + 1e-9) * step;
}
