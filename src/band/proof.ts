import { interval95, type Estimate, type Interval } from '../core/estimate.js';
import type { DampingRatio, Hz, Mm, MmPerS2 } from '../core/units.js';
import { cornerSwing } from '../physics/cornerSwing.js';
import { dampedHz, naturalHz } from '../physics/oscillator.js';
import type { PrintSettings } from '../print/settle.js';
import type { ProofRipples, ProofStep } from '../ripple/proofRipples.js';

/** What a proof print shows: ringing at each acceleration. Little of it is a success, and no refusal. */
export interface Proof {
  readonly state: 'proof';
  readonly axis: string;
  /** Where on the frequency axis ripples were looked for. */
  readonly at:
    | { readonly state: 'measured'; readonly dampedHz: Interval; readonly dampingRatio: Estimate }
    | { readonly state: 'assumed'; readonly dampedHz: Hz; readonly dampingRatio: DampingRatio }
    | {
        readonly state: 'range';
        readonly lowHz: Hz;
        readonly highHz: Hz;
        readonly dampingRatio: DampingRatio;
      };
  /** Relative standard uncertainty that all amplitudes share, by the damping ratio: they may be off by one factor. */
  readonly sharedSd: number;
  /** In the ladder's order. */
  readonly steps: readonly StepReading[];
  /** The highest acceleration tested up to which no ripples show; absent where they show at the lowest. */
  readonly quietUpTo?: {
    readonly mmPerS2: MmPerS2;
    /** Ripples of this amplitude would have shown at any of these accelerations, 95 of 100 times. */
    readonly below: number;
  };
  /** Change of the amplitude when the acceleration doubles; absent where fewer than two accelerations could be compared. */
  readonly growth?: { readonly perDoubling: Interval; readonly verdict: 'grows' | 'falls' | 'level' };
  /** What a corner excites by theory, scaled to what was measured: amplitude by acceleration. */
  readonly model?: readonly { readonly mmPerS2: MmPerS2; readonly amplitude: number }[];
}

/** One acceleration. Amplitudes are at the leading corner, relative contrast. */
export interface StepReading {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly mmPerS2: MmPerS2;
  /** How many heights were read; 0 where the photo does not show the step, or its ramps leave too little wall. */
  readonly heights: number;
  readonly amplitude?: Estimate;
  /** The ripples stand out of the noise. */
  readonly significant: boolean;
  /** Ripples of this amplitude would have stood out, 95 of 100 times. */
  readonly detectable?: number;
}

/**
 * A step's amplitude must be so many times its noise, of each part of the complex amplitude, to be called ringing. White noise
 * reaches it in exp(−k²/2) = 1 of 3,000 steps; of 200 steps on drawn faces without ringing, but with scratches, stains and
 * uneven layers, 1 did (tuning seeds).
 */
const SIGNIFICANT = 4;
/**
 * Amplitude ÷ noise from which 95 of 100 are called ringing. The size of a complex number A + noise is about normal around
 * A + 1/(2A), so A + 1/(2A) = k + 1.645.
 * @see Rice, "Mathematical analysis of random noise", Bell System Technical Journal 24, 1945; detection limits after Currie,
 * Analytical Chemistry 40, 1968 (both from memory).
 */
const DETECTABLE = SIGNIFICANT + 1.645 - 1 / (2 * (SIGNIFICANT + 1.645));
/** Points of the model's curve, and how far it reaches beyond what was tested. */
const CURVE_POINTS = 81;
const CURVE_REACH = 1.15;

/**
 * Reads a proof print.
 * @param settings - The print's settings, with an acceleration ladder.
 * @param proof - Amplitude at each acceleration.
 * @param ringing - Damped frequency and damping ratio with all causes of uncertainty.
 * @returns What it shows.
 */
export function readProof(
  settings: PrintSettings,
  { frequency, steps: measured, sharedSd }: ProofRipples,
  ringing: { readonly frequencyHz: Estimate; readonly dampingRatio: Estimate },
): Proof {
  const steps = (settings.accelerationLadder ?? []).map((step, i): StepReading => ({
    ...step,
    ...readStep(measured[i]),
  }));
  const quietUpTo = quietest(steps);
  const growth = growthOf(steps);
  const model = frequency.state === 'measured' ? modelOf(settings, steps, ringing) : undefined;
  return {
    state: 'proof',
    axis: settings.axis,
    at:
      frequency.state === 'measured'
        ? {
            state: 'measured',
            dampedHz: interval95(ringing.frequencyHz),
            dampingRatio: ringing.dampingRatio,
          }
        : frequency,
    sharedSd,
    steps,
    ...(quietUpTo === undefined ? {} : { quietUpTo }),
    ...(growth === undefined ? {} : { growth }),
    ...(model === undefined ? {} : { model }),
  };
}

function readStep(step: ProofStep | undefined): Omit<StepReading, 'fromMm' | 'toMm' | 'mmPerS2'> {
  if (step === undefined) return { heights: 0, significant: false };
  const { heights, amplitude, noise } = step;
  return {
    heights,
    ...(amplitude === undefined ? {} : { amplitude }),
    significant: amplitude !== undefined && amplitude.value > SIGNIFICANT * noise,
    detectable: DETECTABLE * noise,
  };
}

