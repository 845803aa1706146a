import { combineSd, RECTANGULAR } from '../core/estimate.js';
import type { Mm } from '../core/units.js';
import { clamp } from '../core/vector.js';
import { MAD_TO_SD, median, percentile, runningMedian } from '../signal/median.js';

/** A line drawn across the face by hand. */
export interface PenLine {
  /** Height of its middle above the bed, where it crosses the middle of the wall, mm; uncertain by how it wavers. */
  readonly heightMm: Mm;
  readonly heightSdMm: Mm;
  /** How wide it looks, mm, at half its contrast. */
  readonly widthMm: Mm;
  /** Its rise away from the leading corner, radians. */
  readonly slantRad: number;
  readonly ink: 'dark' | 'light';
  /** How surely it was drawn, 0 to 1: above 0.5 in all that are told. */
  readonly confidence: number;
}

/** A line with where it runs, to be left out of the profiles. */
export interface TracedLine {
  /** Its height counts from the lower edge of the face. */
  readonly line: PenLine;
  /** Height of its middle above the lower edge in each bin along the wall, mm, shape (bins,). */
  readonly middlesMm: Float64Array;
  /** So far from its middle it still shows, mm. */
  readonly reachMm: Mm;
}

/** Light along the wall by height. */
export interface Slices {
  /** Log brightness, slice 0 at the lower edge, each shape (bins,). */
  readonly rows: readonly Float64Array[];
  readonly sliceMm: Mm;
  readonly stepMm: Mm;
}

/** Cells along the wall: a line runs on, so that noise is averaged before it is looked for. */
const CELL_MM = 0.5;
/** Lines are looked for in so many cells together. */
const SEARCH_CELLS = 2;
/** Brightness without the line is that of so much height above and below. */
const AROUND_MM = 4;
/** The first layer and the upper edge are no place to look. */
const EDGE_MM = 0.6;
/** The middle of a line is so far from both edges, or it may be one of them. */
const FROM_EDGE_MM = 1.2;
/** Nobody draws a mark more slanted than this. */
const MOST_SLANT_RAD = (6 * Math.PI) / 180;
/** Log brightness at which a cell counts as fully inked, and no more. */
const FULL_INK = 0.25;
/** Where a line is looked for, about where it should be: half the widest line and what a hand strays. */
const LOOK_MM = 1.8;
const NARROW_LOOK_MM = 1.4;
/** A hand strays no further from a straight line. */
const NEAR_MM = 0.6;
const WIDEST_MM = 2.6;
/** The least contrast of ink, in log brightness: a fifth. A layer that is darker than others may have this much more. */
const LEAST_CONTRAST = 0.2;
const LAYER_CONTRAST = 0.4;
const THINNEST_MM = 0.15;
const MOST_SCATTER_MM = 0.25;
/** The mean share of ink along a straight line, its sides counted against it, that is looked at more closely. */
const LEAST_SCORE = 0.2;
/** How far it stands out of what whole layers differ by, in their standard deviations. */
const OUT_OF_LAYERS = 5;
/** The least share of the wall that is inked, and from its one end to its other. */
const LEAST_INKED = 0.36;
const LEAST_SPAN = 0.5;
/** More lines than this are a pattern. */
const MOST_LINES = 4;
/** Log brightness that is too little to disturb ripples. */
const NO_TRACE = 0.01;
const LEAST_MARGIN_MM = 0.25;
const MOST_MARGIN_MM = 1.5;
/** A hand strays slowly: places this far apart are by themselves. */
const STRAY_MM = 10;

/**
 * Finds lines that were drawn along the wall by hand: dark or light, whole or broken, level or slanted.
 * @param slices - Log brightness of the face; not modified.
 * @returns The lines, the likeliest first.
 */
export function findPenLines(slices: Slices): readonly TracedLine[] {
  const field = fieldOf(slices);
  if (field === undefined) return [];
  const found: Candidate[] = [];
  for (let tries = 0; tries < 3 * MOST_LINES; tries += 1) {
    const start = boldest(field);
    if (start === undefined) break;
    const candidate = follow(field, start);
    if (candidate !== undefined) found.push(candidate);
    wipe(field, candidate ?? start);
  }
  const lines = found.filter(({ confidence }) => confidence > 0.5);
  if (lines.length > MOST_LINES) return [];
  return lines
    .sort((a, b) => b.confidence - a.confidence || b.contrast - a.contrast)
    .map((candidate) => traced(slices, field, candidate));
}

