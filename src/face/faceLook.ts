import type { CodeImage, ColourImage, CornersPx, PointPx } from '../core/image.js';
import { once } from '../core/once.js';
import { applyHomography, homographyFromSquare } from '../imaging/homography.js';
import { median } from '../signal/median.js';

/** Patches on which texture is looked at: so many across and up, each so many px square. */
const PATCHES = 6;
const PATCH_PX = 48;
/** Patches keep this share of the face off its edges. */
const PATCH_MARGIN = 0.08;

/**
 * From px to px, and over some of them where layers are blurred but differ from each other; the coarser, the more often
 * something else has stripes. A coarser one counts only where almost all patches agree.
 */
const LAGS = [
  { px: 1, weight: 1 },
  { px: 2, weight: 0.85 },
  { px: 4, weight: 0.7 },
] as const;
const COARSE_AGREE = 0.93;

/**
 * How much a face looks like printed layers, at the photo's full resolution.
 * @param codes - Grey codes, shape (rows, columns).
 * @param cornersPx - Top-left, top-right, bottom-right, bottom-left, inside the photo.
 * @returns Natural logarithm of how much more brightness changes up the face than along it: large for layer lines, 0 for
 * an even surface and for noise, negative where lines run up; undefined when the face is too small for patches.
 */
export function layerTexture(codes: CodeImage, cornersPx: CornersPx): number | undefined {
  const h = homographyFromSquare(cornersPx);
  const patches: (readonly number[])[] = [];
  for (let i = 0; i < PATCHES; i += 1) {
    for (let j = 0; j < PATCHES; j += 1) {
      const at = (k: number) => PATCH_MARGIN + ((1 - 2 * PATCH_MARGIN) * (k + 0.5)) / PATCHES;
      const ratios = patchRatios(codes, h, at(i), at(j));
      if (ratios !== undefined) patches.push(ratios);
    }
  }
  if (patches.length < (PATCHES * PATCHES) / 2) return undefined;
  const byLag = LAGS.map(({ weight }, k) => {
    const ratios = patches.map((one) => one[k] ?? 0);
    const up = ratios.filter((ratio) => ratio > 0).length / ratios.length;
    return { stripes: weight * median(ratios), agree: Math.max(up, 1 - up) };
  });
  const [finest, ...coarser] = byLag;
  const sure = coarser.filter(({ agree }) => agree > COARSE_AGREE);
  return [finest, ...sure].reduce(
    (most, one) => (one !== undefined && Math.abs(one.stripes) > Math.abs(most) ? one.stripes : most),
    0,
  );
}

/** Log ratios, for each lag, of squared differences between row means and between column means of one patch. */
function patchRatios(codes: CodeImage, h: Float64Array, u: number, v: number): number[] | undefined {
  const [x, y] = applyHomography(h, u, v);
  const step = 1e-3;
  const [rx, ry] = applyHomography(h, u + step, v);
  const [dx, dy] = applyHomography(h, u, v + step);
  const [alongPx, upPx] = [Math.hypot(rx - x, ry - y), Math.hypot(dx - x, dy - y)];
  const [ax, ay, ux, uy] = [(rx - x) / alongPx, (ry - y) / alongPx, (dx - x) / upPx, (dy - y) / upPx];
  const [rowCount, columnCount] = [codes.shape[0] ?? 0, codes.shape[1] ?? 0];
  const { data, offset } = codes;
  const [rowStride, columnStride] = [codes.stride[0] ?? 0, codes.stride[1] ?? 0];
  const half = PATCH_PX / 2;
  const reachX = half * (Math.abs(ux) + Math.abs(ax));
  const reachY = half * (Math.abs(uy) + Math.abs(ay));
  if (x < reachX || y < reachY || x + reachX >= columnCount || y + reachY >= rowCount) return undefined;
  const rows = new Float64Array(PATCH_PX);
  const columns = new Float64Array(PATCH_PX);
  for (let i = 0; i < PATCH_PX; i += 1) {
    const fromX = x + (i - half) * ux;
    const fromY = y + (i - half) * uy;
    let sum = 0;
    for (let j = 0; j < PATCH_PX; j += 1) {
      // Whole px: all of them are inside and not negative.
      const column = (fromX + (j - half) * ax) | 0;
      const row = (fromY + (j - half) * ay) | 0;
      const code = data[offset + Math.imul(row, rowStride) + Math.imul(column, columnStride)] ?? 0;
      sum += code;
      columns[j] = (columns[j] ?? 0) + code;
    }
    rows[i] = sum;
  }
  // A code's rounding alone changes a mean of 48 by 0.04: without it an even patch would divide by nothing.
  const floor = PATCH_PX * PATCH_PX * PATCH_PX * 0.003;
  return LAGS.map(({ px }) => Math.log((changes(rows, px) + floor) / (changes(columns, px) + floor)));
}

