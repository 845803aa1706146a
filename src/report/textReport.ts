import type { Reading } from '../reading/schema.js';
import { reportSections } from './words.js';

/** Width of the label column. */
const LABEL = 9;

/** Thin and no-break spaces look well in a picture; in a terminal nobody can search for them or type them. */
const FINE_SPACES = /[\u00A0\u2009\u202F]/g;

/**
 * The reading as plain text for a terminal: verdict first, then why, then numbers.
 * @param reading - The reading, fresh or stored.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function textReport(reading: Reading): string {
  const { verdict, goodFor, why, numbers, photo, assumed, warnings, next } = reportSections(reading);
  const lines = [
    verdict,
    `${' '.repeat(LABEL)}${goodFor}`,
    ...labelled('why', why),
    ...labelled('numbers', numbers),
    ...labelled('photo', photo),
    ...labelled('assumed', assumed),
    ...labelled('note', warnings),
    ...labelled('next', next),
  ];
  return `${lines.join('\n')}\n`.replaceAll(FINE_SPACES, ' ');
}

function labelled(label: string, lines: readonly string[]): string[] {
  return lines.map((line, i) => (i === 0 ? label : '').padEnd(LABEL) + line);
}