/** What stands out of the heights above and below. */
interface Field {
  /** By slice and cell; 0 at both edges. */
  readonly out: readonly Float64Array[];
  /** Scatter of each cell's column. */
  readonly noise: Float64Array;
  readonly sliceMm: Mm;
  readonly cellMm: Mm;
  readonly bins: number;
}

/** A straight line over the face: slice at the middle of the wall, slices for each cell. */
interface Straight {
  readonly at: number;
  readonly slope: number;
  readonly sign: 1 | -1;
}

interface Candidate extends Straight {
  /** Off the straight line in each cell, slices; smoothed. */
  readonly strays: Float64Array;
  readonly scatterMm: Mm;
  readonly heightSdMm: Mm;
  readonly widthMm: Mm;
  readonly reachMm: Mm;
  readonly contrast: number;
  readonly confidence: number;
}

function fieldOf({ rows, sliceMm, stepMm }: Slices): Field | undefined {
  const bins = rows[0]?.length ?? 0;
  const per = Math.max(1, Math.round(CELL_MM / stepMm));
  const cells = Math.floor(bins / per);
  const edge = Math.max(1, Math.round(EDGE_MM / sliceMm));
  const inner = rows.slice(edge, rows.length - edge);
  if (cells < 8 || inner.length * sliceMm < 2 * AROUND_MM) return undefined;
  const out = rows.map(() => new Float64Array(cells));
  const noise = new Float64Array(cells);
  const around = Math.round(AROUND_MM / sliceMm);
  for (let cell = 0; cell < cells; cell += 1) {
    const column = Float64Array.from(inner, (row) => {
      let sum = 0;
      for (let bin = cell * per; bin < (cell + 1) * per; bin += 1) sum += row[bin]!;
      return sum / per;
    });
    const smooth = runningMedian(column, around);
    const apart = column.map((value, k) => value - smooth[k]!);
    noise[cell] = MAD_TO_SD * median(apart.map(Math.abs));
    for (const [k, value] of apart.entries()) out[edge + k]![cell] = value;
  }
  return { out, noise, sliceMm, cellMm: per * stepMm, bins };
}

/** The straight line along which most stands out to one side. */
function boldest({ out, sliceMm, cellMm }: Field): Straight | undefined {
  const count = out.length;
  const cells = out[0]!.length;
  const groups = Math.floor(cells / SEARCH_CELLS);
  // By group of cells, then by slice: a group is passed along its heights.
  const inks = new Float32Array(groups * count);
  for (const [k, row] of out.entries()) {
    for (let cell = 0; cell < groups * SEARCH_CELLS; cell += 1) {
      const i = Math.floor(cell / SEARCH_CELLS) * count + k;
      inks[i] = inks[i]! + clamp(row[cell]! / FULL_INK, [-1, 1]) / SEARCH_CELLS / groups;
    }
  }
  const middle = (cells - 1) / 2;
  // Neighbouring slopes lie half a slice apart at the ends.
  const steepest = Math.floor(((Math.tan(MOST_SLANT_RAD) * cellMm) / sliceMm) * cells);
  const least = Math.ceil(FROM_EDGE_MM / sliceMm);
  const sums = new Float64Array(Math.max(0, count - 2 * least));
  let best: Straight | undefined;
  let most = LEAST_SCORE;
  for (let step = -steepest; step <= steepest; step += 1) {
    const slope = step / cells;
    sums.fill(0);
    for (let group = 0; group < groups; group += 1) {
      const shift = Math.round(slope * ((group + 0.5) * SEARCH_CELLS - 0.5 - middle)) + least;
      const start = group * count;
      const first = Math.max(0, -shift);
      const end = Math.min(sums.length, count - shift);
      for (let i = first; i < end; i += 1) sums[i] = sums[i]! + inks[start + shift + i]!;
    }
    // Whole layers may be brighter or darker than others: a line stands out of those too.
    const largest = sums.reduce((so, sum) => Math.max(so, Math.abs(sum)), 0);
    if (largest <= most || largest < OUT_OF_LAYERS * MAD_TO_SD * median(sums.map(Math.abs))) continue;
    most = largest;
    const at = sums.findIndex((sum) => Math.abs(sum) === largest);
    best = { at: at + least, slope, sign: sums[at]! > 0 ? 1 : -1 };
  }
  return best;
}