/**
 * Ringing does not climb evenly with the acceleration, since a ramp of whole swings leaves nothing behind: an acceleration
 * counts as quiet only with all lower ones that were tested.
 */
function quietest(steps: readonly StepReading[]): Proof['quietUpTo'] {
  const tested = steps.filter(({ heights }) => heights > 0);
  const rings = tested.filter(({ significant }) => significant).map(({ mmPerS2 }) => mmPerS2);
  const quiet = tested.filter(({ mmPerS2 }) => mmPerS2 < Math.min(...rings));
  return quiet.length === 0
    ? undefined
    : {
        mmPerS2: Math.max(...quiet.map(({ mmPerS2 }) => mmPerS2)),
        below: Math.max(...quiet.map(({ detectable = 0 }) => detectable)),
      };
}

/**
 * Slope of a straight line through the amplitudes over the logarithm of the acceleration, weighed by their variances; where
 * the steps lie further from it than they are uncertain, its uncertainty grows with them.
 * @see Birge, "The calculation of errors by the method of least squares", Physical Review 40, 1932 (from memory).
 */
function growthOf(steps: readonly StepReading[]): Proof['growth'] {
  const points = steps.flatMap(({ mmPerS2, amplitude }) =>
    amplitude === undefined ? [] : [{ x: Math.log2(mmPerS2), y: amplitude.value, w: 1 / amplitude.sd ** 2 }],
  );
  const sum = (of: (point: (typeof points)[number]) => number) =>
    points.reduce((total, point) => total + of(point), 0);
  const total = sum(({ w }) => w);
  const middle = { x: sum(({ w, x }) => w * x) / total, y: sum(({ w, y }) => w * y) / total };
  const spread = sum(({ w, x }) => w * (x - middle.x) ** 2);
  if (!(spread > 0)) return undefined;
  const value = sum(({ w, x, y }) => w * (x - middle.x) * (y - middle.y)) / spread;
  const apart = sum(({ w, x, y }) => w * (y - middle.y - value * (x - middle.x)) ** 2);
  const stretch = points.length > 2 ? Math.max(1, Math.sqrt(apart / (points.length - 2))) : 1;
  const perDoubling = interval95({ value, sd: stretch / Math.sqrt(spread) });
  return {
    perDoubling,
    verdict: perDoubling.low95 > 0 ? 'grows' : perDoubling.high95 < 0 ? 'falls' : 'level',
  };
}

/** The shape is theory's, the size measured: light and plastic make contrast of a slope in a way that nobody knows. */
function modelOf(
  settings: PrintSettings,
  steps: readonly StepReading[],
  ringing: { readonly frequencyHz: Estimate; readonly dampingRatio: Estimate },
): Proof['model'] {
  const zeta = ringing.dampingRatio.value;
  const natural = naturalHz(ringing.frequencyHz.value, zeta);
  const swing = (mmPerS2: MmPerS2) =>
    cornerSwing(
      {
        speedMmPerS: settings.speedMmPerS.value,
        cornerSpeedMmPerS: settings.cornerSpeedMmPerS,
        accelerationMmPerS2: mmPerS2,
      },
      natural,
      zeta,
    );
  let both = 0;
  let own = 0;
  for (const { mmPerS2, amplitude } of steps) {
    if (amplitude === undefined) continue;
    both += (amplitude.value * swing(mmPerS2)) / amplitude.sd ** 2;
    own += (swing(mmPerS2) / amplitude.sd) ** 2;
  }
  if (!(own > 0)) return undefined;
  const tested = steps.map(({ mmPerS2 }) => mmPerS2);
  const low = Math.min(...tested) / CURVE_REACH;
  const ratio = (Math.max(...tested) * CURVE_REACH) / low;
  return Array.from({ length: CURVE_POINTS }, (_, i) => {
    const mmPerS2 = low * ratio ** (i / (CURVE_POINTS - 1));
    return { mmPerS2, amplitude: (both / own) * swing(mmPerS2) };
  });
}

/** Ripples at twice the frequency that the shaper is set to, within this share, are the axis's own seen doubled. */
const TWICE_WITHIN = 0.1;

/**
 * How the frequency of the ripples compares with twice the shaper's, which is what light from the front makes of the axis's own.
 * @param settings - The print's settings.
 * @param proof - What it shows.
 * @returns Measured ÷ set frequency where it is about two; else undefined.
 */
export function doubledSetting({ ladder, shaper }: PrintSettings, { at }: Proof): number | undefined {
  if (ladder.kind !== 'fixed' || at.state !== 'measured') return undefined;
  const set = shaper.hzMeans === 'damped' ? ladder.hz : dampedHz(ladder.hz, at.dampingRatio.value);
  const times = at.dampedHz.value / set;
  return Math.abs(times / 2 - 1) < TWICE_WITHIN ? times : undefined;
}
