import { combineSd, type Estimate, RECTANGULAR } from '../core/estimate.js';
import type { Mm } from '../core/units.js';
import { clamp } from '../core/vector.js';
import type { Face } from '../face/rectifyFace.js';
import type { PrintSettings } from '../print/settle.js';
import { MAD_TO_SD, median, percentile, runningMedian } from '../signal/median.js';
import { BAND_MM, type Profiles } from './makeProfiles.js';

/** A slot at one height. */
export interface SlotWidth {
  /** Middle of the band above the bed, mm. */
  readonly heightMm: Mm;
  /** Of the gap that shows; 0 where none does. */
  readonly widthMm: Estimate;
  /** Middle of the gap, mm from the leading corner; undefined where none shows. */
  readonly centreMm: Mm | undefined;
}

/** Where a slot closes, going along the height. */
export interface SlotClosing {
  readonly heightMm: Estimate;
  /** On which side of that height no gap shows. */
  readonly closed: 'below' | 'above';
}

/** A slot that shows. */
export interface SeenSlot {
  /** Middle of the gap, mm from the leading corner, and its usual width: medians over the heights where it is open. */
  readonly centreMm: Mm;
  readonly widthMm: Estimate;
  /** From the bottom up. */
  readonly heights: readonly SlotWidth[];
  /** Undefined where it is open, or closed, at heights without order, or everywhere. */
  readonly closing: SlotClosing | undefined;
}

/** A told slot as the face shows it. */
export interface Slot {
  /** Its middle as told, mm from the leading corner. */
  readonly toldMm: Mm;
  /** Undefined where no height shows a gap. */
  readonly seen: SeenSlot | undefined;
}

/** A gap is this much darker than the face beside it, as a share; ripples of the strongest light reach 0.31. */
const LEAST_DARKNESS = 0.35;
/** Share of the heights that must show a gap: fewer are a stain. */
const LEAST_OPEN = 0.2;
/** How far from its told edges a gap may lie, mm. */
const REACH_MM: Mm = 1.5;
/** The face beside it is looked at from here to there, mm behind its edges. */
const BESIDE_MM: { readonly from: Mm; readonly to: Mm } = { from: 0.4, to: 2 };
/** A gap less dark than this share of the usual one is filled by the blur; how well the usual darkness is known. */
const FILLED = 0.9;
const DARKNESS_SD = 0.1;
/** Rises of light are taken over twice this, and one counts that is this steep beside the steepest. */
const EDGE_HALF_MM: Mm = 0.12;
const STEEP = 0.4;
/** Light beside a gap that stands out by so much within this of its rise may be the slot's own flank, if it falls so steeply beside it. */
const SHINES = 1.1;
const FLANK_MM: Mm = 1;
const FLANK_FALLS = 0.5;
const CLOSE_MM: Mm = 0.6;
/** A line that tells where a gap ends no better than this says nothing. */
const MOST_UNSURE_MM: Mm = 3;
/** A gap of so many standard deviations of the blur is half as dark as a wide one; below it does not show. */
const HIDDEN = 1.35;
/** How well an edge of printed plastic is a line: drawn ones, under light from the side, are found to this. */
const EDGE_SD_MM: Mm = 0.04;
/** Heights on each side that a width is held against. */
const NEIGHBOURS = 2;
/** Open and closed heights may be exchanged in this share of all, and still count as closed on one side. */
const MOST_MIXED = 0.1;
/** A gap this much narrower than usual narrows towards where it closes; so many of them tell where its width is nothing. */
const NARROWING = { share: 0.85, least: 2, most: 8 } as const;

/**
 * Measures each told slot at the heights of the profiles: the gap between two edges, each where brightness rises most
 * steeply. A slot closes where the shaper's length times the speed is too long for it: then the motion rounds into the gap.
 * @param face - The flattened face.
 * @param settings - The print's settings: its slots.
 * @param profiles - Profiles of the face: their heights.
 * @returns One for each told slot, from the leading corner on.
 */
