import { interval95, type Estimate } from '../core/estimate.js';
import type { Change } from '../history/change.js';
import type { AmplitudeChange, ComparedSide, Comparison, ProofChange } from '../history/compareReadings.js';
import { decimals, halfWidth95, percent, withUnit } from './format.js';
import { CAUTION } from './proofWords.js';
import { movedAdvice, TRUST_BY_LADDER } from './sinceWords.js';
import { labelled, plainText } from './textReport.js';

/** What the half-widths of a report mean. */
export const SPAN = '± spans 95 %';

/** A comparison in words, in the order of reading. */
export interface CompareSections {
  readonly verdict: string;
  readonly meaning: string;
  readonly numbers: readonly string[];
  /** Of proof prints: each acceleration with what was read of it before and after. */
  readonly steps: readonly (readonly [acceleration: string, before: string, after: string])[];
  readonly notes: readonly string[];
  readonly next: readonly string[];
}

/**
 * Two sets of results side by side as plain text for a terminal.
 * @param comparison - The comparison.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function compareReport(comparison: Comparison): string {
  const { verdict, meaning, numbers, steps, notes, next } = compareSections(comparison);
  const lines = steps.map(([at, before, after]) => `${at}: ${before} before, ${after} after`);
  return plainText([
    verdict,
    ...labelled('', [meaning]),
    ...labelled('numbers', [...numbers, ...lines, SPAN]),
    ...labelled('note', notes),
    ...labelled('next', next),
  ]);
}

/**
 * Puts a comparison into words.
 * @param comparison - The comparison.
 * @returns Its sections; each entry is one line of plain text.
 */
export function compareSections(comparison: Comparison): CompareSections {
  const { axis, frequency, damping, amplitude, proof, before, after, sameLight } = comparison;
  return {
    verdict: `Axis ${axis}   ${proof === undefined ? frequencyVerdict(frequency, before, after) : proofVerdict(proof)}`,
    meaning: proof === undefined ? frequencyMeaning(frequency) : proofMeaning(comparison),
    numbers: [
      ...(proof === undefined || frequency === undefined ? [] : [frequencyVerdict(frequency, before, after)]),
      ...(frequency === undefined ? [] : [chanceWords(frequency)]),
      ...(damping === undefined ? [] : [dampingWords(damping)]),
      ...(amplitude === undefined ? [] : [amplitudeWords(amplitude)]),
    ],
    steps: proof === undefined ? [] : proofSteps(proof),
    notes: notes(comparison),
    next: [
      ...(proof === undefined && frequency?.changed === true
        ? [movedAdvice(after.points.flatMap(({ by }) => by ?? []))]
        : []),
      // Of a proof print no ripples are compared.
      ...(amplitude !== undefined && after.frequencyHz === undefined
        ? [`the newer reading tells no frequency: ${TRUST_BY_LADDER}`]
        : []),
      ...(sameLight || amplitude?.state !== 'compared'
        ? []
        : ['with the lamp in the same place both times, --same-light narrows what is said of the ripples']),
      CAUTION,
    ],
  };
}

function side(name: string, { points, frequencyHz }: ComparedSide): string {
  const days = [...new Set(points.flatMap(({ on }) => on ?? []))].sort();
  const when = days.length === 0 ? '' : ` (${days.join(', ')})`;
  const count = points.length > 1 ? `, ${String(points.length)} readings` : '';
  return frequencyHz === undefined
    ? `no frequency ${name}${when}${count}`
    : `${hz(frequencyHz)} ${name}${when}${count}`;
}

function frequencyVerdict(change: Change | undefined, before: ComparedSide, after: ComparedSide): string {
  const sides = `${side('before', before)}   ${side('after', after)}`;
  if (change === undefined) return sides;
  return `${sides}   ${change.changed ? `moved ${way(change)} by ${size(change, 'Hz')}` : 'not moved, as far as can be told'}`;
}

function frequencyMeaning(change: Change | undefined): string {
  if (change === undefined)
    return 'where a frequency was measured on one side only, nothing can be said of a change';
  return change.changed
    ? 'more than the two uncertainties allow'
    : `a change of less than ${withUnit(decimals(change.by.high95 - change.by.value, 1), 'Hz')} would not show`;
}

