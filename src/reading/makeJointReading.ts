import type { LampGain } from '../band/decideLamps.js';
import type { JointDecision, SinglePhoto } from '../band/decideTogether.js';
import type { JointReading } from './jointSchema.js';
import { nullFitOf, proposalOf } from './makeReading.js';
import type { Reading } from './schema.js';
import { isStrained, STRAINED, WARNING_CODES } from './warnings.js';

/**
 * Puts the results of several photos into one reading.
 * @param version - Of stillband.
 * @param readings - Each photo by itself, at least one.
 * @param photos - What they were decided on; undefined for one whose face is not read.
 * @param decision - What was decided on all together.
 * @returns Plain data that survives JSON.
 */
export function makeJointReading(
  version: string,
  readings: readonly [Reading, ...Reading[]],
  photos: readonly (SinglePhoto | undefined)[],
  decision: JointDecision & { readonly lamps?: LampGain },
): JointReading {
  const first = photos[decision.uses.indexOf('used')];
  const { proposal } = decision;
  const decided = proposal && { ...decision, proposal };
  const used = [...readings.keys()].filter((i) => decision.uses[i] === 'used');
  return {
    schema: 'stillband/joint-reading@1',
    versions: { stillband: version },
    photos: readings.map((reading, i) => ({ use: decision.uses[i] ?? 'refused', reading })),
    ...(decision.ringing === undefined
      ? {}
      : {
          ringing: {
            ...decision.ringing,
            signalToNoise: decision.lamps?.signalToNoise.together ?? decision.signalToNoise ?? 0,
          },
        }),
    ...(decision.lamps === undefined
      ? {}
      : { lamps: { ...decision.lamps, gains: [...decision.lamps.gains] } }),
    spacingCheck: { ...decision.spacingCheck },
    ...(decided === undefined || first === undefined ? {} : nullFitOf(decided, first.evidence.settings)),
    budget: decision.budget.map((line) => ({ ...line })),
    // Where no photo is used, the first one's own refusal says why.
    proposal:
      decided === undefined || first === undefined
        ? readings[0].proposal
        : proposalOf({ ...first.evidence, decision: decided }),
    warnings: jointWarnings(readings, used, decision),
  };
}

/** The warnings of the photos that are used, each once; what is said of null and spacing is said of all together. */
function jointWarnings(
  readings: readonly Reading[],
  used: readonly number[],
  { proposal, strain = 0 }: JointDecision,
): JointReading['warnings'] {
  const strained = proposal?.state === 'proposed' && isStrained(strain);
  return WARNING_CODES.flatMap((code): JointReading['warnings'] => {
    if (code === 'routes-strained') {
      return strained ? [{ code, text: STRAINED, photos: [...used] }] : [];
    }
    const photos = used.filter((i) => readings[i]?.warnings.some((warning) => warning.code === code));
    const text = readings[photos[0] ?? -1]?.warnings.find((warning) => warning.code === code)?.text;
    return text === undefined ? [] : [{ code, text, photos }];
  });
}
