import type { JointReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';
import { decimals, halfWidth95 } from './format.js';
import { labelled, plainText } from './textReport.js';
import { reasonWords, reportSections, type ReportSections } from './words.js';

const USES: Readonly<Record<JointReading['photos'][number]['use'], string>> = {
  used: 'fitted with the others',
  refused: 'left out',
  'odd-one-out': 'left out: it contradicts the others, which agree; look at its axis, record and corners',
};

/**
 * The reading of several photos as plain text for a terminal: verdict first, then what each photo is to it.
 * @param joint - The reading, fresh or stored.
 * @param names - What to call the photos, one for each.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function jointReport(joint: JointReading, names: readonly string[]): string {
  const told = jointWords(joint, names);
  if (told === undefined) return '';
  const { sections, photos } = told;
  return plainText([
    sections.verdict,
    ...labelled('', [sections.goodFor]),
    ...labelled('photos', photos),
    ...labelled('why', sections.why),
    ...labelled('numbers', sections.numbers),
    ...labelled('assumed', sections.assumed),
    ...labelled('note', sections.warnings),
    ...labelled('next', sections.next),
  ]);
}

/** A reading of several photos in words, and as if it were one. */
export interface JointWords {
  /** The reading of the first photo used, with what all have in common. */
  readonly reading: Reading;
  /** Which of the photos that is. */
  readonly shown: number;
  readonly sections: ReportSections;
  /** What each photo is to the result. */
  readonly photos: readonly string[];
}

/**
 * Puts a reading of several photos into words.
 * @param joint - The reading, fresh or stored.
 * @param names - What to call the photos, one for each.
 * @returns Its words; undefined where there is no photo.
 */
export function jointWords(joint: JointReading, names: readonly string[]): JointWords | undefined {
  const { photos } = joint;
  const used = photos.filter(({ use }) => use === 'used').length;
  const shown = Math.max(
    0,
    photos.findIndex(({ use }) => use === 'used'),
  );
  const first = photos[shown];
  if (first === undefined) return undefined;
  const reading = asOne(joint, first.reading);
  const lines = photos.map(
    ({ use, reading: own }, i) => `${names[i] ?? nameOf(i)}: ${ownResult(own)}; ${USES[use]}`,
  );
  return {
    reading,
    shown,
    sections: {
      ...reportSections(reading),
      assumed: assumedOf(joint),
      warnings: notesOf(joint, names),
    },
    photos: [`${String(used)} of ${String(photos.length)} fitted together`, ...lines, ...lampLines(joint)],
  };
}

/** What was assumed of any photo that is used, each once. */
function assumedOf({ photos }: JointReading): string[] {
  const all = photos.flatMap(({ use, reading }) => (use === 'used' ? reportSections(reading).assumed : []));
  return [...new Set(all)];
}

/** Each note with the photos it is about, where it is not about all that are used. */
function notesOf({ photos, warnings }: JointReading, names: readonly string[]): string[] {
  const used = photos.filter(({ use }) => use === 'used').length;
  return warnings.map(({ text, photos: about }) =>
    about.length === used ? text : `${about.map((i) => names[i] ?? nameOf(i)).join(', ')}: ${text}`,
  );
}

function nameOf(photo: number): string {
  return `photo ${String(photo + 1)}`;
}

/** The joint result as a single reading: that of the first photo used, with what all have in common. */
function asOne(joint: JointReading, first: Reading): Reading {
  const { ringing } = first;
  const alone: readonly string[] = ['nullFit', 'penLine'] satisfies (keyof Reading)[];
  const shared = Object.entries(first).filter(([field]) => !alone.includes(field));
  const own = Object.fromEntries(shared) as Omit<Reading, 'nullFit' | 'penLine'>;
  return {
    ...own,
    warnings: [],
    ...(joint.ringing === undefined || ringing === undefined
      ? {}
      : { ringing: { ...ringing, ...joint.ringing } }),
    spacingCheck: joint.spacingCheck,
    ...(joint.nullFit === undefined ? {} : { nullFit: joint.nullFit }),
    budget: joint.budget,
    proposal: joint.proposal,
  };
}

function lampLines({ lamps }: JointReading): string[] {
  if (lamps === undefined) return [];
  const { alone, together } = lamps.signalToNoise;
  return [
    `by the moved lamp the ripples stand ${decimals(together, 0)} times out of the noise, ${decimals(alone, 0)} times in the best photo alone`,
  ];
}

function ownResult(reading: Reading): string {
  const { proposal } = reading;
  switch (proposal.state) {
    case 'proposed':
    case 'spacing-only':
      return halfWidth95(proposal.frequencyHz, 'Hz');
    case 'refused':
      return `refused, ${proposal.reason} (${reasonWords(reading, proposal.reason)})`;
    case 'proof':
      return 'a proof print';
  }
}