function chanceWords({ chance, by }: Change): string {
  const often = chance < 1e-3 ? 'less than 1 in 1,000' : percent(chance);
  return `changed by ${halfWidth95(by, 'Hz')}; where nothing moves, so much or more comes about by chance in ${often}`;
}

function dampingWords(change: Change): string {
  const { before, after, changed } = change;
  const verdict = changed ? `moved ${way(change)}` : 'not moved, as far as can be told';
  return `damping ratio ${halfWidth95(interval95(before))} before, ${halfWidth95(interval95(after))} after: ${verdict}`;
}

const NOT_COMPARABLE: Readonly<Record<Extract<AmplitudeChange, { state: 'not-comparable' }>['why'], string>> =
  {
    print:
      'the size of the ripples cannot be compared: speed, acceleration, layer height or ladder of the prints differ',
    light:
      'the size of the ripples cannot be compared: layer lines do not show in both photos, and nothing tells that the light was the same (--same-light)',
    heights: 'the size of the ripples cannot be compared: too few heights could be read in both',
    'nothing-before': 'the size of the ripples cannot be compared: none stand out before',
  };

function amplitudeWords(change: AmplitudeChange): string {
  if (change.state === 'not-comparable') return NOT_COMPARABLE[change.why];
  const { ratio, changed, heights, byLayerLines } = change;
  const verdict = changed ? (ratio.value < 1 ? 'smaller' : 'larger') : 'no change that can be told';
  const held = byLayerLines ? ', their contrast held against that of the layer lines' : '';
  return `ripples at the same ${String(heights)} heights ${halfWidth95(ratio)} times those before${held}: ${verdict}`;
}

function proofVerdict({ quietBefore, quietAfter }: ProofChange): string {
  return `${quiet(quietBefore)} before   ${quiet(quietAfter)} after`;
}

function quiet(mmPerS2: number | undefined): string {
  return mmPerS2 === undefined
    ? 'ringing already at the lowest acceleration'
    : `quiet up to ${acceleration(mmPerS2)}`;
}

function proofMeaning({ level, proof }: Comparison): string {
  const ratio = proof?.ratio;
  const size = ratio === undefined ? '' : `ripples ${halfWidth95(ratio)} times those before; `;
  return size + quietWords(level);
}

function quietWords(level: number | undefined): string {
  return level === undefined
    ? 'quiet: at this and all lower accelerations tested no ripples stand out of the noise'
    : `quiet: at this and all lower accelerations tested ripples stay below ${contrast(level)} of contrast, uncertainty included`;
}

function proofSteps({ steps }: ProofChange): CompareSections['steps'] {
  const said = (one: Estimate | undefined) => (one === undefined ? 'not read' : inPercent(one));
  return steps.map(({ mmPerS2, before, after }) => [acceleration(mmPerS2), said(before), said(after)]);
}

function notes({ amplitude, proof, sameLight, before, after }: Comparison): readonly string[] {
  const routes = new Set([...before.points, ...after.points].flatMap(({ by }) => by ?? []));
  return [
    ...(routes.size > 1
      ? [
          'One frequency comes from a ladder and one from ripple spacing alone, which needs the print speed to be right.',
        ]
      : []),
    ...(proof === undefined || sameLight
      ? []
      : [
          'Contrast depends on the light: unless the lamp stood in the same place (--same-light), a factor of up to two between the two photos says nothing.',
        ]),
    ...(amplitude?.state !== 'compared' || sameLight
      ? []
      : [
          'Nothing tells that the light was the same, so a lamp elsewhere is allowed for: by a factor of up to two.',
        ]),
  ];
}

function hz(estimate: Estimate): string {
  return halfWidth95(interval95(estimate), 'Hz');
}

function way({ by }: Change): string {
  return by.value < 0 ? 'down' : 'up';
}

function size({ by }: Change, unit: string): string {
  return halfWidth95(interval95({ value: Math.abs(by.value), sd: by.sd }), unit);
}

function acceleration(mmPerS2: number): string {
  return withUnit(String(Number(mmPerS2.toPrecision(6))), 'mm/s²');
}

function contrast(share: number): string {
  return withUnit(String(Number((100 * share).toPrecision(3))), '%');
}

function inPercent({ value, sd }: Estimate): string {
  return halfWidth95(interval95({ value: 100 * value, sd: 100 * sd }), '%');
}
