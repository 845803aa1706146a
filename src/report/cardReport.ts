import type { Px } from '../core/units.js';
import { CHECK_LENGTH_MM } from '../core/markerCard.js';
import { withUnit } from './format.js';
import { replacedWords, type WrittenFile } from './replacedWords.js';
import { labelled, plainText } from './textReport.js';

/** What is told of a card that was drawn. */
export interface DrawnCard {
  readonly code?: { readonly leftOut: readonly string[]; readonly leastWidthPx: Px };
}

/**
 * What to do with a card that was written to a file.
 * @param card - From `makeCard`.
 * @param written - Where it was written.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function cardReport({ code }: DrawnCard, written: WrittenFile): string {
  const { leftOut = [], leastWidthPx = 0 } = code ?? {};
  return plainText([
    `Marker card written to ${written.file}${replacedWords(written)}`,
    ...labelled(
      'code',
      code === undefined
        ? ['none; --print or --machine puts what is told of the print on the card']
        : [
            'a photo with this card in it needs none of what its code says told beside it',
            `it is read where the card is at least ${withUnit(String(leastWidthPx), 'px')} wide in the photo, and sharp`,
            ...(leftOut.length === 0 ? [] : [`not on it: ${leftOut.join(', ')}`]),
          ],
    ),
    ...labelled('next', [
      'print it at 100 %, not fitted to the page',
      `measure its check length with calipers: ${withUnit(String(CHECK_LENGTH_MM), 'mm')}; if it is off, tell what it measures with each photo (--check-length)`,
      'hold it in the plane of the face, flush with it, in the same light',
    ]),
  ]);
}
