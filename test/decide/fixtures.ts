import type { Reading } from '../../src/reading/schema.js';
import { proposedReading } from '../report/fixtures.js';

/** What a reading is to say of its axis. */
export interface Told {
  readonly axis?: string;
  readonly hz?: number;
  /** Standard uncertainty, Hz. */
  readonly sd?: number;
  readonly damping?: { readonly value: number; readonly sd: number };
  readonly record?: Partial<Reading['printRecord']>;
}

/**
 * An invented reading that proposes a natural frequency.
 * @param told - What it says.
 */
export function readingOf(told: Told = {}): Reading {
  const { axis = 'Y', hz = 41, sd = 0.2, damping = { value: 0.06, sd: 0.007 }, record = {} } = told;
  const reading = proposedReading();
  const { proposal, ringing, nullFit, printRecord } = reading;
  if (proposal.state !== 'proposed') throw new Error('expected a proposal');
  const frequencyHz = { value: hz, sd, low95: hz - 1.96 * sd, high95: hz + 1.96 * sd };
  return {
    ...reading,
    printRecord: { ...printRecord, accelerationMmPerS2: 6000, cornerSpeedMmPerS: 6, ...record, axis },
    ringing: { ...ringing!, dampingRatio: damping },
    nullFit: { ...nullFit!, naturalHz: hz, nullHz: { value: hz, sd } },
    proposal: { ...proposal, axis, frequencyHz },
  };
}
