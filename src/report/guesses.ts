import type { Reading } from '../reading/schema.js';

/** A face less likely than this is not worth a look. */
const LEAST_SHOWN = 0.02;

/**
 * The likeliest faces of a photo in which none is read.
 * @param reading - The reading.
 * @returns Those that are worth a look, best first.
 */
export function shownGuesses({ search }: Pick<Reading, 'search'>): Reading['search']['guesses'] {
  return search.guesses.filter(({ confidence }) => confidence >= LEAST_SHOWN);
}
