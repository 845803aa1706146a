import type { DampingRatio, Hz, Seconds } from '../core/units.js';
import { lengthS, type Impulses } from '../physics/impulses.js';
import { dampedHz, naturalHz } from '../physics/oscillator.js';
import { quietBand, worstVibration, type Span } from '../physics/quietBand.js';
import { shaperImpulses, type ShaperFamily } from '../physics/shapers.js';
import { TOLERATED_VIBRATION } from '../physics/unitShaper.js';

/** What an axis may be like, as far as its reading and the load on it leave open. */
export interface AxisSpan {
  /** Natural frequency, Hz. */
  readonly naturalHz: Span;
  readonly dampingRatio: Span;
  /** What the reading says, where it is one state of the axis; absent where a load comes and goes. */
  readonly likely?: { readonly naturalHz: Hz; readonly dampingRatio: DampingRatio };
}

/** A shaper as it would be entered. */
export interface ShaperSetting {
  readonly family: ShaperFamily;
  /** What to enter, to a tenth of a hertz. */
  readonly enterHz: Hz;
  /** As which frequency the machine takes it. */
  readonly hzMeans: 'natural' | 'damped';
  /** Damping ratio to enter, to a thousandth. */
  readonly dampingRatio: DampingRatio;
}

/** A shaper for an axis with what it does there. */
export interface FittedShaper extends ShaperSetting {
  readonly lengthS: Seconds;
  /** Residual vibration at worst, share of the unshaped. */
  readonly worstLeft: number;
  /** That is no more than is tolerated. */
  readonly holds: boolean;
  /** Natural frequencies of the axis between which it is tolerated, whatever its damping ratio; absent where it is not at the shaper's own. */
  readonly quietHz?: Span;
}

/** Residual vibration that is tolerated: the 5 % of the literature. EI meets it to rounding. */
const TOLERATED = TOLERATED_VIBRATION * (1 + 1e-6);

/** What machines take: tenths of a hertz, thousandths of a damping ratio (common practice, no source). */
const HZ_DIGITS = 1;
const DAMPING_DIGITS = 3;
/** Settings of the damping ratio that are tried. */
const DAMPING_TRIES = 9;
/** What the reading says is entered as it is where another setting lets the axis drift hardly farther. */
const AS_GOOD = 0.95;
/** Steps of the search for the least worst case, as shares of the span. */
const LEAST_STEP = 1 / 64;

/**
 * Fits a family of shapers to an axis: the setting with which the axis may drift farthest, down as well as up, before
 * residual vibration passes 5 %, whatever its damping ratio; where the span itself is too wide for that, the setting with
 * the least worst case in it. Where what the reading says is nearly as good, it is taken as it is.
 *
 * Of ZV and ZVD both are one; of EI and the hump shapers the least worst case alone would put the span onto one of their zeros,
 * at the edge of what they tolerate.
 * @param family - Which shaper.
 * @param axis - What the axis may be like.
 * @param hzMeans - As which frequency the machine takes the number.
 * @returns The shaper, with numbers as they are entered.
 */
export function fitShaper(family: ShaperFamily, axis: AxisSpan, hzMeans: 'natural' | 'damped'): FittedShaper {
  const { naturalHz: hz, dampingRatio, likely } = axis;
  const bandOf = (setTo: DampingRatio) => quietBand(family, setTo, dampingRatio, TOLERATED);
  const marginOf = (band: Span, middleHz: Hz) =>
    Math.min(hz.low - band.low * middleHz, band.high * middleHz - hz.high);
  let widest = { hz: 0, dampingRatio: 0, marginHz: -Infinity };
  for (const setTo of triedDampings(dampingRatio)) {
    const band = bandOf(setTo);
    if (band === undefined) continue;
    const middleHz = (hz.low + hz.high) / (band.low + band.high);
    const marginHz = marginOf(band, middleHz);
    if (marginHz > widest.marginHz) widest = { hz: middleHz, dampingRatio: setTo, marginHz };
  }
  const asRead = likely && {
    hz: likely.naturalHz,
    dampingRatio: rounded(likely.dampingRatio, DAMPING_DIGITS),
  };
  const readBand = asRead && bandOf(asRead.dampingRatio);
  const chosen =
    widest.marginHz < 0
      ? leastWorst(family, axis)
      : asRead !== undefined &&
          readBand !== undefined &&
          marginOf(readBand, asRead.hz) >= AS_GOOD * widest.marginHz
        ? asRead
        : widest;
  return fittedTo(settingOf(family, chosen.hz, chosen.dampingRatio, hzMeans), axis);
}