/** Follows the ink from cell to cell, fits a straight line to it, and asks whether it looks like one. */
function follow(field: Field, start: Straight): Candidate | undefined {
  const { out, sliceMm, cellMm } = field;
  const cells = out[0]!.length;
  const middle = (cells - 1) / 2;
  let line: Straight = start;
  let places = placesOf(field, line, LOOK_MM);
  for (let round = 0; round < 3; round += 1) {
    const fitted = robustLine(places, line, middle, NEAR_MM / sliceMm);
    if (fitted === undefined) return undefined;
    line = { ...line, ...fitted };
    places = placesOf(field, line, NARROW_LOOK_MM);
  }
  const offs = Array.from(places, (place, cell) => place - (line.at + line.slope * (cell - middle)));
  const inked = offs.flatMap((off, cell) => (Math.abs(off) * sliceMm <= NEAR_MM ? [cell] : []));
  const first = inked[0];
  const last = inked.at(-1);
  if (first === undefined || last === undefined) return undefined;
  const near = inked.map((cell) => offs[cell]!);
  const scatterMm = sliceMm * MAD_TO_SD * median(near.map(Math.abs));
  const strays = smoothed(offs, NEAR_MM / sliceMm);
  const profile = acrossLine(field, line, strays, inked);
  const looks: Looks = {
    ...profile,
    scatterMm,
    inked: inked.length / cells,
    span: (last - first + 1) / cells,
    likeLayer: Math.abs(line.slope) * cells < 0.5 && profile.widthMm < 1.6 * sliceMm,
  };
  // Each stretch of a hand's line is off by itself; a slice's own place in it is that of a rectangle.
  const apart = Math.max(1, (inked.length * cellMm) / STRAY_MM);
  const heightSdMm = combineSd(scatterMm / Math.sqrt(apart), (sliceMm / 2) * RECTANGULAR);
  return { ...line, ...profile, strays, scatterMm, heightSdMm, confidence: confidenceOf(looks) };
}

/** Where the ink's middle is in each cell, slices; NaN where there is none. */
function placesOf({ out, noise, sliceMm }: Field, { at, slope, sign }: Straight, lookMm: Mm): Float64Array {
  const middle = (noise.length - 1) / 2;
  const reach = Math.round(lookMm / sliceMm);
  const windows = Array.from(noise, (_, cell) => {
    const centre = Math.round(at + slope * (cell - middle));
    const first = clamp(centre - reach, [0, out.length - 1]);
    const end = clamp(centre + reach + 1, [1, out.length]);
    return { first, values: out.slice(first, end).map((row) => sign * row[cell]!) };
  });
  const peaks = windows.map(({ values }) => Math.max(0, ...values));
  const usual = percentile(peaks, 75);
  return Float64Array.from(windows, ({ first, values }, cell) => {
    const peak = peaks[cell]!;
    if (peak < Math.max(0.3 * usual, 3 * noise[cell]!, 0.3 * LEAST_CONTRAST)) return NaN;
    const floor = 0.4 * peak;
    let low = values.indexOf(peak);
    let high = low;
    while (low > 0 && values[low - 1]! > floor) low -= 1;
    while (high < values.length - 1 && values[high + 1]! > floor) high += 1;
    let weight = 0;
    let moment = 0;
    for (let k = low; k <= high; k += 1) {
      weight += values[k]! - floor;
      moment += (values[k]! - floor) * k;
    }
    return first + moment / weight;
  });
}

/** A straight line through the places, without those that lie far off; undefined where too few are left. */
function robustLine(
  places: Float64Array,
  { at, slope }: Straight,
  middle: number,
  near: number,
): Pick<Straight, 'at' | 'slope'> | undefined {
  let fit = { at, slope };
  for (let round = 0; round < 5; round += 1) {
    const offs = places.map((place, cell) => place - (fit.at + fit.slope * (cell - middle)));
    const known = offs.filter((off) => !Number.isNaN(off));
    if (known.length < 5) return undefined;
    const limit = Math.max(near / 2, 2.5 * MAD_TO_SD * median(known.map(Math.abs)));
    let [n, sx, sxx, sy, sxy] = [0, 0, 0, 0, 0];
    for (const [cell, off] of offs.entries()) {
      if (!(Math.abs(off) <= limit)) continue;
      const x = cell - middle;
      n += 1;
      sx += x;
      sxx += x * x;
      sy += off;
      sxy += x * off;
    }
    const det = n * sxx - sx * sx;
    if (n < 5 || det <= 0) return undefined;
    const turn = (n * sxy - sx * sy) / det;
    fit = { at: fit.at + (sy - turn * sx) / n, slope: fit.slope + turn };
  }
  return fit;
}

