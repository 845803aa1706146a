import type { Reading } from '../reading/schema.js';
import { reportSections } from './words.js';

/** Width of the label column. */
const LABEL = 9;

/**
 * The reading as plain text for a terminal: verdict first, then why, then numbers.
 * @param reading - The reading, fresh or stored.
 * @returns Lines joined by newlines, with one at the end.
 */
export function textReport(reading: Reading): string {
  const { verdict, goodFor, why, numbers, assumed, warnings, next } = reportSections(reading);
  const lines = [
    verdict,
    `${' '.repeat(LABEL)}${goodFor}`,
    ...labelled('why', why),
    ...labelled('numbers', numbers),
    ...labelled('assumed', assumed),
    ...labelled('note', warnings),
    ...labelled('next', next),
  ];
  return `${lines.join('\n')}\n`;
}

function labelled(label: string, lines: readonly string[]): string[] {
  return lines.map((line, i) => (i === 0 ? label : '').padEnd(LABEL) + line);
}