/** A shaper as it is entered, held against an axis. */
function fittedTo(setting: ShaperSetting, axis: AxisSpan): FittedShaper {
  const impulses = impulsesOf(setting);
  const worstLeft = worstVibration(impulses, axis.naturalHz, axis.dampingRatio);
  const band = quietBand(setting.family, setting.dampingRatio, axis.dampingRatio, TOLERATED);
  const builtForHz = naturalOf(setting);
  return {
    ...setting,
    lengthS: lengthS(impulses),
    worstLeft,
    holds: worstLeft <= TOLERATED,
    ...(band === undefined ? {} : { quietHz: { low: band.low * builtForHz, high: band.high * builtForHz } }),
  };
}

/**
 * The impulses of a shaper as it is entered.
 * @param setting - The shaper.
 * @returns Amplitudes and times.
 */
export function impulsesOf({ family, enterHz, dampingRatio, hzMeans }: ShaperSetting): Impulses {
  return shaperImpulses({ family, hz: enterHz, dampingRatio, hzMeans });
}

function naturalOf({ enterHz, dampingRatio, hzMeans }: ShaperSetting): Hz {
  return hzMeans === 'natural' ? enterHz : naturalHz(enterHz, dampingRatio);
}

function settingOf(
  family: ShaperFamily,
  hz: Hz,
  dampingRatio: DampingRatio,
  hzMeans: 'natural' | 'damped',
): ShaperSetting {
  const setTo = rounded(dampingRatio, DAMPING_DIGITS);
  return {
    family,
    enterHz: rounded(hzMeans === 'natural' ? hz : dampedHz(hz, setTo), HZ_DIGITS),
    hzMeans,
    dampingRatio: setTo,
  };
}

/** From the lower end, rounded down, since a shaper that is set too low leaves less than one that is set too high. */
function triedDampings({ low, high }: Span): readonly DampingRatio[] {
  const scale = 10 ** DAMPING_DIGITS;
  const [first, last] = [Math.floor(low * scale), Math.ceil(high * scale)];
  const tried = Array.from(
    { length: DAMPING_TRIES },
    (_, i) => Math.round(first + ((last - first) * i) / (DAMPING_TRIES - 1)) / scale,
  );
  return [...new Set(tried)];
}

/** The least worst case over the span: from its middle downhill, in steps that are halved where none leads further. */
function leastWorst(
  family: ShaperFamily,
  axis: AxisSpan,
): { readonly hz: Hz; readonly dampingRatio: DampingRatio } {
  const { naturalHz: hz, dampingRatio } = axis;
  const width = { hz: hz.high - hz.low, damping: dampingRatio.high - dampingRatio.low };
  const worst = (at: { readonly hz: Hz; readonly dampingRatio: DampingRatio }) =>
    at.hz > 0 && at.dampingRatio >= dampingRatio.low && at.dampingRatio <= dampingRatio.high
      ? worstVibration(
          shaperImpulses({ family, ...at, hzMeans: 'natural' }),
          axis.naturalHz,
          axis.dampingRatio,
        )
      : Infinity;
  let best = { hz: (hz.low + hz.high) / 2, dampingRatio: (dampingRatio.low + dampingRatio.high) / 2 };
  let least = worst(best);
  for (let step = 1 / 4; step >= LEAST_STEP;) {
    const [next] = NEIGHBOURS.map(([dx, dy]) => {
      const at = {
        hz: best.hz + dx * step * width.hz,
        dampingRatio: best.dampingRatio + dy * step * width.damping,
      };
      return { at, left: worst(at) };
    }).toSorted((a, b) => a.left - b.left);
    if (next !== undefined && next.left < least) [best, least] = [next.at, next.left];
    else step /= 2;
  }
  return best;
}

const NEIGHBOURS = [-1, 0, 1].flatMap((dx) => [-1, 0, 1].map((dy) => [dx, dy] as const));

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}
