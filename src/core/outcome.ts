/**
 * Why no band can be proposed. A refusal is a result: it carries every number that could be measured.
 * The thresholds are those of `band/decide.ts`; the words for users are in `report/words.ts`.
 *
 * - `face-not-found`, `face-unclear`, `face-cut-off`: no quadrilateral in the photo is a tower's face; two are about as
 *   likely to be it; the likeliest reaches the edge of the photo (criteria in `face/findFace.ts`). `face-unclear` is
 *   told instead of the others where exactly one would be found had its own height ÷ width been told, and that is off
 *   by more than 1.5 % and three times its standard uncertainty (`face/otherShape.ts`).
 * - `scale-missing`: the size of the face is to be taken from a reference that was not found in the photo.
 * - `scales-disagree`: two scales, physical or commanded, differ by more than 1.5 % and by more than three
 *   times their joint uncertainty; or the told height ÷ width differs so from the corners', or their angle from 90°
 *   (0.015 rad is 0.86°).
 * - `too-dark`: no face is found or clear, or the frame seems to cut it, and 95 % of the photo do not exceed code 88 of 255.
 * - `glare`: more than 30 % of the face is at the brightest code; or no face is found or clear, and more than 20 % of
 *   the photo is; or more than 5 %, and otherwise the reason would be
 *   `no-ringing`, `too-noisy`, `fixed-pitch-only`, `not-ringing`, `one-sided`, `no-reversal` or `too-uncertain`, or a proof print would be
 *   called free of ringing at some acceleration.
 * - `too-coarse`: fewer than 15 px per ripple, of the measured spacing or of the slowest ringing looked for (12 Hz);
 *   or no face is found in a photo whose longer side is below 500 px.
 * - `blurred`: the photo's blur leaves less than 2 % of the amplitude of the slowest ripples expected (the ladder's lowest
 *   frequency, or 12 Hz); or no face is found or clear, and the sharpest of the photo's strong edges spread by more than
 *   3 px (of 4000 along its longer side, and in proportion above), or by more than 1.4 px and neither a click nor the told
 *   shape explains it; or less than half of that in the ladder's middle (√(lowest · highest); without a ladder
 *   45 Hz), and otherwise the reason would be `no-ringing`, `too-noisy`, `fixed-pitch-only`, `not-ringing`,
 *   `acceleration-disagrees`, `one-sided`, `no-reversal` or `too-uncertain`, or a proof print would be called free of ringing
 *   at some acceleration. A Gaussian blur of s px leaves
 *   exp(−2π² (s/p)²) of ripples of p px.
 * - `wall-too-short`: fewer than 40 bins of wall are left behind the corner and before a slot or the end.
 * - `no-ringing`: signal-to-noise ratio of the ripples ≤ 2.5. Of a proof print this, and the other reasons that lie in faint
 *   ripples (`fixed-pitch-only`, `too-uncertain`), are results, not refusals.
 * - `too-noisy`: ripples are there, but their signal-to-noise ratio is ≤ 5; or a proof print would
 *   be called free of ringing though only ripples of more than 5 % of contrast would have shown.
 * - `fixed-pitch-only`: all that repeats has no decay (ζ < 0.016) and does not grow along the wall, or nothing
 *   stands out (signal-to-noise ratio ≤ 2.5) once patterns of fixed pitch are taken out.
 * - `not-ringing`: what repeats is slower than printers ring (below 12 Hz), or decays faster than ringing does (ζ ≥ 0.28), or not at all (ζ < 0.016) and with
 *   over 10 % more energy in the last third of the wall than in the first, as when the leading corner is the other one;
 *   or its damping ratio's 95 % half-width is more than 1.5 times the damping ratio itself. Of a proof
 *   print: a step stands over 5 times out of its noise, and is no ringing by these rules; or a pattern was taken out, and before
 *   that the last third of the wall held over 30 % more energy than the first.
 * - `acceleration-disagrees`: four times the told acceleration explains over 3 % more of what the ripples explain,
 *   and more than noise can, at a frequency at least 3 % away.
 * - `two-frequencies`: a second swing fits beside the first (chi-square of more than 12 for each height, a damping ratio of
 *   more than four standard uncertainties), overlaps with it too much to be told apart (their squared scalar product is over
 *   half of the product of their energies), and would move its frequency by more than 2.5 % (`ripple/secondRipples.ts`).
 * - `light-from-front`: the amplitude of the ripples at twice their frequency lies above that at it by more than 1.96
 *   standard uncertainties of their ratio; or ripples of half the frequency, seen doubled, explain the amplitudes along
 *   the ladder better than ripples of any frequency do, by a chi-square of more than 10, with their null on the ladder
 *   and within 10 % of where their frequency puts it; or the ripples turn over along the wall: times the distance from
 *   a place within 2 of their decay lengths behind the start of what is read, they fit better than ripples without a
 *   turn (even, growing from the corner, ending or beginning at such a place), by a chi-square of more than 50. Told
 *   instead of a proposal, and of `too-noisy`, `acceleration-disagrees`, `two-frequencies`, `below-ladder`,
 *   `above-ladder`, `one-sided`, `no-reversal`, `spacing-disagrees`, `ladder-reversed` and `too-uncertain`; for a turn
 *   along the wall, of `not-ringing` too. Of a proof print also where the ripples lie within 10 % of twice the frequency of its shaper.
 * - `below-ladder`, `above-ladder`: the frequency that the spacing says lies outside the ladder's range by more
 *   than two standard uncertainties, or the null lies within 1 Hz and its standard uncertainty of an end; of several
 *   ladders, of an end of each.
 * - `ladder-has-no-range`: the shaper was off or fixed, or the ladder spans less than 1 Hz.
 * - `two-bands-possible`: the ladder passes the frequency at more than one height; of several ladders, one of them does.
 * - `ladders-disagree`: of several ladders on one tower, the heights of one fit better by a chi-square of more than 25 with
 *   a null of their own that lies over 2.5 % from that of all, or as if the shaper had stayed at one frequency; instead of
 *   a proposal and of any reason that lies in the null, except `ladder-reversed`.
 * - `one-sided`: the signal is ≤ 2 times its noise below the null, or above it, over the heights within a factor of
 *   1.6 of the null (2- and 3-hump EI: 2.5) at which the shaper leaves 14 % or more, none of them counting as 0; or the
 *   ladder has fewer than 8 bands of height to look at.
 * - `no-reversal`: a path that does not turn over (of ZVD, EI and 3-hump EI: does not dip) explains the amplitudes as
 *   well (F ≤ 3); or the best null lies within 1 Hz and its standard uncertainty of an end of the ladder, and over
 *   10 % from where the spacing says that it should be.
 * - `spacing-disagrees`: the null and the one that the spacing predicts lie further apart than 2.5 % and than three
 *   standard uncertainties of their difference.
 * - `ladder-reversed`: the signed amplitudes fit the shaper better with the face turned upside down (smaller
 *   weighted cost of the null fit over the heights that the ladder covers both ways).
 * - `photos-disagree`: of several photos that are measured together, two or those that are left contradict each other: their
 *   frequencies by spacing, or their nulls, lie more than 3.3 standard uncertainties of their difference apart.
 * - `too-uncertain`: the 95 % half-width is more than 14 % of the frequency, so that it is good for no shaper: by
 *   spacing, by the null, or both together.
 */
