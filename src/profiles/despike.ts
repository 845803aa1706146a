import type { Mm } from '../core/units.js';
import { MAD_TO_SD, median, runningMedian } from '../signal/median.js';

/** Ripples change slowly over the height; what stands out of so much height above and below is no ripple. */
const AROUND_MM: Mm = 4;
/** Standard deviations of its column that a value must stand out: 1 in 10⁶ of pure noise does. */
const OUTLIER = 5;
/** Contrast that no face is so even as to call a spike: half a code of an 8-bit photo at middle grey. */
const LEAST_SPIKE = 0.005;

/**
 * Replaces what stands out of the heights above and below it at the same distance from the corner, such as a
 * scratch, a blob or a small stain, by their median. Ripples and patterns run on over the height and stay.
 * @param bands - Profiles from the bottom up, each shape (positions,); not modified.
 * @param bandMm - Height of a band.
 * @returns The profiles without spikes.
 * @see Hampel's identifier: Davies & Gather, "The identification of multiple outliers", J. Am. Stat. Assoc. 88,
 * 1993 (from memory).
 */
export function despike(bands: readonly Float64Array[], bandMm: Mm): readonly Float64Array[] {
  const around = Math.max(1, Math.round(AROUND_MM / bandMm));
  const positions = bands[0]?.length ?? 0;
  // Heights are compared by their shape: one may be brighter than the next as a whole.
  const levels = bands.map((band) => (positions === 0 ? 0 : median(band)));
  const columns = Array.from({ length: positions }, (_, i) =>
    Float64Array.from(bands, (band, k) => band[i]! - levels[k]!),
  );
  const smooth = columns.map((column) => runningMedian(column, around));
  const apart = columns.map((column, i) => column.map((value, k) => Math.abs(value - smooth[i]![k]!)));
  const spreads = apart.map((column) => median(column));
  // A column that happens to be quiet is held to the usual spread.
  const usual = positions === 0 ? 0 : median(spreads);
  return bands.map((band, k) =>
    band.map((value, i) => {
      const limit = OUTLIER * MAD_TO_SD * Math.max(usual, spreads[i]!);
      return apart[i]![k]! > limit + LEAST_SPIKE ? smooth[i]![k]! + levels[k]! : value;
    }),
  );
}