/** Sum of squared second differences of sums over so many px: slow changes and steady slopes drop out. */
function changes(means: Float64Array, px = 1): number {
  const count = Math.floor(means.length / px);
  let [before, last, sum] = [0, 0, 0];
  for (let k = 0, i = 0; k < count; k += 1) {
    let one = 0;
    for (let j = 0; j < px; j += 1, i += 1) one += means[i] ?? 0;
    if (k >= 2) sum += (one - 2 * last + before) ** 2;
    before = last;
    last = one;
  }
  return sum;
}

/** Places along each side at which inside and outside are compared, and px square. */
const SIDE_PLACES = 10;
const SIDE_PATCH_PX = 20;
/** How far off the side: near by, and beyond a pen's line or a slot, as a share of the face's width. */
const SIDE_GAP_PX = 6;
const BEYOND_LINE = 0.022;
/** Colours count as one within this distance of red and green shares: closer than on a face, whose light changes. */
const SAME_HUE = 0.025;
/** The same surface goes on where brightness and the size of its texture agree within these logarithms. */
const SAME_BRIGHT = 0.07;
const SAME_TEXTURE = 0.8;
/** Change that rounding of codes alone makes in means of 20: 0.29 ÷ √20, and √6 for the second difference. */
const ROUNDED = 0.16;

/**
 * How much of each side of a face has the same surface on both sides of it, so that it is no end of anything: a line
 * drawn on it, a slot, a ripple, a dark layer.
 * @param codes - Grey codes, shape (rows, columns).
 * @param shrunk - Shrunk copy of the photo, for colours.
 * @param cornersPx - Corners in order.
 * @returns For top, right, bottom, left the share of places, 0 to 1.
 */
export function goingOn(codes: CodeImage, shrunk: ColourImage, cornersPx: CornersPx): readonly number[] {
  const [a, b] = cornersPx;
  const widthPx = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const scale = shrunk.widthPx / (codes.shape[1] ?? 1);
  const gapsPx = [SIDE_GAP_PX, SIDE_GAP_PX + BEYOND_LINE * widthPx];
  return cornersPx.map((from, side) => {
    const to = cornersPx[(side + 1) % 4] ?? from;
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const length = Math.hypot(dx, dy);
    const along = [dx / length, dy / length] as const;
    const out = [along[1], -along[0]] as const;
    let same = 0;
    let looked = 0;
    for (let k = 0; k < SIDE_PLACES; k += 1) {
      const share = (k + 1) / (SIDE_PLACES + 1);
      const at: PointPx = [from[0] + share * dx, from[1] + share * dy];
      const look = (across: readonly [number, number]) =>
        gapsPx.flatMap((gapPx) => {
          const patch = { at, along, across, gapPx };
          const middlePx = gapPx + SIDE_PATCH_PX / 2;
          const hue = hueAt(
            shrunk,
            scale * (at[0] + middlePx * across[0]),
            scale * (at[1] + middlePx * across[1]),
          );
          if (hue === undefined || !isInPhoto(codes, patch)) return [];
          // Most sides part two colours: their surfaces need not be read.
          return [{ hue, surface: once(() => surfaceOf(codes, patch)) }];
        });
      const inside = look([-out[0], -out[1]]);
      const outside = look(out);
      if (inside.length === 0 || outside.length === 0) continue;
      looked += 1;
      if (inside.some((one) => outside.some((other) => isAlike(one, other)))) same += 1;
    }
    return looked === 0 ? 0 : same / looked;
  });
}

interface Surface {
  /** Mean code. */
  readonly mean: number;
  /** Rms change from px to px, across the side and along it. */
  readonly change: number;
  readonly changeAlong: number;
}

interface Hue {
  readonly red: number;
  readonly green: number;
}

/** Shares of red and green around a place of the shrunk copy. */
function hueAt({ data, widthPx, heightPx }: ColourImage, x: number, y: number): Hue | undefined {
  const [column, row] = [Math.floor(x), Math.floor(y)];
  if (column < 1 || row < 1 || column >= widthPx - 1 || row >= heightPx - 1) return undefined;
  const sums = [0, 1, 2].map((k) => {
    let sum = 9 * DARK_CODE;
    for (let i = -1; i <= 1; i += 1) {
      for (let j = -1; j <= 1; j += 1) sum += data[3 * ((row + i) * widthPx + column + j) + k] ?? 0;
    }
    return sum;
  });
  const [red = 0, green = 0, blue = 0] = sums;
  const all = red + green + blue;
  return { red: red / all, green: green / all };
}

interface Place {
  readonly hue: Hue;
  readonly surface: () => Surface;
}

function isAlike(one: Place, other: Place): boolean {
  if (Math.hypot(one.hue.red - other.hue.red, one.hue.green - other.hue.green) >= SAME_HUE) return false;
  const [a, b] = [one.surface(), other.surface()];
  return (
    Math.abs(Math.log((a.mean + DARK_CODE) / (b.mean + DARK_CODE))) < SAME_BRIGHT &&
    Math.abs(Math.log((a.change + ROUNDED) / (b.change + ROUNDED))) < SAME_TEXTURE &&
    Math.abs(Math.log((a.changeAlong + ROUNDED) / (b.changeAlong + ROUNDED))) < SAME_TEXTURE
  );
}

