import { COVERAGE_95, interval95 } from '../core/estimate.js';
import type { Reading } from '../reading/schema.js';
import { decimals, halfWidth95, percent, withUncertainty, withUnit } from './format.js';

/** The proposal of a proof print. */
export type ProofReading = Extract<Reading['proposal'], { state: 'proof' }>;

/** What is said of a proof print; the rest of a report is the same for all readings. */
export interface ProofWords {
  readonly verdict: string;
  readonly goodFor: string;
  readonly why: readonly string[];
  readonly numbers: readonly string[];
  readonly next: readonly string[];
}

/** Said wherever somebody is about to print faster. */
export const CAUTION =
  "raise acceleration only beside the machine and within its maker's limits; keep clear of moving and hot parts";

/**
 * Puts a proof print into words.
 * @param proof - The proposal.
 * @param record - What was told of the print.
 * @returns Its parts of the report.
 */
export function proofWords(proof: ProofReading, record: Reading['printRecord']): ProofWords {
  return {
    verdict: `Axis ${proof.axis}   ${verdict(proof)}`,
    goodFor: goodFor(proof),
    why: [lookedAt(proof, record), ...growth(proof)],
    numbers: numbers(proof),
    next: [...next(proof), CAUTION],
  };
}

function tested({ steps }: ProofReading): readonly ProofReading['steps'][number][] {
  return steps.filter(({ heights }) => heights > 0);
}

function extreme(proof: ProofReading, of: (...values: number[]) => number): string {
  return acceleration(of(...tested(proof).map(({ mmPerS2 }) => mmPerS2)));
}

function verdict(proof: ProofReading): string {
  const { quietUpTo } = proof;
  if (quietUpTo === undefined) return `ringing already at ${extreme(proof, Math.min)}, the lowest tested`;
  const rings = tested(proof).some(({ significant }) => significant);
  return `no ringing seen up to ${acceleration(quietUpTo.mmPerS2)}   ${rings ? 'ripples show above that' : 'the highest tested'}`;
}

function goodFor(proof: ProofReading): string {
  const { quietUpTo } = proof;
  const { steps } = proof;
  const clear = steps.filter(({ significant }) => significant);
  const most = clear.reduce<(typeof clear)[number] | undefined>(
    (largest, step) => ((step.amplitude?.value ?? 0) > (largest?.amplitude?.value ?? 0) ? step : largest),
    undefined,
  );
  const strongest =
    most?.amplitude === undefined
      ? ''
      : `strongest ripples ${contrast(most.amplitude)} of contrast, at ${acceleration(most.mmPerS2)}`;
  const unseen =
    quietUpTo === undefined
      ? ''
      : `ripples of ${share(quietUpTo.below)} of contrast or more would have shown`;
  return [unseen, strongest].filter((text) => text !== '').join('; ');
}

function lookedAt({ at }: ProofReading, { ladder }: Reading['printRecord']): string {
  const set = ladder.kind === 'fixed' ? `; the shaper is set to ${withUnit(String(ladder.hz), 'Hz')}` : '';
  switch (at.state) {
    case 'measured':
      return `ripples at ${halfWidth95(at.dampedHz, 'Hz')}, damping ratio ${halfWidth95(interval95(at.dampingRatio))}${set}`;
    case 'assumed':
      return `no ripples stand out, so they were looked for where the shaper is set (${withUnit(decimals(at.dampedHz, 1), 'Hz')} damped), with an assumed damping ratio of ${String(at.dampingRatio)}`;
    case 'range':
      return `no ripples stand out, and no shaper tells their frequency: the worst from ${String(at.lowHz)} to ${withUnit(String(at.highHz), 'Hz')} is told, with an assumed damping ratio of ${String(at.dampingRatio)}`;
  }
}

function growth(proof: ProofReading): readonly string[] {
  const { growth: found } = proof;
  if (found === undefined) return [];
  const { perDoubling, verdict: how } = found;
  const change = { value: Math.abs(perDoubling.value), sd: perDoubling.sd };
  switch (how) {
    case 'grows':
      return [`they grow with acceleration: by ${contrast(change)} of contrast each time it doubles`];
    case 'falls':
      return [`they shrink with acceleration: by ${contrast(change)} of contrast each time it doubles`];
    case 'level':
      return ['no growth with acceleration can be told from the noise'];
  }
}

function numbers({ steps, sharedSd }: ProofReading): readonly string[] {
  const lines = steps.map((step) => {
    const place = `${acceleration(step.mmPerS2)}, ${decimals(step.fromMm, 1)} to ${withUnit(decimals(step.toMm, 1), 'mm')} up`;
    const { amplitude, detectable, significant, heights } = step;
    if (heights === 0 || detectable === undefined) return `${place}: not read`;
    const size = amplitude === undefined ? '' : ` ${contrast(amplitude)}`;
    return significant
      ? `${place}:${size}, ringing`
      : `${place}:${size === '' ? '' : `${size},`} none that stands out, ${share(detectable)} would`;
  });
  const shared =
    sharedSd === 0
      ? ''
      : `; the damping ratio may make all of them larger or smaller alike, by ${percent(COVERAGE_95 * sharedSd)}`;
  return [...lines, `contrast at the leading corner, ± spans 95 %${shared}`];
}

function next(proof: ProofReading): readonly string[] {
  const { quietUpTo } = proof;
  const unread = proof.steps.some(({ heights }) => heights === 0);
  const lines: string[] = [];
  if (quietUpTo === undefined) {
    lines.push(
      'print the test tower with a ladder again for this axis; if the shaper is set right, try a family that tolerates more, or stay at lower accelerations',
    );
  } else if (proof.steps.some(({ significant }) => significant)) {
    lines.push(
      `stay at ${acceleration(quietUpTo.mmPerS2)} or below for walls without ripples, or print the test tower with a ladder again`,
    );
  } else {
    lines.push('keep this reading, and compare another only by a photo in the same light');
  }
  if (unread) {
    lines.push(
      'a step is not read where the photo does not show it, or the speed ramps leave too little wall between them: print a wider face or a lower speed',
    );
  }
  return lines;
}

function acceleration(mmPerS2: number): string {
  return withUnit(String(Number(mmPerS2.toPrecision(6))), 'mm/s²');
}

function contrast({ value, sd }: { readonly value: number; readonly sd: number }): string {
  return halfWidth95(interval95({ value: 100 * value, sd: 100 * sd }), '%');
}

/** A limit is no better known than to two digits. */
function share(value: number): string {
  const { sd } = withUncertainty({ value: 0, sd: 100 * value });
  return withUnit(sd, '%');
}