export function slotWidths(
  face: Face,
  settings: Pick<PrintSettings, 'slots'>,
  { bands }: Profiles,
): readonly Slot[] {
  const heightsMm = bands.map(({ heightMm }) => heightMm);
  return [...settings.slots]
    .sort((a, b) => a.centreFromLeadingCornerMm - b.centreFromLeadingCornerMm)
    .map(({ centreFromLeadingCornerMm: toldMm, widthMm }) => {
      const window = windowAt(face, toldMm, widthMm);
      const rows = heightsMm.map((heightMm) => lightAt(face, window, heightMm));
      return { toldMm, seen: seenSlot(window, rows, heightsMm) };
    });
}

/** Columns of the face around a slot. */
interface Window {
  /** First column, and the middle of it, mm from the leading corner. */
  readonly first: number;
  readonly fromMm: Mm;
  readonly count: number;
  readonly mmPerPx: number;
  /** Where the gap may be, as columns of the window. */
  readonly reach: readonly [number, number];
}

function windowAt(face: Face, toldMm: Mm, widthMm: Mm): Window {
  const columns = face.image.shape[1]!;
  const pxPerMm = face.imagePxPerMm.alongWall;
  const column = (mm: Mm) => Math.min(columns - 1, Math.max(0, Math.floor(mm * pxPerMm)));
  const half = widthMm / 2 + REACH_MM;
  const first = column(toldMm - half - BESIDE_MM.to);
  const last = column(toldMm + half + BESIDE_MM.to);
  return {
    first,
    fromMm: (first + 0.5) / pxPerMm,
    count: last - first + 1,
    mmPerPx: 1 / pxPerMm,
    reach: [column(toldMm - half) - first, column(toldMm + half) - first],
  };
}

/** Mean light of each column of a window over the rows of a band; undefined where the face has none there. */
function lightAt(face: Face, window: Window, heightMm: Mm): Float64Array | undefined {
  const [rows, columns] = face.image.shape as [number, number];
  const pxPerMm = face.imagePxPerMm.alongHeight;
  const rowAt = (mm: Mm) => rows - (mm - face.bottomMm) * pxPerMm;
  const top = Math.max(0, Math.round(rowAt(heightMm + BAND_MM / 2)));
  const bottom = Math.min(rows, Math.round(rowAt(heightMm - BAND_MM / 2)));
  if (bottom <= top) return undefined;
  const light = new Float64Array(window.count);
  for (let row = top; row < bottom; row += 1) {
    const start = row * columns + window.first;
    for (let i = 0; i < light.length; i += 1) light[i] = light[i]! + face.image.data[start + i]!;
  }
  return light.map((sum) => sum / (bottom - top));
}

function seenSlot(
  window: Window,
  rows: readonly (Float64Array | undefined)[],
  heightsMm: readonly Mm[],
): SeenSlot | undefined {
  const some = rows.flatMap((light) => (light === undefined ? [] : [relative(light)]));
  if (some.length === 0) return undefined;
  // What a fifth of the heights show at least, so that a slot that is mostly closed is seen as well.
  const dark = Float64Array.from({ length: window.count }, (_, i) =>
    percentile(
      some.map((light) => light[i]!),
      100 * LEAST_OPEN,
    ),
  );
  const gap = gapOf(window, dark);
  if (gap === undefined) return undefined;
  const found = rows.flatMap((light, i) =>
    light === undefined ? [] : [{ heightMm: heightsMm[i]!, gap: gapOf(window, light, gap) }],
  );
  const open = found.flatMap((one) => one.gap ?? []);
  if (open.length < LEAST_OPEN * found.length) return undefined;
  const widths = Float64Array.from(open, ({ widthMm }) => widthMm.value);
  const usual = median(widths);
  // What neighbouring heights differ by, and an edge that no height shows sharper than the bead is smooth.
  const smooth = runningMedian(widths, NEIGHBOURS);
  // So narrow a gap does not show: anything up to it is as likely (GUM 4.3.7).
  const unseenMm = (HIDDEN * median(open.map(({ blurMm }) => blurMm))) / Math.sqrt(3);
  const scatter = MAD_TO_SD * median(widths.map((width, i) => Math.abs(width - smooth[i]!)));
  const withScatter = ({ value, sd }: Estimate): Estimate => ({
    value,
    sd: combineSd(sd, scatter, Math.SQRT2 * EDGE_SD_MM),
  });
  const heights = found.map(({ heightMm, gap: own }): SlotWidth => ({
    heightMm,
    widthMm: withScatter(own?.widthMm ?? { value: 0, sd: unseenMm }),
    centreMm: own?.centreMm,
  }));
  return {
    centreMm: median(open.map(({ centreMm }) => centreMm)),
    widthMm: withScatter({ value: usual, sd: median(open.map(({ widthMm }) => widthMm.sd)) }),
    heights,
    closing: closingOf(heights, usual, median(open.map(({ blurMm }) => blurMm))),
  };
}

