import { combineSd, type Estimate } from '../core/estimate.js';
import type { DampingRatio } from '../core/units.js';
import { naturalHz } from '../physics/oscillator.js';
import type { PrintRecord } from '../print/record.js';
import type { AnyReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';

/** What a result says of its axis. */
export interface AxisPoint {
  readonly axis: string;
  /** As the print record names it; absent where it does not. */
  readonly machine?: string;
  /** Day of the photo, else of the print, ISO 8601; absent where neither is known. */
  readonly on?: string;
  /** Ladder frequency at which the axis rings least; absent where none was measured. */
  readonly frequencyHz?: Estimate;
  /** Which route it comes from: by a ladder, or by ripple spacing alone. */
  readonly by?: 'ladder' | 'spacing';
  readonly dampingRatio?: Estimate;
}

/** Where none was measured: 0.1 makes the two frequencies differ by 0.5 % (common practice, no source). */
const USUAL_DAMPING = 0.1;

/**
 * The print record that a result was measured with.
 * @param reading - The result; of several photos, the first that is used tells.
 * @returns The record.
 * @throws {RangeError} When a joint reading has no photo.
 */
export function recordOf(reading: AnyReading): PrintRecord {
  return firstOf(reading).printRecord;
}

/**
 * What a result says of its axis.
 * @param reading - The result.
 * @returns Axis, machine, day, frequency and damping ratio, as far as there are any. A frequency by spacing is the damped one;
 * it is told as the ladder would tell it, and where that is the natural one, the difference of the two counts as uncertain
 * by a rectangular distribution of that half-width (GUM 4.3.7).
 */
export function axisPointOf(reading: AnyReading): AxisPoint {
  const record = recordOf(reading);
  const on = firstOf(reading).photos[0]?.takenAt?.slice(0, 10) ?? record.printedOn;
  const { ringing, proposal } = reading;
  return {
    axis: record.axis,
    ...(record.machine === undefined ? {} : { machine: record.machine }),
    ...(on === undefined ? {} : { on }),
    ...frequencyOf(proposal, record, ringing?.dampingRatio.value ?? USUAL_DAMPING),
    ...dampingOf(proposal, ringing?.dampingRatio),
  };
}

function firstOf(reading: AnyReading): Reading {
  if (reading.schema === 'stillband/reading@1') return reading;
  const first = reading.photos.find(({ use }) => use === 'used') ?? reading.photos[0];
  if (first === undefined) throw new RangeError('Expected a joint reading of at least one photo.');
  return first.reading;
}

/**
 * The photos of a result by themselves.
 * @param reading - The result.
 * @returns Itself, or the readings of the photos that were used.
 */
export function singleReadings(reading: AnyReading): readonly Reading[] {
  if (reading.schema === 'stillband/reading@1') return [reading];
  return reading.photos.flatMap((photo) => (photo.use === 'used' ? [photo.reading] : []));
}

function frequencyOf(
  proposal: Reading['proposal'],
  record: PrintRecord,
  dampingRatio: DampingRatio,
): Pick<AxisPoint, 'frequencyHz' | 'by'> {
  if (proposal.state === 'proposed') {
    const { value, sd } = proposal.frequencyHz;
    return { frequencyHz: { value, sd }, by: 'ladder' };
  }
  const damped =
    proposal.state === 'spacing-only'
      ? proposal.frequencyHz
      : proposal.state === 'proof' && proposal.at.state === 'measured'
        ? proposal.at.dampedHz
        : undefined;
  if (damped === undefined) return {};
  if (record.shaper?.hzMeans === 'damped') {
    return { frequencyHz: { value: damped.value, sd: damped.sd }, by: 'spacing' };
  }
  const natural = naturalHz(damped.value, dampingRatio);
  const kindSd = (natural - damped.value) / Math.sqrt(3);
  return { frequencyHz: { value: natural, sd: combineSd(damped.sd, kindSd) }, by: 'spacing' };
}

function dampingOf(
  proposal: Reading['proposal'],
  ratio: Estimate | undefined,
): Pick<AxisPoint, 'dampingRatio'> {
  const known =
    proposal.state !== 'refused' && !(proposal.state === 'proof' && proposal.at.state !== 'measured');
  return known && ratio !== undefined ? { dampingRatio: { value: ratio.value, sd: ratio.sd } } : {};
}