/** How the ink strays from its straight line, as a hand does: slowly, and no further than `most`. */
function smoothed(offs: readonly number[], most: number): Float64Array {
  let last = 0;
  const filled = Float64Array.from(offs, (off) => {
    if (Math.abs(off) <= most) last = off;
    return last;
  });
  return runningMedian(filled, 3);
}

/** The mean contrast across the line, followed where it runs. */
function acrossLine(
  { out, sliceMm }: Field,
  { at, slope, sign }: Straight,
  strays: Float64Array,
  inked: readonly number[],
): Pick<Candidate, 'widthMm' | 'reachMm' | 'contrast'> & { readonly besideShare: number } {
  const middle = (strays.length - 1) / 2;
  const stepMm = sliceMm / 2;
  const half = Math.ceil((WIDEST_MM + MOST_MARGIN_MM + 1) / stepMm);
  const mean = Float64Array.from({ length: 2 * half + 1 }, (_, i) => {
    let sum = 0;
    for (const cell of inked) {
      const k = at + slope * (cell - middle) + strays[cell]! + (i - half) / 2;
      const below = Math.floor(k);
      const share = k - below;
      const value = (row: number) => out[row]?.[cell] ?? 0;
      sum += (1 - share) * value(below) + share * value(below + 1);
    }
    return (sign * sum) / inked.length;
  });
  const contrast = Math.max(...mean.subarray(half - 2, half + 3));
  const walk = (step: 1 | -1, level: number): number => {
    let i = half;
    while (mean[i]! > level && i > 0 && i < mean.length - 1) i += step;
    const before = mean[i - step]!;
    return Math.max(0, Math.abs(i - half) - (level - mean[i]!) / Math.max(before - mean[i]!, 1e-9));
  };
  const widthMm = (walk(1, contrast / 2) + walk(-1, contrast / 2)) * stepMm;
  const trace = Math.max(walk(1, NO_TRACE), walk(-1, NO_TRACE)) * stepMm;
  const reachMm = clamp(trace, [widthMm / 2 + LEAST_MARGIN_MM, widthMm / 2 + MOST_MARGIN_MM]);
  const beside = (from: number) => {
    const part = mean.subarray(Math.max(0, from), from + Math.ceil(1 / stepMm));
    return part.reduce((sum, value) => sum + value, 0) / part.length;
  };
  const away = Math.ceil(reachMm / stepMm);
  const above = beside(half + away);
  const below = beside(half - away - Math.ceil(1 / stepMm));
  return { widthMm, reachMm, contrast, besideShare: Math.max(Math.abs(above), Math.abs(below)) / contrast };
}

/** What a line is judged by. */
interface Looks extends Pick<Candidate, 'contrast' | 'widthMm' | 'scatterMm'> {
  /** Share of the wall with ink, and from the first to the last of it. */
  readonly inked: number;
  readonly span: number;
  /** How far the face above or below differs from the heights around ÷ the contrast. */
  readonly besideShare: number;
  /** As straight, level and thick as a layer of the print. */
  readonly likeLayer: boolean;
}

/**
 * A line is as sure as the weakest of its signs: each is the logarithm of odds that are even at its limit and
 * change e-fold with its scale. Set by drawn faces of tuning seeds.
 */
function confidenceOf(looks: Looks): number {
  const { contrast, inked, span, widthMm, besideShare, scatterMm, likeLayer } = looks;
  const least = likeLayer ? LAYER_CONTRAST : LEAST_CONTRAST;
  const odds = Math.min(
    Math.log(contrast / least) / 0.15,
    (inked - LEAST_INKED) / 0.06,
    (span - LEAST_SPAN) / 0.06,
    (WIDEST_MM - widthMm) / 0.1,
    (widthMm - THINNEST_MM) / 0.02,
    (0.4 - besideShare) / 0.06,
    (MOST_SCATTER_MM - scatterMm) / 0.03,
  );
  return 1 / (1 + Math.exp(-odds));
}

