import { interval95, type Interval } from '../core/estimate.js';
import type { Mm, MmPerS, MmPerS2 } from '../core/units.js';
import { recordOf } from '../history/axisPoint.js';
import { naturalHz } from '../physics/oscillator.js';
import { settlePrint } from '../print/settle.js';
import { narrowingOf, type Narrowing } from '../reading/advice.js';
import type { AnyReading } from '../reading/jointSchema.js';
import { naturalPerLadder } from '../reading/naturalPerLadder.js';
import type { Reading } from '../reading/schema.js';

/** How an axis swings, by its reading, and how its test was printed. */
export interface AxisMode {
  readonly axis: string;
  /** As the print record names it; absent where it does not. */
  readonly machine?: string;
  /** Ladder frequency at which it rings least, Hz: what the reading proposes. */
  readonly ladderHz: Interval;
  /** Natural (undamped) frequency, Hz. */
  readonly naturalHz: Interval;
  /** Its 95 % interval is kept between 0 and what EI is defined for. */
  readonly dampingRatio: Interval;
  /** As which frequency the machine takes the number that is entered. */
  readonly hzMeans: 'natural' | 'damped';
  readonly print: {
    readonly speedMmPerS: MmPerS;
    readonly cornerSpeedMmPerS: MmPerS;
    readonly cornerSpeedAssumed: boolean;
    /** Absent where the record does not tell it. */
    readonly accelerationMmPerS2?: MmPerS2;
    /** The face that was measured; absent where its height is not known. */
    readonly face?: { readonly bottomMm: Mm; readonly heightMm: Mm };
  };
  /** What would make the frequency more certain. */
  readonly narrowing?: Narrowing;
}

/** Why no shaper can be chosen by a reading. */
export interface NoMode {
  readonly axis: string;
  readonly machine?: string;
  readonly why: Exclude<Reading['proposal']['state'], 'proposed'>;
  /** Of a refusal. */
  readonly refused?: Extract<Reading['proposal'], { state: 'refused' }>;
}

/** Beyond this no shaper is needed: `print/record.ts`. */
const MOST_DAMPED = 0.49;

/**
 * How an axis swings, by its reading.
 * @param reading - Of one photo or of several.
 * @returns The mode, the null's frequency taken over to the natural one as the fit along the ladder has both; or why the
 * reading does not tell it well enough to choose by.
 */
export function axisModeOf(reading: AnyReading): AxisMode | NoMode {
  const record = recordOf(reading);
  const { proposal, nullFit, ringing, budget } = reading;
  const named = { axis: record.axis, ...(record.machine === undefined ? {} : { machine: record.machine }) };
  if (proposal.state !== 'proposed') {
    return {
      ...named,
      why: proposal.state,
      ...(proposal.state === 'refused' ? { refused: proposal } : {}),
    };
  }
  const { settings, assumed } = settlePrint(record);
  const { hzMeans } = settings.shaper;
  const { bottomMm, heightMm } = settings.face;
  const { value: hz, sd } = proposal.frequencyHz;
  const damping = ringing?.dampingRatio ?? { value: nullFit?.dampingRatio ?? 0, sd: 0 };
  // A reading with a proposal has a fit along the ladder.
  const perLadder = naturalPerLadder(reading) ?? (hzMeans === 'damped' ? naturalHz(1, damping.value) : 1);
  const { low95, high95, ...estimate } = interval95(damping);
  const narrowing = narrowingOf(proposal, budget);
  return {
    ...named,
    ladderHz: interval95({ value: hz, sd }),
    naturalHz: interval95({ value: hz * perLadder, sd: sd * perLadder }),
    dampingRatio: { ...estimate, low95: Math.max(0, low95), high95: Math.min(MOST_DAMPED, high95) },
    hzMeans,
    print: {
      speedMmPerS: record.speedMmPerS,
      cornerSpeedMmPerS: settings.cornerSpeedMmPerS,
      cornerSpeedAssumed: assumed.has('cornerSpeedMmPerS'),
      ...(record.accelerationMmPerS2 === undefined
        ? {}
        : { accelerationMmPerS2: record.accelerationMmPerS2 }),
      ...(heightMm === undefined ? {} : { face: { bottomMm, heightMm } }),
    },
    ...(narrowing === undefined ? {} : { narrowing }),
  };
}
