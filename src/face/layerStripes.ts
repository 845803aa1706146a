import type { GreyImage } from '../core/image.js';
import type { Mm } from '../core/units.js';
import { median } from '../signal/median.js';

/** Brightness along the height of a face, in stripes side by side. */
export interface LayerStripes {
  readonly rows: number;
  /** Place of each stripe's middle across the face, −1 at the left edge to 1 at the right one. */
  readonly places: Float64Array;
  /** Relative brightness of each stripe, its slow changes taken out: shape (rows,) each, from the top down. */
  readonly values: readonly Float64Array[];
}

/** Wide enough to take the noise out, narrow enough that lines half a degree off level stay sharp. */
const STRIPE_MM: Mm = 2;
/** A narrow face has this many stripes all the same. */
const LEAST_STRIPES = 8;
/** Slower changes along the height than this are no layers. */
const SLOW_MM: Mm = 2;
/** Brighter or darker than this many median deviations is a mark on the wall. */
const MARK = 6;
const DARKEST = 1e-4;

/**
 * Averages a face over stripes, and takes out light and marks.
 * @param image - Linear light, shape (rows, columns).
 * @param pxPerMm - Px of the image for each mm, along the wall and along the height.
 * @returns The stripes; fewer than 8 where the face has fewer columns.
 */
export function layerStripes(
  image: GreyImage,
  pxPerMm: { readonly alongWall: number; readonly alongHeight: number },
): LayerStripes {
  const [rows = 0, columns = 0] = image.shape;
  const widest = Math.min(STRIPE_MM * pxPerMm.alongWall, columns / LEAST_STRIPES);
  const width = Math.max(1, Math.floor(widest));
  const count = Math.floor(columns / width);
  const sums = Array.from({ length: count }, () => new Float64Array(rows));
  const { data, offset } = image;
  const [rowStride = 0, columnStride = 0] = image.stride;
  for (let row = 0; row < rows; row += 1) {
    let at = offset + row * rowStride;
    for (const sum of sums) {
      let total = 0;
      for (let column = 0; column < width; column += 1, at += columnStride) total += data[at] ?? 0;
      sum[row] = total / width;
    }
  }
  const half = Math.max(1, Math.round((SLOW_MM * pxPerMm.alongHeight) / 2));
  return {
    rows,
    places: Float64Array.from(sums, (_, k) => (2 * (k + 0.5) * width) / columns - 1),
    values: sums.map((sum) => withoutMarks(relativeToMean(sum, half))),
  };
}

/** Value ÷ mean of the values around it, less 1. At the ends the window is cut off. */
function relativeToMean(values: Float64Array, half: number): Float64Array {
  const n = values.length;
  const sums = new Float64Array(n + 1);
  for (let i = 0; i < n; i += 1) sums[i + 1] = (sums[i] ?? 0) + (values[i] ?? 0);
  return values.map((value, i) => {
    const low = Math.max(0, i - half);
    const high = Math.min(n, i + half + 1);
    const mean = ((sums[high] ?? 0) - (sums[low] ?? 0)) / (high - low);
    return value / Math.max(DARKEST, mean) - 1;
  });
}

function withoutMarks(values: Float64Array): Float64Array {
  const most = MARK * median(values.map(Math.abs));
  return values.map((value) => Math.max(-most, Math.min(most, value)));
}
