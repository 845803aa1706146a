/**
 * Paper and ink. What was measured is ink, from black to the greys; what was concluded from it (best height,
 * band, fitted and expected lines) is the one accent. Shape or words always say the same as a colour does.
 */
export const PAPER = '#f6f5f0';
export const INK = '#1f242d';
/** Second-rank text: 6 to 1 against the paper, above the 4.5 to 1 of WCAG 2.2, 1.4.3. */
export const SOFT_INK = '#565c67';
export const HAIRLINE = '#c9c7bd';
/** The two sides of the waist. */
export const DARK_TONE = '#5b6a7e';
export const LIGHT_TONE = '#bcc7d3';
export const NOISE_GREY = '#97989a';
export const ACCENT = '#8c2f5f';

/** Text sizes, px at a width of 1280. The smallest is still read at that size. */
export const SIZES = { label: 11, note: 12, body: 14, lead: 18, verdict: 32, longVerdict: 26 } as const;