/** Light ÷ its median. */
function relative(light: Float64Array): Float64Array {
  const level = median(light);
  return level > 0 ? light.map((value) => value / level) : light;
}

function darkest({ reach }: Window, light: Float64Array): { readonly at: number; readonly light: number } {
  let at = reach[0];
  for (let i = reach[0]; i <= reach[1]; i += 1) if (light[i]! < light[at]!) at = i;
  return { at, light: light[at]! };
}

/** A gap in one profile. */
interface Gap {
  readonly centreMm: Mm;
  readonly widthMm: Estimate;
  /** How much darker it is than the face beside it, as a share. */
  readonly darkness: number;
  /** Its edges, as columns of the window. */
  readonly edges: readonly [number, number];
  /** How far the sharper one is spread, standard deviation of a Gaussian. */
  readonly blurMm: Mm;
}

/**
 * The gap around the darkest column within reach.
 * @param window - Where it may be.
 * @param light - Light of the window's columns.
 * @param usual - The gap of most heights, beside which the face is looked at; undefined: it is not known yet.
 */
function gapOf(window: Window, light: Float64Array, usual?: Gap): Gap | undefined {
  const { at } = darkest(window, light);
  const rough = usual?.edges ?? roughEdges(light, at);
  const [before, after] = [beside(window, light, rough[0], -1), beside(window, light, rough[1], 1)];
  if (before === undefined || after === undefined) return undefined;
  const level = (before.level + after.level) / 2;
  const own = 1 - light[at]! / level;
  const darkness = usual?.darkness ?? own;
  // The blur fills a narrow gap: at half its darkness it is 1.35 standard deviations of the blur wide.
  if (!(own > (usual === undefined ? LEAST_DARKNESS : darkness / 2))) return undefined;
  const [near, far] = [edgeOf(window, light, at, -1, before), edgeOf(window, light, at, 1, after)];
  if (near === undefined || far === undefined) return undefined;
  const edges = [near.column, far.column] as const;
  const byEdges = { value: far.column - near.column, sd: combineSd(near.sd, far.sd) };
  const width =
    own > FILLED * darkness ? byEdges : byArea(light, edges, [before.level, after.level], darkness);
  return {
    centreMm: window.fromMm + ((near.column + far.column) / 2) * window.mmPerPx,
    widthMm: { value: width.value * window.mmPerPx, sd: width.sd * window.mmPerPx },
    darkness,
    edges,
    // Slope in the middle of a step blurred by a Gaussian: its height ÷ (σ √2π).
    blurMm: ((level * darkness) / Math.max(near.slope, far.slope) / Math.sqrt(2 * Math.PI)) * window.mmPerPx,
  };
}

/** Where light rises above the middle between a column and the brightest around it. */
function roughEdges(light: Float64Array, at: number): readonly [number, number] {
  const level = (light[at]! + median(light)) / 2;
  let [near, far] = [at, at];
  while (near > 0 && light[near]! < level) near -= 1;
  while (far < light.length - 1 && light[far]! < level) far += 1;
  return [near, far];
}

/** Light of the face beside an edge: its median, and the noise from px to px. */
interface Beside {
  readonly level: number;
  readonly noise: number;
}

function beside(
  { mmPerPx }: Window,
  light: Float64Array,
  edge: number,
  direction: -1 | 1,
): Beside | undefined {
  const values: number[] = [];
  for (let off = BESIDE_MM.from; off <= BESIDE_MM.to; off += mmPerPx) {
    const value = light[Math.round(edge + (direction * off) / mmPerPx)];
    if (value !== undefined) values.push(value);
  }
  if (values.length < 3) return undefined;
  const steps = values.slice(1).map((value, i) => Math.abs(value - values[i]!));
  // A difference of two has √2 of the noise of one.
  return { level: median(values), noise: (MAD_TO_SD * median(steps)) / Math.SQRT2 };
}