/** Takes a line out of the field, so that the next one is found. */
function wipe({ out, sliceMm }: Field, line: Straight & Partial<Pick<Candidate, 'reachMm'>>): void {
  const reach = (line.reachMm ?? LOOK_MM) / sliceMm;
  const middle = (out[0]!.length - 1) / 2;
  for (const [k, row] of out.entries()) {
    for (let cell = 0; cell < row.length; cell += 1) {
      if (Math.abs(k - line.at - line.slope * (cell - middle)) <= reach + 1) row[cell] = 0;
    }
  }
}

function traced({ sliceMm, stepMm }: Slices, { cellMm, bins }: Field, candidate: Candidate): TracedLine {
  const { at, slope, sign, strays, heightSdMm, widthMm, confidence, reachMm } = candidate;
  const middle = (strays.length - 1) / 2;
  // Slice k has its middle at k + ½; the wall's middle lies where half the bins do.
  const heightAt = (cell: number) => (at + slope * (cell - middle) + 0.5) * sliceMm;
  const wallMiddle = (bins * stepMm) / 2 / cellMm - 0.5;
  return {
    line: {
      heightMm: heightAt(wallMiddle),
      heightSdMm,
      widthMm,
      slantRad: Math.atan((slope * sliceMm) / cellMm),
      ink: sign > 0 ? 'light' : 'dark',
      confidence,
    },
    middlesMm: Float64Array.from({ length: bins }, (_, bin) => {
      const cell = ((bin + 0.5) * stepMm) / cellMm - 0.5;
      return heightAt(cell) + strays[clamp(Math.round(cell), [0, strays.length - 1])]! * sliceMm;
    }),
    reachMm,
  };
}

/** Ripples are strongest within this much of the corner: heights with much ink there are left out as a whole. */
export const NEAR_CORNER_MM: Mm = 15;
/** The least share of that, from which on they are. */
const TOO_MUCH = 0.5;
/** Ink is painted over by the wall above and below it, over so much height. */
const PAINT_MM = 1;

/**
 * Paints over what lies under lines, by what the wall is like above and below at the same place.
 * @param slices - Log brightness of the face; not modified.
 * @param lines - The lines.
 * @param bothEnds - The wall rings from its far end as well.
 * @returns The slices, and for each 1 where it lies under a line near a corner that rings, 0 elsewhere.
 */
export function paintOver(
  { rows, sliceMm, stepMm }: Slices,
  lines: readonly TracedLine[],
  bothEnds: boolean,
): { readonly rows: readonly Float64Array[]; readonly spoilt: Uint8Array } {
  const spoilt = new Uint8Array(rows.length);
  if (lines.length === 0) return { rows, spoilt };
  const bins = rows[0]!.length;
  const near = Math.min(bins, Math.ceil(NEAR_CORNER_MM / stepMm));
  const inked = rows.map((_, k) =>
    Uint8Array.from({ length: bins }, (__, bin) => {
      const heightMm = (k + 0.5) * sliceMm;
      const under = lines.some(
        ({ middlesMm, reachMm }) => Math.abs(heightMm - middlesMm[bin]!) < reachMm + sliceMm / 2,
      );
      return under ? 1 : 0;
    }),
  );
  for (const [k, row] of inked.entries()) {
    const share = (part: Uint8Array) => part.reduce((sum, is) => sum + is, 0) / near;
    const most = Math.max(share(row.subarray(0, near)), bothEnds ? share(row.subarray(bins - near)) : 0);
    if (most > TOO_MUCH) spoilt[k] = 1;
  }
  const painted = rows.map((row) => row.slice());
  const around = Math.max(1, Math.round(PAINT_MM / sliceMm));
  for (let bin = 0; bin < bins; bin += 1) {
    for (let from = 0; from < rows.length; from += 1) {
      if (inked[from]![bin] === 0) continue;
      let end = from;
      while (end < rows.length && inked[end]![bin] === 1) end += 1;
      const clean = (first: number, step: 1 | -1) => {
        const values: number[] = [];
        for (let k = first; values.length < around && inked[k]?.[bin] === 0; k += step) {
          values.push(rows[k]![bin]!);
        }
        return values.length === 0
          ? undefined
          : values.reduce((sum, value) => sum + value, 0) / values.length;
      };
      const below = clean(from - 1, -1) ?? clean(end, 1);
      const above = clean(end, 1) ?? below;
      if (below === undefined || above === undefined) break;
      for (let k = from; k < end; k += 1) {
        const share = (k - from + 0.5) / (end - from);
        painted[k]![bin] = (1 - share) * below + share * above;
      }
      from = end;
    }
  }
  return { rows: painted, spoilt };
}
