import type { Difference } from '../core/differences.js';
import type { Entry } from '../logbook/entry.js';
import { formatHead, type Head } from '../logbook/head.js';
import type { StoredEntry } from '../logbook/readEntry.js';
import type { Finding, Verification } from '../logbook/verify.js';
import type { Written } from '../logbook/writeEntry.js';
import { jointReadingSchema } from '../reading/jointSchema.js';
import { readingSchema } from '../reading/schema.js';
import { jointReport } from './jointReport.js';
import { plain, resultWords, verdictOf } from './logbookList.js';
import { replacedWords, type WrittenFile } from './replacedWords.js';
import { EXCHANGED } from './pairWords.js';
import { pictureWords, type PicturesFrom } from './sheet/provenance.js';
import { textReport } from './textReport.js';

/**
 * What an entry is, beside its reading.
 * @param entry - The entry.
 * @param folder - Where its files lie.
 * @returns Text, ended by a line break.
 */
export function entryReport(entry: Entry, folder: string): string {
  const lines: (readonly [string, string])[] = [
    ['entry', `${String(entry.number)}, ${entry.kind}, saved ${entry.savedAt} by this computer's clock`],
    ['', `machine ${plain(entry.machine ?? 'not told')}, ${axisWords(entry)}`],
    ['', verdictOf(entry)],
    ['files', folder],
  ];
  if (entry.takenOn !== undefined) lines.push(['taken', `${entry.takenOn} by the camera's clock`]);
  if (entry.pair?.exchanged === true) lines.push(['note', EXCHANGED]);
  if (entry.changed !== undefined) lines.push(['changed', entry.changed.map(plain).join(', ')]);
  if (entry.note !== undefined && entry.kind !== 'note') lines.push(['note', plain(entry.note)]);
  for (const { file, original, removed } of entry.photos ?? []) {
    lines.push(['photo', `${file}${original.name === undefined ? '' : `, was ${plain(original.name)}`}`]);
    lines.push(['', `removed: ${removed.length === 0 ? 'nothing' : removed.join('; ')}`]);
    lines.push(['', `SHA-256 of the original ${original.sha256}`]);
  }
  return table(lines);
}

function axisWords({ axis, pair }: Entry): string {
  if (pair === undefined) return `axis ${plain(axis ?? 'not told')}`;
  return `axes ${pair.axes.map((one) => plain(one.axis)).join(' and ')}`;
}

/**
 * What is told of a pair that was saved: each value with the axis it belongs to, the two from left to right as on a sheet.
 * @param written - The entry and the new head.
 * @param folder - The logbook.
 * @returns Text, ended by a line break.
 */
export function pairReport(written: Written, folder: string): string {
  const { pair } = written.entry;
  const lines = (pair?.axes ?? []).map(
    ({ axis, number, result }) =>
      [
        `Axis ${plain(axis)}`,
        `${resultWords(result)}   entry ${String(number)}: it belongs to axis ${plain(axis)} alone`,
      ] as const,
  );
  const doubt = pair?.exchanged === true ? table([['note', EXCHANGED]]) : '';
  return table(lines) + doubt + savedReport(written, folder);
}

/**
 * What is told of the sheet of an entry.
 * @param sheet - Its entry, where its pictures come from, and the head on it.
 * @param written - Where it was written.
 * @returns Text, ended by a line break.
 */
export function sheetReport(
  sheet: { readonly number: number; readonly pictures: readonly PicturesFrom[]; readonly head: string },
  written: WrittenFile,
): string {
  const { number, pictures, head } = sheet;
  const words = [...new Set(pictures.map(pictureWords))];
  return table([
    ['sheet', `entry ${String(number)}, written to ${plain(written.file)}${replacedWords(written)}`],
    ['', 'its numbers are those that were saved'],
    ...words.map((text) => ['pictures', plain(text)] as const),
    ['head', head],
  ]);
}

/**
 * The report of a stored reading, as it was printed when it was measured.
 * @param stored - Entry and reading.
 * @returns Text, ended by a line break; empty for a note. A reading of another version's form is told to be one.
 */
export function storedReport({ entry, reading }: StoredEntry): string {
  if (reading === undefined) return '';
  const one = readingSchema.safeParse(reading);
  if (one.success) return textReport(one.data);
  const several = jointReadingSchema.safeParse(reading);
  if (!several.success)
    return 'The reading has the form of another version of stillband; see it with --json.\n';
  const names = several.data.photos.map((_, i) =>
    plain(entry.photos?.[i]?.original.name ?? `photo ${String(i + 1)}`),
  );
  return jointReport(several.data, names);
}

/**
 * What is told when something was saved.
 * @param written - The entry and the new head.
 * @param folder - The logbook.
 * @returns Text, ended by a line break.
 */
export function savedReport({ entry, head, notes = [] }: Written, folder: string): string {
  const removed = [...new Set((entry.photos ?? []).flatMap((photo) => photo.removed))];
  return table([
    ['saved', `entry ${String(entry.number)} of the logbook ${plain(folder)}`],
    ...(entry.photos === undefined
      ? []
      : [['', `removed from the photo: ${removed.length === 0 ? 'nothing' : removed.join('; ')}`] as const]),
    ...notes.map((text) => ['note', plain(text)] as const),
    ['head', formatHead(head)],
    ['', 'kept elsewhere, it shows later whether anything up to here was changed'],
  ]);
}