/** An edge, in columns of the window. */
interface Edge {
  readonly column: number;
  readonly sd: number;
  /** How much lighter the next columns are than the ones before, for each column. */
  readonly slope: number;
}

/**
 * The edge of a gap: where light rises most steeply on the way out of it, which is the place of a blurred step whatever
 * the light on its two sides. The wall beside it may be in its own shade, where the corner is rounded: of several rises
 * the innermost counts. And the slot's own flank may be lit, and shine beside the gap: where light beyond the rise falls
 * as steeply again, the edge is there. A crest of ripples falls slowly.
 */
function edgeOf(
  { mmPerPx }: Window,
  light: Float64Array,
  at: number,
  direction: -1 | 1,
  { level, noise }: Beside,
): Edge | undefined {
  const half = Math.max(1, Math.round(EDGE_HALF_MM / mmPerPx));
  const rise = (off: number): number => {
    const [outer, inner] = [light[at + direction * (off + half)], light[at + direction * (off - half)]];
    return outer === undefined || inner === undefined ? -Infinity : outer - inner;
  };
  const fall = (off: number) => (rise(off) === -Infinity ? -Infinity : -rise(off));
  const most = Math.ceil((2 * REACH_MM + BESIDE_MM.to) / mmPerPx);
  const up = topOf(rise, [0, most], half, noise);
  if (up === undefined) return undefined;
  const first = Math.round(up.off);
  const last = first + Math.ceil(FLANK_MM / mmPerPx);
  let brightest = first;
  for (let off = first; off <= last; off += 1) {
    if ((light[at + direction * off] ?? 0) > (light[at + direction * brightest] ?? 0)) brightest = off;
  }
  const shines = (light[at + direction * brightest] ?? 0) > SHINES * level;
  const down = shines ? topOf(fall, [brightest, last], half, noise) : undefined;
  const slope = up.top / (2 * half);
  const place = (off: number) => at + direction * off;
  if (down === undefined) return { column: place(up.off), sd: up.sd, slope };
  if (down.top > FLANK_FALLS * up.top) return { column: place(down.off), sd: down.sd, slope };
  const apart = down.off - up.off;
  // Which of the two it is nobody can tell where they lie so close: anywhere between, JCGM 100:2008, 4.3.7.
  return apart * mmPerPx < CLOSE_MM
    ? { column: place(up.off + apart / 2), sd: combineSd(up.sd, RECTANGULAR * apart), slope }
    : { column: place(up.off), sd: up.sd, slope };
}

/** The innermost top of a function of the column that is nearly as high as its highest. */
function topOf(
  value: (off: number) => number,
  [from, to]: readonly [number, number],
  half: number,
  noise: number,
): { readonly off: number; readonly top: number; readonly sd: number } | undefined {
  let highest = 0;
  for (let off = from; off <= to; off += 1) highest = Math.max(highest, value(off));
  for (let off = from; off <= to; off += 1) {
    const middle = value(off);
    const around = Array.from({ length: 2 * half + 1 }, (_, k) => value(off + k - half));
    if (middle < STEEP * highest || around.some((one) => one > middle)) continue;
    const bend = 2 * middle - value(off - half) - value(off + half);
    if (!(bend > 0) || bend === Infinity) continue;
    // The centre of what stands above half its top; two differences of two px each make a parabola's noise.
    let [weight, moment] = [0, 0];
    for (let k = off; k >= off - 2 * half && value(k) > middle / 2; k -= 1) {
      weight += value(k) - middle / 2;
      moment += k * (value(k) - middle / 2);
    }
    for (let k = off + 1; k <= off + 4 * half && value(k) > middle / 2; k += 1) {
      weight += value(k) - middle / 2;
      moment += k * (value(k) - middle / 2);
    }
    return { off: moment / weight, top: middle, sd: (half * noise) / bend };
  }
  return undefined;
}

