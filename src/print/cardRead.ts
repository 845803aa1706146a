import type { CardCode } from './cardCode.js';

/**
 * What a photo's marker card says; `no-card` where none is seen, `no-code` where none is read on it, `mirrored` where the
 * photo is mirrored: the code names the leading corner as it is seen otherwise, and is not read.
 */
export type CardRead = CardCode | { readonly state: 'no-card' | 'no-code' | 'mirrored' };

/**
 * What was seen of a photo, with what its card's code says where the search did not look for a card.
 * @param search - What was seen.
 * @param card - What `readCard` found; undefined where it was not asked.
 * @returns The same with the code, if there is one.
 */
export function withCardRead<Search extends { readonly cardCode?: CardCode }>(
  search: Search,
  card: CardRead | undefined,
): Search {
  if (search.cardCode !== undefined || card === undefined || !isCode(card)) return search;
  return { ...search, cardCode: card };
}

function isCode(card: CardRead): card is CardCode {
  return !['no-card', 'no-code', 'mirrored'].includes(card.state);
}
