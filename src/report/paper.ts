import { MM_PER_INCH, type Mm } from '../core/units.js';

/** Papers that pages are made for. */
export const PAPERS = ['a4', 'letter'] as const;
export type Paper = (typeof PAPERS)[number];

/**
 * Width and height of each: ISO 216, and the North American letter of 8.5 × 11 inches (ANSI/ASME Y14.1, from memory).
 */
export const PAPERS_MM: Readonly<Record<Paper, readonly [width: Mm, height: Mm]>> = {
  a4: [210, 297],
  letter: [8.5 * MM_PER_INCH, 11 * MM_PER_INCH],
};