/** Findings that are printed; more of them have one cause. */
const MOST_FINDINGS = 40;

/**
 * What came of looking at a logbook.
 * @param verification - The verdicts and findings.
 * @returns Text, ended by a line break; its first line is the verdict.
 */
export function verifyReport(verification: Verification): string {
  const { verdicts, size, uncovered, head, heads, findings, notes } = verification;
  const isWhole = findings.length === 0 && verdicts.recomputed !== 'different';
  const lines: (readonly [string, string])[] = [
    [
      'verdict',
      isWhole
        ? `no difference found in ${entries(size)}`
        : `${findings.length === 1 ? '1 difference' : `${String(findings.length)} differences`} found in ${entries(size)}`,
    ],
    [
      'photos',
      verdicts.photos === 'intact' ? 'intact: all bytes are those that were saved' : 'changed, see below',
    ],
    ['log', logWords(verification)],
    ['recomputed', RECOMPUTED[verdicts.recomputed]],
  ];
  for (const { state, head: text } of heads) lines.push(['head', `${HEADS[state]}: ${text}`]);
  if (heads.length > 0 && uncovered > 0)
    lines.push(['', `the last ${String(uncovered)} entries are newer than the heads given`]);
  for (const finding of findings.slice(0, MOST_FINDINGS)) lines.push([finding.what, findingWords(finding)]);
  if (findings.length > MOST_FINDINGS) {
    lines.push(['', `and ${String(findings.length - MOST_FINDINGS)} more, all of them with --json`]);
  }
  for (const note of notes) lines.push(['note', plain(note)]);
  lines.push(['now', head]);
  return table(lines);
}

const RECOMPUTED: Readonly<Record<Verification['verdicts']['recomputed'], string>> = {
  equal: 'equal: the photos were measured again and give the same readings',
  different: 'different: measured again, the photos give other readings, see below',
  unknown: 'unknown: only measuring all photos again ("stillband logbook replay") tells',
};

const HEADS: Readonly<Record<Verification['heads'][number]['state'], string>> = {
  fits: 'the log leads to it',
  differs: 'the log does not lead to it',
  'log-shorter': 'it covers more entries than there are',
};

function logWords({ verdicts, size }: Verification): string {
  if (verdicts.log === 'intact') return 'intact against the head given';
  if (verdicts.log === 'changed') return 'changed, see below';
  return size === 0
    ? 'unknown: it is empty'
    : 'unknown: it fits itself, but only a head kept elsewhere (--head) shows whether it was rewritten or cut';
}

function findingWords({ entry, file, text }: Finding): string {
  return `${entry === undefined ? '' : `entry ${String(entry)}, `}${plain(file)}: ${text}`;
}

/** What a report needs of a replay. */
export interface ReplayToTell {
  readonly version: string;
  readonly entries: readonly {
    readonly number: number;
    readonly state: 'equal' | 'different' | 'unknown';
    readonly savedBy: string;
    readonly why?: string;
    readonly differences: readonly Difference[];
  }[];
}

/** Differences that are printed of each entry. */
const MOST_DIFFERENCES = 12;

/**
 * What came of measuring a logbook again.
 * @param replay - The entries that were measured.
 * @returns Text, ended by a line break; its first line is the verdict.
 */
export function replayReport({ version, entries: all }: ReplayToTell): string {
  const count = (state: string): number => all.filter((entry) => entry.state === state).length;
  const lines: (readonly [string, string])[] = [
    [
      'verdict',
      `measured again by version ${version}: ${String(count('equal'))} equal, ${String(count('different'))} different, ${String(count('unknown'))} unknown`,
    ],
    ['', 'numbers count as equal to 1e-9; versions and the removed position do not count'],
  ];
  for (const { number, state, savedBy, why, differences } of all) {
    lines.push([
      state,
      `entry ${String(number)}, saved by version ${plain(savedBy)}${why === undefined ? '' : `: ${plain(why)}`}`,
    ]);
    for (const { path, was, now } of differences.slice(0, MOST_DIFFERENCES)) {
      lines.push(['', `${plain(path)}: ${shown(was)} then, ${shown(now)} now`]);
    }
    const more = differences.length - MOST_DIFFERENCES;
    if (more > 0) lines.push(['', `and ${String(more)} more, all of them with --json`]);
  }
  return table(lines);
}

function shown(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value);
  return plain(text.length > 60 ? `${text.slice(0, 59)}…` : text);
}

/**
 * What is told of a logbook that was exported.
 * @param head - Head of what is in the archive.
 * @param written - The archive.
 * @returns Text, ended by a line break.
 */
export function exportedReport(head: Head, written: WrittenFile): string {
  return table([
    ['exported', `${entries(head.size)} into ${plain(written.file)}${replacedWords(written)}`],
    ['', 'the archive can be verified like the logbook itself: name it with --logbook'],
    ['head', formatHead(head)],
  ]);
}

function entries(count: number): string {
  return count === 1 ? '1 entry' : `${String(count)} entries`;
}

function table(lines: readonly (readonly [label: string, text: string])[]): string {
  const width = Math.max(...lines.map(([label]) => label.length)) + 1;
  return lines.map(([label, text]) => `${label.padEnd(width)}${text}`.trimEnd()).join('\n') + '\n';
}