export const REFUSAL_REASONS = [
  'face-not-found',
  'face-unclear',
  'face-cut-off',
  'scale-missing',
  'scales-disagree',
  'too-dark',
  'glare',
  'too-coarse',
  'blurred',
  'wall-too-short',
  'no-ringing',
  'too-noisy',
  'fixed-pitch-only',
  'not-ringing',
  'acceleration-disagrees',
  'two-frequencies',
  'light-from-front',
  'below-ladder',
  'above-ladder',
  'ladder-has-no-range',
  'two-bands-possible',
  'ladders-disagree',
  'one-sided',
  'no-reversal',
  'spacing-disagrees',
  'ladder-reversed',
  'photos-disagree',
  'too-uncertain',
] as const;
/**
 * How far a shaper's frequency may be off, relative, before residual vibration passes 5 %: half the published
 * shapers' 5 % insensitivity without damping, 0.064, 0.287 and 0.399 (test/physics/shapers.test.ts computes them). A
 * frequency less certain than the ZVD's is refused.
 */
export const SHAPER_TOLERANCE = { ZV: 0.032, ZVD: 0.14, EI: 0.2 } as const;

/** Beyond this relative difference two sizes contradict each other: DESIGN 3. */
export const SIZE_CONFLICT = 0.015;

/** F above which a sign reversal beats a path without one. */
export const REVERSAL_F = 3;

export type RefusalReason = (typeof REFUSAL_REASONS)[number];
