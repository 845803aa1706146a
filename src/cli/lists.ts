/** Where a logbook lies when no folder is named. */
export const LOGBOOK = 'logbook';

/**
 * The words of a list with commas.
 * @param text - As typed.
 * @returns Its words, without spaces around them, none empty.
 */
export function listOf(text: string): readonly string[] {
  return text
    .split(',')
    .map((word) => word.trim())
    .filter((word) => word !== '');
}
