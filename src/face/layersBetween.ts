import type { Estimate } from '../core/estimate.js';
import type { CodeImage, CornersPx } from '../core/image.js';
import { applyHomography, homographyFromSquare } from '../imaging/homography.js';
import { median } from '../signal/median.js';
import { interpolatePeak } from '../signal/peak.js';

/** Stripes up the face, evenly over its width, and how many px wide each is. */
const STRIPES = 16;
const STRIPE_PX = 12;
/** A line needs two px; a little more, so that it is told from its alias. */
const LEAST_PX = 2.1;
/** Fewer layers tell no count. */
const LEAST_LAYERS = 40;
/** Counts that are tried, as shares of the one told to both sides; in quarters of what is resolved. */
const TRIED = 0.045;
const PER_LAYER = 4;
/**
 * How far a count stands out of the others, in power (experiment: 54 drawn scenes' true corners and six photographs; right
 * counts have 29 and more but for one of 8, and of those that are not resolved none has 8).
 */
const STANDS_OUT = 12;
/** Standard uncertainty of a count, layers: rms 0.40 of the same scenes' and photographs' true corners. */
const COUNT_SD = 0.4;

/**
 * How many layers lie between the upper and the lower edge of a candidate, by their lines, where that is about as many
 * as the print has: a built-in ruler that tells the face from a face with a rim or a brim.
 * @param codes - Grey codes, shape (rows, columns).
 * @param cornersPx - Top-left, top-right, bottom-right, bottom-left.
 * @param layers - Face height ÷ layer height as told.
 * @returns The count; undefined where no lines of about that number stand out, or where they are too fine to be seen.
 */
export function layersBetween(codes: CodeImage, cornersPx: CornersPx, layers: number): Estimate | undefined {
  const [a, b, c, d] = cornersPx;
  const count = Math.floor(
    Math.max(Math.hypot(d[0] - a[0], d[1] - a[1]), Math.hypot(c[0] - b[0], c[1] - b[1])),
  );
  if (layers < LEAST_LAYERS || count < LEAST_PX * layers * (1 + TRIED)) return undefined;
  const first = layers * (1 - TRIED);
  const tried = Math.ceil(2 * TRIED * layers * PER_LAYER) + 1;
  const h = homographyFromSquare(cornersPx);
  const shared = { re: new Float64Array(tried), im: new Float64Array(tried) };
  let last: Spectrum | undefined;
  for (let stripe = 0; stripe < STRIPES; stripe += 1) {
    const profile = stripeUp(codes, h, (stripe + 0.5) / STRIPES, count);
    if (profile === undefined) return undefined;
    const here = spectrumOf(changesOf(profile), first, tried);
    if (last !== undefined) addShared(shared, here, last);
    last = here;
  }
  const power = shared.re.map((value, i) => Math.hypot(value, shared.im[i] ?? 0));
  const most = power.reduce((one, other) => Math.max(one, other), 0);
  const top = power.indexOf(most);
  if (top <= 0 || top === tried - 1) return undefined;
  const others = power.filter((_, i) => Math.abs(i - top) > 2 * PER_LAYER);
  if (!(most > STANDS_OUT * median(others))) return undefined;
  const at = top + interpolatePeak(power, top);
  return { value: first + at / PER_LAYER, sd: COUNT_SD };
}

interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** Mean code of each place up a face, over the width of a stripe. */
function stripeUp(
  codes: CodeImage,
  h: Float64Array,
  across: number,
  count: number,
): Float64Array | undefined {
  const { data, offset } = codes;
  const [rows, columns] = [codes.shape[0] ?? 0, codes.shape[1] ?? 0];
  const [rowStride, columnStride] = [codes.stride[0] ?? 0, codes.stride[1] ?? 0];
  const profile = new Float64Array(count);
  const [x0, y0] = applyHomography(h, across, 0.5);
  const [x1, y1] = applyHomography(h, across + 1e-3, 0.5);
  const length = Math.hypot(x1 - x0, y1 - y0);
  const [ux, uy] = [(x1 - x0) / length, (y1 - y0) / length];
  for (let i = 0; i < count; i += 1) {
    const [x, y] = applyHomography(h, across, (i + 0.5) / count);
    let sum = 0;
    for (let k = 0; k < STRIPE_PX; k += 1) {
      const off = k - (STRIPE_PX - 1) / 2;
      const column = Math.floor(x + off * ux);
      const row = Math.floor(y + off * uy);
      if (row < 0 || column < 0 || row >= rows || column >= columns) return undefined;
      sum += data[offset + row * rowStride + column * columnStride] ?? 0;
    }
    profile[i] = sum;
  }
  return profile;
}

/** Differences, which leave out slow light, with the strongest cut to size and the ends faded (Hann). */
function changesOf(profile: Float64Array): Float64Array {
  const n = profile.length;
  const changes = profile.map(
    (value, i) => (profile[Math.min(n - 1, i + 1)] ?? 0) - (profile[Math.max(0, i - 1)] ?? value),
  );
  const most = 4 * median(changes.map(Math.abs)) + 1e-9;
  return changes.map(
    (value, i) => Math.max(-most, Math.min(most, value)) * (1 - Math.cos((2 * Math.PI * (i + 0.5)) / n)),
  );
}

/**
 * Fourier sums at so many counts from the first on, each turned by an angle that only the count and the number of values
 * decide: in the product of two spectra it drops out.
 * @see Goertzel, "An algorithm for the evaluation of finite trigonometric series", American Mathematical Monthly 65, 1958
 * (from memory).
 */
function spectrumOf(values: Float64Array, first: number, tried: number): Spectrum {
  const re = new Float64Array(tried);
  const im = new Float64Array(tried);
  const n = values.length;
  const turnOf = (k: number) => (2 * Math.PI * (first + k / PER_LAYER)) / n;
  // Beyond the end of an array nothing is written.
  const write = (k: number, last: number, before: number) => {
    re[k] = last - Math.cos(turnOf(k)) * before;
    im[k] = -Math.sin(turnOf(k)) * before;
  };
  // Four at a time: each sum waits for the one before, and the processor has nothing else to do.
  for (let k = 0; k < tried; k += 4) {
    const twice = (i: number) => 2 * Math.cos(turnOf(k + i));
    const [a, b, c, d] = [twice(0), twice(1), twice(2), twice(3)];
    let [a1, b1, c1, d1, a2, b2, c2, d2] = [0, 0, 0, 0, 0, 0, 0, 0];
    for (let i = 0; i < n; i += 1) {
      const value = values[i] ?? 0;
      const a0 = value - a2 + a * a1;
      const b0 = value - b2 + b * b1;
      const c0 = value - c2 + c * c1;
      const d0 = value - d2 + d * d1;
      [a2, b2, c2, d2] = [a1, b1, c1, d1];
      [a1, b1, c1, d1] = [a0, b0, c0, d0];
    }
    write(k, a1, a2);
    write(k + 1, b1, b2);
    write(k + 2, c1, c2);
    write(k + 3, d1, d2);
  }
  return { re, im };
}

/** Adds the product of one spectrum with the other's conjugate: layers run on from stripe to stripe, noise does not. */
function addShared(shared: Spectrum, here: Spectrum, last: Spectrum): void {
  for (let k = 0; k < shared.re.length; k += 1) {
    const [a, b, c, d] = [here.re[k] ?? 0, here.im[k] ?? 0, last.re[k] ?? 0, last.im[k] ?? 0];
    shared.re[k] = (shared.re[k] ?? 0) + a * c + b * d;
    shared.im[k] = (shared.im[k] ?? 0) + b * c - a * d;
  }
}
