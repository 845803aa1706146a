import type { Reading } from '../reading/schema.js';
import { FINE_SPACES } from './format.js';
import { reportSections } from './words.js';

/** Width of the label column. */
const LABEL = 9;

/**
 * The reading as plain text for a terminal: verdict first, then why, then numbers.
 * @param reading - The reading, fresh or stored.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function textReport(reading: Reading): string {
  const { verdict, goodFor, why, penLine, numbers, photo, assumed, warnings, next } = reportSections(reading);
  return plainText([
    verdict,
    `${' '.repeat(LABEL)}${goodFor}`,
    ...labelled('why', why),
    ...labelled('pen line', penLine),
    ...labelled('numbers', numbers),
    ...labelled('photo', photo),
    ...labelled('assumed', assumed),
    ...labelled('note', warnings),
    ...labelled('next', next),
  ]);
}

/**
 * Lines for a terminal.
 * @param lines - The lines.
 * @returns Them joined by newlines, with one at the end; all spaces are U+0020.
 */
export function plainText(lines: readonly string[]): string {
  return `${lines.join('\n')}\n`.replaceAll(FINE_SPACES, ' ');
}

/**
 * Lines under a label.
 * @param label - The label, at most 8 characters; empty for none.
 * @param lines - What stands beside it.
 * @returns As many lines, the label before the first.
 */
export function labelled(label: string, lines: readonly string[]): string[] {
  return lines.map((line, i) => (i === 0 ? label : '').padEnd(LABEL) + line);
}
