import type { EntryLine } from '../logbook/entryLine.js';
import { formatHead, type Head } from '../logbook/head.js';
import { decimals, halfWidth95 } from './format.js';

/**
 * Text of the user's own, such as names: nothing in it may move the cursor or turn the text.
 * @param text - As it was given.
 * @returns The text, such characters replaced by spaces.
 */
export function plain(text: string): string {
  return text.replaceAll(/[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}]/gu, ' ');
}

/**
 * What a logbook holds, one line for each entry.
 * @param lines - The entries.
 * @returns Text, ended by a line break.
 */
export function logbookList(lines: readonly EntryLine[]): string {
  if (lines.length === 0) return 'No entries yet.\n';
  const rows = [['no', 'saved', 'photo', 'machine', 'axis', 'result'], ...lines.map(rowOf)];
  const widths = [0, 1, 2, 3, 4].map((i) =>
    rows.reduce((width, row) => Math.max(width, (row[i] ?? '').length), 0),
  );
  const text = rows.map((row) =>
    row
      .map((cell, i) => (i === 0 ? cell.padStart(widths[0] ?? 0) : cell.padEnd(widths[i] ?? 0)))
      .join('  ')
      .trimEnd(),
  );
  return `${text.join('\n')}\n`;
}

function rowOf(line: EntryLine): readonly string[] {
  return [...logbookRow(line), verdictOf(line) + remarkWords(line)];
}

/**
 * What a list tells of an entry before its result.
 * @param line - The entry.
 * @returns Number, day on which it was saved, day of the photo, machine and axis; a dash where one is not known.
 */
export function logbookRow(line: EntryLine): readonly string[] {
  return [
    String(line.number),
    line.savedAt.slice(0, 10),
    plain(line.takenOn ?? '–'),
    plain(line.machine ?? '–'),
    plain(line.axis ?? line.pair?.axes.map(({ axis }) => axis).join(' + ') ?? '–'),
  ];
}

/**
 * What came of an entry, in words.
 * @param entry - Of an entry or its line, what the words are made of.
 * @returns A clause.
 */
export function verdictOf(entry: Pick<EntryLine, 'kind' | 'about' | 'note' | 'pair' | 'result'>): string {
  const { kind, about, note, pair, result } = entry;
  if (kind === 'note')
    return `note${about === undefined ? '' : ` on ${String(about)}`}: ${plain(note ?? '')}`;
  if (pair !== undefined) {
    const said = pair.axes.map(
      (one) => `axis ${plain(one.axis)} ${resultWords(one.result)} (entry ${String(one.number)})`,
    );
    return `pair: ${said.join(', ')}${pair.exchanged ? '; perhaps exchanged' : ''}`;
  }
  if (result === undefined) return kind;
  return `${resultWords(result)}${kind === 'joint-reading' ? ', several photos' : ''}`;
}

/**
 * The verdict of a reading as an entry keeps it.
 * @param result - The verdict.
 * @returns A clause.
 */
export function resultWords(result: NonNullable<EntryLine['result']>): string {
  const { state, frequencyHz, reason, quietUpToMmPerS2: upTo } = result;
  if (frequencyHz !== undefined)
    return halfWidth95(frequencyHz, 'Hz') + (state === 'spacing-only' ? ' by spacing' : '');
  if (state === 'refused') return `refused: ${reason ?? 'no reason'}`;
  if (state !== 'proof') return state;
  return upTo === undefined
    ? 'proof: rings at every acceleration'
    : `proof: no ringing seen up to ${decimals(upTo, 0)} mm/s²`;
}

function remarkWords(line: EntryLine): string {
  return remarkOf(line)
    .map((text) => `   ${text}`)
    .join('');
}

/**
 * What the user said of an entry.
 * @param entry - Of an entry or its line, what the words are made of.
 * @returns What was changed, and the note; empty for nothing.
 */
export function remarkOf({
  kind,
  changed,
  note,
}: Pick<EntryLine, 'kind' | 'changed' | 'note'>): readonly string[] {
  return [
    ...(changed === undefined ? [] : [`changed: ${changed.map(plain).join(', ')}`]),
    ...(kind === 'note' || note === undefined ? [] : [`"${plain(note)}"`]),
  ];
}

/**
 * A head alone.
 * @param head - The head.
 * @returns Its text, ended by a line break.
 */
export function headLine(head: Head): string {
  return `${formatHead(head)}\n`;
}