/** Width of a gap that the blur fills: what light is missing, which blur does not change, ÷ what a wide gap misses. */
function byArea(
  light: Float64Array,
  [near, far]: readonly [number, number],
  [before, after]: readonly [number, number],
  darkness: number,
): Estimate {
  const spread = far - near;
  const [first, last] = [
    Math.max(0, Math.round(near - spread)),
    Math.min(light.length - 1, Math.round(far + spread)),
  ];
  let area = 0;
  for (let i = first; i <= last; i += 1) {
    const share = (i - first) / Math.max(1, last - first);
    area += 1 - light[i]! / (before + share * (after - before));
  }
  const value = Math.max(0, area / darkness);
  return { value, sd: value * DARKNESS_SD };
}

/** Where the open heights end. */
function closingOf(heights: readonly SlotWidth[], usualMm: Mm, blurMm: Mm): SlotClosing | undefined {
  const isOpen = heights.map(({ centreMm }) => centreMm !== undefined);
  if (isOpen.every((open) => open)) return undefined;
  const splits = (['below', 'above'] as const).flatMap((closed) =>
    Array.from({ length: heights.length - 1 }, (_, k) => ({
      closed,
      first: k + 1,
      mixed: isOpen.filter((open, i) => open === (i <= k === (closed === 'below'))).length,
    })),
  );
  const best = splits.reduce((least, one) => (one.mixed < least.mixed ? one : least));
  if (best.mixed > MOST_MIXED * heights.length) return undefined;
  const { closed, first } = best;
  const [below, above] = [heights[first - 1]!.heightMm, heights[first]!.heightMm];
  const middle = (below + above) / 2;
  const outwards = closed === 'below' ? heights.slice(first) : heights.slice(0, first).reverse();
  const fitted = narrowing(outwards, usualMm);
  const line = fitted !== undefined && fitted.nothing.sd < MOST_UNSURE_MM ? fitted : undefined;
  // A gap that is too narrow for the blur does not show; without a line nobody knows over how many heights.
  const hiddenMm = line === undefined ? BAND_MM : Math.min(MOST_UNSURE_MM, (HIDDEN * blurMm) / line.slope);
  const out = closed === 'below' ? 1 : -1;
  const within = out * ((line?.nothing.value ?? middle) - middle);
  const heightMm = middle + out * clamp(within, [-hiddenMm - BAND_MM / 2, BAND_MM / 2]);
  // JCGM 100:2008, 4.3.7: anywhere between two heights, and as far into the closed ones as a gap may hide.
  const sd = combineSd(RECTANGULAR * (above - below), line?.nothing.sd ?? 0, hiddenMm / Math.sqrt(3));
  return { closed, heightMm: { value: heightMm, sd } };
}

/** Where the width of a gap that narrows is nothing, by a straight line, and by how much it widens for each mm outwards. */
function narrowing(
  outwards: readonly SlotWidth[],
  usualMm: Mm,
): { readonly nothing: Estimate; readonly slope: number } | undefined {
  const narrow: SlotWidth[] = [];
  for (const one of outwards.slice(0, NARROWING.most)) {
    if (one.centreMm === undefined) continue;
    if (one.widthMm.value > NARROWING.share * usualMm) break;
    narrow.push(one);
  }
  if (narrow.length < NARROWING.least) return undefined;
  const mean = (values: readonly number[]) => values.reduce((sum, x) => sum + x, 0) / values.length;
  const h = narrow.map(({ heightMm }) => heightMm);
  const w = narrow.map(({ widthMm }) => widthMm.value);
  const [hMean, wMean] = [mean(h), mean(w)];
  const squares = h.reduce((sum, x) => sum + (x - hMean) ** 2, 0);
  const slope = h.reduce((sum, x, i) => sum + (x - hMean) * (w[i]! - wMean), 0) / squares;
  if (!(Math.abs(slope) * BAND_MM > 0)) return undefined;
  const left = h.reduce((sum, x, i) => sum + (w[i]! - wMean - slope * (x - hMean)) ** 2, 0);
  const value = hMean - wMean / slope;
  const sigma = combineSd(
    Math.sqrt(left / Math.max(1, h.length - 2)),
    median(narrow.map(({ widthMm }) => widthMm.sd)),
  );
  const sd = (sigma / Math.abs(slope)) * Math.sqrt(1 / h.length + (value - hMean) ** 2 / squares);
  return { nothing: { value, sd }, slope: Math.abs(slope) };
}