/** Room for the sums of one patch along and across: used again and again. */
const sumsAcross = new Float64Array(SIDE_PATCH_PX);
const sumsAlong = new Float64Array(SIDE_PATCH_PX);

/** A square of px beside a side: its middle lies off `at` by the gap and half its own size. */
interface Patch {
  readonly at: PointPx;
  readonly along: readonly [number, number];
  readonly across: readonly [number, number];
  readonly gapPx: number;
}

function isInPhoto({ shape }: CodeImage, { at: [x, y], along, across, gapPx }: Patch): boolean {
  const half = SIDE_PATCH_PX / 2;
  const [middleX, middleY] = [x + (gapPx + half) * across[0], y + (gapPx + half) * across[1]];
  const reachX = half * (Math.abs(across[0]) + Math.abs(along[0]));
  const reachY = half * (Math.abs(across[1]) + Math.abs(along[1]));
  return (
    middleX >= reachX &&
    middleY >= reachY &&
    middleX + reachX < (shape[1] ?? 0) &&
    middleY + reachY < (shape[0] ?? 0)
  );
}

/** Means along, looked at across, and means across, looked at along, in a patch that lies in the photo. */
function surfaceOf(
  { data, offset, stride }: CodeImage,
  { at: [x, y], along, across, gapPx }: Patch,
): Surface {
  const [rowStride = 0, columnStride = 0] = stride;
  const half = SIDE_PATCH_PX / 2;
  const [alongX, alongY] = along;
  sumsAlong.fill(0);
  let all = 0;
  for (let i = 0; i < SIDE_PATCH_PX; i += 1) {
    const fromX = x + (gapPx + i) * across[0];
    const fromY = y + (gapPx + i) * across[1];
    let sum = 0;
    for (let j = 0; j < SIDE_PATCH_PX; j += 1) {
      const column = (fromX + (j - half) * alongX) | 0;
      const row = (fromY + (j - half) * alongY) | 0;
      const code = data[offset + Math.imul(row, rowStride) + Math.imul(column, columnStride)] ?? 0;
      sum += code;
      sumsAlong[j] = (sumsAlong[j] ?? 0) + code;
    }
    sumsAcross[i] = sum;
    all += sum;
  }
  const rms = (of: Float64Array) => Math.sqrt(changes(of) / SIDE_PATCH_PX) / SIDE_PATCH_PX;
  return { mean: all / SIDE_PATCH_PX ** 2, change: rms(sumsAcross), changeAlong: rms(sumsAlong) };
}

/** Places across and up at which colour is looked at. */
const COLOUR_PLACES = 16;
/** Colours count as one within this distance of red and green shares, and within this factor of brightness. */
const SAME_SHARE = 0.045;
const SAME_BRIGHTNESS = 1.8;
/** Codes this low tell no colour: added to each channel. */
const DARK_CODE = 12;

/**
 * Share of a face that is of one colour, bright or dark.
 * @param image - Shrunk copy of the photo.
 * @param cornersPx - Corners in px of that copy.
 * @returns 0 to 1.
 */
export function colourUniformity(image: ColourImage, cornersPx: CornersPx): number {
  const h = homographyFromSquare(cornersPx);
  const colours: (readonly [red: number, green: number, brightness: number])[] = [];
  for (let i = 0; i < COLOUR_PLACES; i += 1) {
    for (let j = 0; j < COLOUR_PLACES; j += 1) {
      const at = (k: number) => 0.03 + (0.94 * (k + 0.5)) / COLOUR_PLACES;
      const [x, y] = applyHomography(h, at(i), at(j));
      const [column, row] = [Math.floor(x), Math.floor(y)];
      if (column < 0 || row < 0 || column >= image.widthPx || row >= image.heightPx) continue;
      const start = 3 * (row * image.widthPx + column);
      const [red, green, blue] = [0, 1, 2].map((k) => (image.data[start + k] ?? 0) + DARK_CODE);
      const sum = (red ?? 0) + (green ?? 0) + (blue ?? 0);
      colours.push([(red ?? 0) / sum, (green ?? 0) / sum, sum]);
    }
  }
  if (colours.length === 0) return 0;
  const [red, green, brightness] = ([0, 1, 2] as const).map((k) => median(colours.map((one) => one[k])));
  const same = colours.filter(
    ([r, g, b]) =>
      Math.hypot(r - (red ?? 0), g - (green ?? 0)) < SAME_SHARE &&
      Math.abs(Math.log(b / (brightness ?? 1))) < Math.log(SAME_BRIGHTNESS),
  );
  return same.length / colours.length;
}
