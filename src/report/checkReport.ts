import type { PrintRecord } from '../print/record.js';
import type { PhotoCheck } from '../reading/checkSchema.js';
import { labelled, plainText } from './textReport.js';
import { criterionWords, photoWords, reasonWords } from './words.js';

/**
 * A photo's check as plain text for a terminal: the verdict first, then the one thing to change.
 * @param check - The check, fresh or stored.
 * @param record - What was told of the print; undefined where nothing was.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function checkReport(check: PhotoCheck, record?: PrintRecord): string {
  const { verdict, hint, notes, printTold } = check;
  return plainText([
    verdictWords(check),
    ...labelled('', verdict.state === 'will-do' ? [] : [criterionWords(verdict)]),
    ...labelled('hint', hint === undefined ? [] : [hint]),
    ...labelled('photo', photoWords(check, record, true)),
    ...labelled(
      'note',
      notes.map(({ text }) => text),
    ),
    ...labelled('next', nextWords(check, printTold)),
  ]);
}

function verdictWords(check: PhotoCheck): string {
  const { verdict } = check;
  switch (verdict.state) {
    case 'will-do':
      return check.hint === undefined ? 'The photo will do' : 'The photo will do, and could be better';
    case 'doubtful':
      return check.face === undefined
        ? 'The photo may do: to be sure of the face, its size must be told'
        : `The photo may do, if the ripples are clear: ${reasonWords(check, verdict.reason)}`;
    case 'will-not-do':
      return `The photo will not do: ${reasonWords(check, verdict.reason)}`;
  }
}

function nextWords({ verdict }: PhotoCheck, printTold: boolean): readonly string[] {
  if (verdict.state === 'will-not-do') return [];
  return printTold
    ? ['measure it; whether its light shows the ripples is seen only then']
    : ['measure it with a print record: nothing is known of the print here'];
}
