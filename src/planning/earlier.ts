import { InputError } from '../core/errors.js';
import { naturalHz } from '../physics/oscillator.js';
import type { AnyReading } from '../reading/jointSchema.js';
import { naturalPerLadder } from '../reading/naturalPerLadder.js';
import type { EarlierAxis } from './makePlan.js';

/**
 * What a reading says of its axis, for a second tower with a narrower ladder.
 * @param reading - A reading of one photo or several.
 * @returns Natural frequency with its uncertainty, and damping ratio.
 * @throws {InputError} `usage` where the reading has no frequency.
 */
export function earlierAxis(reading: AnyReading): EarlierAxis {
  const { proposal, ringing } = reading;
  if (ringing !== undefined && (proposal.state === 'proposed' || proposal.state === 'spacing-only')) {
    const { frequencyHz } = proposal;
    const dampingRatio = ringing.dampingRatio.value;
    const toNatural =
      proposal.state === 'proposed' ? (naturalPerLadder(reading) ?? 1) : naturalHz(1, dampingRatio);
    return {
      axis: proposal.axis,
      naturalHz: frequencyHz.value * toNatural,
      sdHz: frequencyHz.sd * toNatural,
      dampingRatio,
    };
  }
  throw new InputError(
    'usage',
    'The reading to refine by has no frequency: it was refused, or is of a proof print.',
    'Give a reading that proposes a frequency, or plan the tower anew with an idea of it (--idea).',
  );
}
