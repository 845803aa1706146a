import type { CodeImage, PointPx } from '../core/image.js';
import { solveSymmetric } from '../signal/leastSquares.js';
import { MAD_TO_SD, median } from '../signal/median.js';

/** A straight edge of a shape in the photo, to a fraction of a pixel. */
export interface EdgeLine {
  /** Unit normal pointing out of the shape; n·p = offsetPx along the line. */
  readonly normal: readonly [number, number];
  readonly offsetPx: number;
  /** Sub-pixel edge points that the line rests on, photo px, in order along it; bends that were fitted are taken off. */
  readonly points: readonly PointPx[];
  /** Robust rms distance of the points from the line, px. */
  readonly residualPx: number;
  /** Standard uncertainty of the line's position in its middle, px; neighbouring points may err alike. */
  readonly sdPx: number;
  /** Median Gaussian width of the edge's spread, px: the blur. */
  readonly blurPx: number;
  /** Share of the places looked at where an edge was found, 0 to 1. */
  readonly support: number;
  /** Amplitude of each bend asked for, px outwards. */
  readonly bendsPx: readonly number[];
}

/** A way in which an edge may leave its straight line: amplitude · at(share), outwards. */
export interface EdgeBend {
  /** Its course, from share 0 at the edge's beginning to 1 at its end; of the order of 1. */
  readonly at: (share: number) => number;
  /** Least and largest amplitude, px outwards. Both equal: known. */
  readonly lowPx: number;
  readonly highPx: number;
  /** How well its course is known, as a share of the amplitude: where it bends much, places count less. None: exactly. */
  readonly courseSd?: number;
}

/** How an edge is looked for. */
export interface EdgeSearch {
  /** How far from the line given, to both sides, an edge may lie, px. */
  readonly reachPx: number;
  /** Least difference of linear light across the edge; smaller ones count as none. */
  readonly leastStep?: number;
  /** Ways in which the edge may bend; they are fitted with the line and then taken off its points. */
  readonly bends?: readonly EdgeBend[];
}

/** Columns (or rows) that are taken together for one edge point: each adds its noise, few bend. */
const BLOCK_PX = 6;
/** Least difference of linear light that can be told from codes' rounding in the dark (half a code is 0.00015). */
const LEAST_STEP = 0.002;
/** A photo's edge spreads by 0.6–1 px when it is sharp (common practice, no source). */
const FIRST_BLUR_PX = 0.9;
/** An edge is no sharper than a pixel's own width lets it be, and beyond the last it is no edge to fit. */
const BLUR_LIMITS_PX = [0.35, 8] as const;
/** Window on both sides of the edge: spread on this many sigmas, and some px of either side. */
const WINDOW_SIGMAS = 2.2;
const WINDOW_MARGIN_PX = 1.8;
/** A step is there where it stands out of what remains beside it, standard errors. */
const LEAST_SIGNIFICANCE = 4;
/** Tukey's biweight at 95 % efficiency (Beaton & Tukey 1974; from memory). */
const TUKEY = 4.685;
/** What the method itself may err by on a clean edge, px: the test's bound. */
const METHOD_SD_PX = 0.01;
/** Fewer blocks than this tell no line; of a third of them, fewer fitted ones. */
const LEAST_BLOCKS = 9;
const LEAST_FITTED = 3;

/**
 * Fits a straight edge at the photo's full resolution in linear light. First the line is found, within reach of the
 * one given, along which the brightness changes most; no part of it counts for much more than the rest. Then each few
 * columns (or rows, whichever the edge runs along) tell where a Gaussian-blurred step lies among their own pixels, so
 * that nothing is interpolated, and a line is fitted to those robustly.
 * @param codes - Grey codes, shape (rows, columns), any strides; not modified.
 * @param lut - Linear light of each code, shape (256,) or (65536,).
 * @param from - Where the edge begins, photo px; from → to runs clockwise round the shape, its inside on the right hand.
 * @param to - Where it ends.
 * @param search - How far to look, and for what.
 * @returns The edge, or undefined when there is none.
 * @throws {RangeError} When the two points are less than a block apart or the reach is not positive.
 * @see ISO 12233 for the slanted edge's blurred step among its own pixels; GUM (JCGM 100:2008) F.1.1.2 on
 * observations that are correlated.
 */
export function fitEdgeLine(
  codes: CodeImage,
  lut: Float32Array,
  from: PointPx,
  to: PointPx,
  search: EdgeSearch,
): EdgeLine | undefined {
  const { reachPx } = search;
  checkLine(from, to, reachPx);
  const view = viewAlong(codes, lut, { from, to, bends: search.bends ?? [] });
  const rough = roughLine(view, reachPx);
  if (rough === undefined) return undefined;
  const leastStep = search.leastStep ?? LEAST_STEP;
  let line = rough;
  let sigmaPx = FIRST_BLUR_PX;
  let steps: Step[] = [];
  // The spread is found first, in a window that grows with it, then the place in a window that fits it.
  for (const freeSigma of [true, true, false, false]) {
    const found = stepsAlong(view, line, { sigmaPx, leastStep, freeSigma });
    if (found.length < LEAST_FITTED) return undefined;
    if (freeSigma) sigmaPx = median(found.map((step) => step.sigmaPx));
    steps = found;
    line = robustLine(view, steps, consensusLine(view, steps, line)).line;
  }
  return edgeLineOf(view, line, steps, { sigmaPx, from, to, blockPx: BLOCK_PX });
}

function checkLine(from: PointPx, to: PointPx, reachPx: number): void {
  const lengthPx = Math.hypot(to[0] - from[0], to[1] - from[1]);
  if (!(reachPx > 0 && lengthPx > BLOCK_PX)) {
    throw new RangeError(`Expected a line and a reach but received ${lengthPx} px and ${reachPx} px.`);
  }
}

/**
 * Fits the edge of a shape of lines along it, such as layers, where it ends before an even ground that is about as
 * bright: there is no step then, but the outermost line ends. Looks from outside for the first thing that stands out of
 * the ground and takes its outer flank at half its height.
 * @param codes - Grey codes, shape (rows, columns), any strides; not modified.
 * @param lut - Linear light of each code.
 * @param from - Where the edge begins; from → to runs clockwise round the shape.
 * @param to - Where it ends.
 * @param search - How far to look; the line given should be right to some px.
 * @returns The edge, or undefined when there is none.
 * @throws {RangeError} When the two points are less than a block apart or the reach is not positive.
 */
export function fitTextureEnd(
  codes: CodeImage,
  lut: Float32Array,
  from: PointPx,
  to: PointPx,
  search: Pick<EdgeSearch, 'reachPx' | 'bends'>,
): EdgeLine | undefined {
  checkLine(from, to, search.reachPx);
  const view = viewAlong(codes, lut, { from, to, bends: search.bends ?? [] });
  let line = view.given;
  let steps: Step[] = [];
  for (const reachPx of [search.reachPx, Math.min(search.reachPx, NEAR_PX)]) {
    steps = textureEnds(view, line, reachPx);
    if (steps.length < LEAST_FITTED) return undefined;
    line = robustLine(view, steps, consensusLine(view, steps, line)).line;
  }
  const sigmaPx = median(steps.map((step) => step.sigmaPx));
  return edgeLineOf(view, line, steps, { sigmaPx, from, to, blockPx: TEXTURE_BLOCK_PX });
}

/**
 * Where two edges meet.
 * @param a - One line.
 * @param b - The other, not parallel to it.
 * @returns Their common point, px.
 * @throws {RangeError} When they are parallel.
 */
export function cornerOf(
  a: Pick<EdgeLine, 'normal' | 'offsetPx'>,
  b: Pick<EdgeLine, 'normal' | 'offsetPx'>,
): PointPx {
  const det = a.normal[0] * b.normal[1] - a.normal[1] * b.normal[0];
  if (Math.abs(det) < 1e-9) throw new RangeError('Expected two lines that meet but received parallel ones.');
  return [
    (a.offsetPx * b.normal[1] - b.offsetPx * a.normal[1]) / det,
    (b.offsetPx * a.normal[0] - a.offsetPx * b.normal[0]) / det,
  ];
}

/**
 * The picture read along u, the axis that the edge runs along, and v, the other; v(u) = v0 + slope·u is a line.
 * Pixel centres lie at whole numbers here.
 */
interface View {
  readonly data: Uint8Array | Uint16Array;
  readonly lut: Float32Array;
  readonly offset: number;
  readonly uStride: number;
  readonly vStride: number;
  readonly vCount: number;
  /** First and last column that is looked at. */
  readonly u0: number;
  readonly u1: number;
  readonly given: ViewLine;
  /** Whether u is the photo's x. */
  readonly alongX: boolean;
  /** Which way is out of the shape, along v. */
  readonly outwards: 1 | -1;
  readonly bends: readonly ViewBend[];
}

/** A bend along u: how far a unit of its amplitude goes in v, from column u0 on. */
interface ViewBend {
  readonly course: Float64Array;
  readonly low: number;
  readonly high: number;
  readonly courseSd: number;
}

interface ViewLine {
  readonly v0: number;
  readonly slope: number;
  /** Amplitude of each bend, px. */
  readonly bends: readonly number[];
}

function lineAt(view: View, line: ViewLine, u: number): number {
  return line.v0 + line.slope * u + bendAt(view, line, u);
}

function bendAt(view: View, line: ViewLine, u: number): number {
  let sum = 0;
  for (let k = 0; k < line.bends.length; k += 1) {
    sum += line.bends[k]! * view.bends[k]!.course[Math.round(u) - view.u0]!;
  }
  return sum;
}

/** A blurred step in one block of columns. */
interface Step {
  readonly u: number;
  /** Its place across, in v. */
  readonly v: number;
  readonly sigmaPx: number;
  /** Standard uncertainty of v by the noise beside the step. */
  readonly sdV: number;
}

function viewAlong(
  codes: CodeImage,
  lut: Float32Array,
  asked: { readonly from: PointPx; readonly to: PointPx; readonly bends: readonly EdgeBend[] },
): View {
  const { from, to, bends } = asked;
  const alongX = Math.abs(to[0] - from[0]) >= Math.abs(to[1] - from[1]);
  const [u, v] = alongX ? ([0, 1] as const) : ([1, 0] as const);
  // Shapes and strides come as rows first, points as columns first.
  const [uCount, vCount] = [codes.shape[1 - u]!, codes.shape[1 - v]!];
  const slope = (to[v] - from[v]) / (to[u] - from[u]);
  const u0 = Math.max(0, Math.ceil(Math.min(from[u], to[u]) - 0.5));
  const u1 = Math.min(uCount - 1, Math.floor(Math.max(from[u], to[u]) - 0.5));
  // One px outwards in v: along x the outside is up when the edge runs to the right; along y it is right when down.
  const outwards = to[u] > from[u] === alongX ? -1 : 1;
  return {
    data: codes.data,
    lut,
    offset: codes.offset,
    uStride: codes.stride[1 - u]!,
    vStride: codes.stride[1 - v]!,
    vCount,
    u0,
    u1,
    given: { slope, v0: from[v] - 0.5 - slope * (from[u] - 0.5), bends: bends.map(middleOf) },
    alongX,
    outwards,
    bends: bends.map(({ at, lowPx, highPx, courseSd = 0 }) => ({
      course: Float64Array.from(
        { length: Math.max(0, u1 - u0 + 1) },
        (_, i) => outwards * Math.hypot(1, slope) * at((u0 + i + 0.5 - from[u]) / (to[u] - from[u])),
      ),
      low: lowPx,
      high: highPx,
      courseSd,
    })),
  };
}

/** The amplitude that a bend has as long as nothing is known: the one nearest to none. */
function middleOf({ lowPx, highPx }: EdgeBend): number {
  return Math.min(highPx, Math.max(lowPx, 0));
}

/** Amplitudes of the first bend that are tried lie this far apart, px; the others are left to the fit. */
const BEND_STEP_PX = 2;
/** So many blocks along the edge are looked at for the rough line. */
const MOST_ROUGH_BLOCKS = 64;

/**
 * The line along which brightness changes most: profiles of blocks of columns, sheared along the line given,
 * differenced, and added up along every line that starts and ends within reach, with each amplitude of the first bend;
 * every second place first, as edges are wider than a px, then those around the best.
 */
function roughLine(view: View, reachPx: number): ViewLine | undefined {
  const { u0, u1, given } = view;
  const all = Math.floor((u1 - u0 + 1) / BLOCK_PX);
  if (all < LEAST_BLOCKS) return undefined;
  const every = Math.ceil(all / MOST_ROUGH_BLOCKS);
  const blocks = Math.floor((all - 1) / every) + 1;
  const cosine = 1 / Math.hypot(1, given.slope);
  const bend = view.bends[0];
  const bendReach = bend === undefined ? 0 : Math.max(Math.abs(bend.low), Math.abs(bend.high));
  const reach = Math.ceil(reachPx / cosine);
  const margin = Math.ceil(bendReach / cosine);
  const wide = 2 * (reach + margin) + 1;
  const strength = new Float32Array(blocks * wide);
  const peaks = new Float32Array(blocks);
  for (let block = 0; block < blocks; block += 1) {
    const out = strength.subarray(block * wide, (block + 1) * wide);
    peaks[block] = blockGradient(view, block * every, reach + margin, out);
  }
  // No block may outvote others: its say ends at half the median of all peaks.
  const cap = 0.5 * median(peaks);
  if (!(cap > 0)) return undefined;
  for (let i = 0; i < strength.length; i += 1) if (strength[i]! > cap) strength[i] = cap;
  const base = new Int32Array(blocks);
  const bendTo = (amplitude: number) => {
    for (let block = 0; block < blocks; block += 1) {
      const course = bend?.course[block * every * BLOCK_PX + (BLOCK_PX >> 1)] ?? 0;
      base[block] = block * wide + margin + Math.round(amplitude * course);
    }
  };
  const along = (start: number, end: number): number => {
    const step = (end - start) / (blocks - 1);
    let sum = 0;
    let at = start + reach + 0.5;
    for (let block = 0; block < blocks; block += 1) {
      sum += strength[base[block]! + (at | 0)]!;
      at += step;
    }
    // Of equals the one nearest to the line given.
    return sum - 1e-6 * cap * (Math.abs(start) + Math.abs(end));
  };
  let best = -1;
  let [start, end, bent] = [0, 0, 0];
  for (const amplitude of triedAmplitudes(bend)) {
    bendTo(amplitude);
    for (let a = -reach; a <= reach; a += 2) {
      for (let b = -reach; b <= reach; b += 2) {
        const sum = along(a, b);
        if (sum > best) [best, start, end, bent] = [sum, a, b, amplitude];
      }
    }
  }
  bendTo(bent);
  const [aroundStart, aroundEnd] = [start, end];
  for (let a = Math.max(-reach, aroundStart - 1); a <= Math.min(reach, aroundStart + 1); a += 1) {
    for (let b = Math.max(-reach, aroundEnd - 1); b <= Math.min(reach, aroundEnd + 1); b += 1) {
      const sum = along(a, b);
      if (sum > best) [best, start, end] = [sum, a, b];
    }
  }
  const span = (blocks - 1) * every * BLOCK_PX;
  const tilt = (end - start) / span;
  const middleOfFirst = u0 + (BLOCK_PX - 1) / 2;
  return {
    slope: given.slope + tilt,
    v0: given.v0 + start - tilt * middleOfFirst,
    bends: given.bends.map((one, k) => (k === 0 ? bent : one)),
  };
}

function triedAmplitudes(bend: ViewBend | undefined): number[] {
  if (bend === undefined) return [0];
  const count = 1 + Math.ceil((bend.high - bend.low) / BEND_STEP_PX);
  const step = (bend.high - bend.low) / Math.max(1, count - 1);
  // From the amplitude nearest to none on, so that equals bend least.
  return Array.from({ length: count }, (_, i) => bend.low + i * step).sort(
    (a, b) => Math.abs(a) - Math.abs(b),
  );
}

/** |Difference| across at each place of one block's mean profile; returns the largest. */
function blockGradient(view: View, block: number, reach: number, out: Float32Array): number {
  const { data, lut, offset, uStride, vStride, vCount, given } = view;
  const sums = new Float64Array(out.length + 2);
  for (let k = 0; k < BLOCK_PX; k += 1) {
    const u = view.u0 + block * BLOCK_PX + k;
    const first = Math.round(given.v0 + given.slope * u) - reach - 1;
    for (let i = 0; i < sums.length; i += 1) {
      const v = Math.min(vCount - 1, Math.max(0, first + i));
      sums[i] = sums[i]! + lut[data[offset + u * uStride + v * vStride]!]!;
    }
  }
  let peak = 0;
  for (let i = 0; i < out.length; i += 1) {
    const value = Math.abs(sums[i + 2]! - sums[i]!);
    out[i] = value;
    if (value > peak) peak = value;
  }
  return peak;
}

/** Fits a blurred step in each block of columns along a line. */
function stepsAlong(
  view: View,
  line: ViewLine,
  options: { readonly sigmaPx: number; readonly leastStep: number; readonly freeSigma: boolean },
): Step[] {
  const blocks = Math.floor((view.u1 - view.u0 + 1) / BLOCK_PX);
  const steps: Step[] = [];
  // The spread is asked of every third block: it costs the most and is the same all along.
  for (let block = 0; block < blocks; block += options.freeSigma ? 3 : 1) {
    const step = fitStep(view, line, view.u0 + block * BLOCK_PX, options);
    if (step !== undefined) steps.push(step);
  }
  return steps;
}

/** Columns that are taken together where a texture ends: noise would pass for texture otherwise. */
const TEXTURE_BLOCK_PX = 30;
/** Once the line is about found, nothing further off is looked at. */
const NEAR_PX = 4;
/** Px of even ground that are looked at outside, and of texture inside. */
const GROUND_PX = 8;
const TEXTURE_PX = 12;
/** Texture stands out of the ground by this many of its standard deviations, and by this share of what it has inside. */
const OUT_OF_GROUND = 5;
const OF_TEXTURE = 0.3;

/** The outer end of the texture in each block of columns along a line. */
function textureEnds(view: View, line: ViewLine, reachPx: number): Step[] {
  const { data, lut, offset, uStride, vStride, vCount, outwards } = view;
  const reach = Math.ceil(reachPx);
  const count = TEXTURE_PX + 2 * reach + GROUND_PX;
  const steps: Step[] = [];
  for (let first = view.u0; first + TEXTURE_BLOCK_PX - 1 <= view.u1; first += TEXTURE_BLOCK_PX) {
    const u = first + (TEXTURE_BLOCK_PX - 1) / 2;
    const middle = lineAt(view, line, u);
    const start = Math.round(middle);
    // From outside in, each place the mean along the line.
    const profile = new Float64Array(count);
    let isIn = true;
    for (let k = 0; k < TEXTURE_BLOCK_PX && isIn; k += 1) {
      const shift = Math.round(lineAt(view, line, first + k) - middle);
      for (let i = 0; i < count; i += 1) {
        const v = start + shift + outwards * (GROUND_PX + reach - i);
        if (v < 0 || v >= vCount) {
          isIn = false;
          break;
        }
        profile[i] =
          profile[i]! + lut[data[offset + (first + k) * uStride + v * vStride]!]! / TEXTURE_BLOCK_PX;
      }
    }
    const end = isIn ? outerFlank(profile) : undefined;
    if (end === undefined) continue;
    const v = start + outwards * (GROUND_PX + reach - end.at);
    if (Math.abs(v - middle) <= reach) steps.push({ u, v, sigmaPx: end.sigmaPx, sdV: 0.1 });
  }
  return steps;
}

/** Where a profile, from even ground on, first rises or falls for good: its flank at half height, and its width. */
function outerFlank(profile: Float64Array): { readonly at: number; readonly sigmaPx: number } | undefined {
  const ground = profile.subarray(0, GROUND_PX);
  const level = median(ground);
  const noise = MAD_TO_SD * median(ground.map((value) => Math.abs(value - level)));
  const off = profile.map((value) => Math.abs(value - level));
  const inside = off.subarray(profile.length - TEXTURE_PX).reduce((most, value) => Math.max(most, value), 0);
  const least = Math.max(OUT_OF_GROUND * noise, OF_TEXTURE * inside, LEAST_STEP);
  let peak = off.findIndex((value) => value > least);
  if (peak < 1) return undefined;
  while (peak + 1 < off.length && off[peak + 1]! > off[peak]!) peak += 1;
  const crossing = (share: number): number => {
    let i = peak;
    while (i > 0 && off[i]! > share * off[peak]!) i -= 1;
    return i + (share * off[peak]! - off[i]!) / Math.max(1e-12, off[i + 1]! - off[i]!);
  };
  // A Gaussian edge takes 1.349 sigmas from a quarter to three quarters of its height.
  return {
    at: crossing(0.5),
    sigmaPx: Math.max(BLUR_LIMITS_PX[0], (crossing(0.75) - crossing(0.25)) / 1.349),
  };
}

/** Room for the pixels of one block: used again and again, a block at a time. */
const distances = new Float64Array(BLOCK_PX * 80);
const values = new Float64Array(BLOCK_PX * 80);

/**
 * The step a + b·Φ((d − x)/σ) that fits one block's pixels, d being their distance from the line.
 * Gauss–Newton on x, a, b and, where asked for, log σ.
 */
function fitStep(
  view: View,
  line: ViewLine,
  firstU: number,
  options: { readonly sigmaPx: number; readonly leastStep: number; readonly freeSigma: boolean },
): Step | undefined {
  const cosine = 1 / Math.hypot(1, line.slope);
  const windowPx = Math.min(25, WINDOW_SIGMAS * options.sigmaPx + WINDOW_MARGIN_PX);
  const n = gather(view, line, firstU, { cosine, windowPx });
  if (n < 4 * BLOCK_PX) return undefined;
  const fitted = newtonStep(n, windowPx, options);
  if (fitted === undefined) return undefined;
  const { x, sigmaPx, sdX, step, sdStep } = fitted;
  const isStep = Math.abs(step) > options.leastStep && Math.abs(step) > LEAST_SIGNIFICANCE * sdStep;
  if (!isStep || Math.abs(x) > 0.75 * windowPx) return undefined;
  const u = firstU + (BLOCK_PX - 1) / 2;
  return { u, v: lineAt(view, line, u) + x / cosine, sigmaPx, sdV: sdX / cosine };
}

/** Reads a block's pixels near the line into `distances` and `values`; returns their number, 0 at the border. */
function gather(
  view: View,
  line: ViewLine,
  firstU: number,
  { cosine, windowPx }: { readonly cosine: number; readonly windowPx: number },
): number {
  const { data, lut, offset, uStride, vStride, vCount } = view;
  const half = windowPx / cosine;
  let n = 0;
  for (let u = firstU; u < firstU + BLOCK_PX; u += 1) {
    const middle = lineAt(view, line, u);
    const first = Math.ceil(middle - half);
    const last = Math.floor(middle + half);
    if (first < 0 || last >= vCount) return 0;
    let at = offset + u * uStride + first * vStride;
    for (let v = first; v <= last; v += 1, at += vStride) {
      distances[n] = (v - middle) * cosine;
      values[n] = lut[data[at]!]!;
      n += 1;
    }
  }
  return n;
}

interface FittedStep {
  readonly x: number;
  readonly sdX: number;
  readonly sigmaPx: number;
  readonly step: number;
  readonly sdStep: number;
}

const MOST_ROUNDS = 12;
const SETTLED_PX = 2e-3;

function newtonStep(
  n: number,
  windowPx: number,
  options: { readonly sigmaPx: number; readonly freeSigma: boolean },
): FittedStep | undefined {
  let x = 0;
  let sigmaPx = options.sigmaPx;
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    // With a and b solved for, what remains is one or two unknowns: columns 1, Φ, dΦ/dx, dΦ/dlogσ, and y.
    const sums = momentSums(n, x, sigmaPx);
    const fit = solveStep(sums, n, options.freeSigma);
    if (fit === undefined) return undefined;
    // A step of more than a sigma leaves where the series holds.
    const dx = Math.max(-sigmaPx, Math.min(sigmaPx, fit.dx));
    x += dx;
    if (options.freeSigma) {
      sigmaPx *= Math.exp(Math.max(-0.5, Math.min(0.5, fit.dLogSigma)));
      sigmaPx = Math.min(BLUR_LIMITS_PX[1], Math.max(BLUR_LIMITS_PX[0], sigmaPx));
    }
    if (Math.abs(x) > windowPx) return undefined;
    const settled =
      Math.abs(dx) < SETTLED_PX && (!options.freeSigma || Math.abs(fit.dLogSigma) < 0.02 || round > 5);
    if (settled) return { x, sigmaPx, sdX: fit.sdX, step: fit.step, sdStep: fit.sdStep };
  }
  return undefined;
}

/** Sums of products of 1, Φ, φ, zφ and y over a block's pixels, z = (d − x)/σ. */
interface Sums {
  readonly p: number;
  readonly q: number;
  readonly r: number;
  readonly y: number;
  readonly pp: number;
  readonly pq: number;
  readonly pr: number;
  readonly py: number;
  readonly qq: number;
  readonly qr: number;
  readonly qy: number;
  readonly rr: number;
  readonly ry: number;
  readonly yy: number;
  readonly sigmaPx: number;
}

function momentSums(n: number, x: number, sigmaPx: number): Sums {
  let [p, q, r, y] = [0, 0, 0, 0];
  let [pp, pq, pr, py, qq, qr, qy, rr, ry, yy] = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0];
  const perSigma = 1 / sigmaPx;
  for (let i = 0; i < n; i += 1) {
    const z = (distances[i]! - x) * perSigma;
    const value = values[i]!;
    let [big, small] = [z > 0 ? 1 : 0, 0];
    if (z > -NORMAL_END && z < NORMAL_END) {
      const at = (z + NORMAL_END) * NORMAL_PER_UNIT;
      const below = at | 0;
      const part = at - below;
      big = cumulative[below]! + part * (cumulative[below + 1]! - cumulative[below]!);
      small = density[below]! + part * (density[below + 1]! - density[below]!);
    }
    const third = z * small;
    p += big;
    q += small;
    r += third;
    y += value;
    pp += big * big;
    pq += big * small;
    pr += big * third;
    py += big * value;
    qq += small * small;
    qr += small * third;
    qy += small * value;
    rr += third * third;
    ry += third * value;
    yy += value * value;
  }
  return { p, q, r, y, pp, pq, pr, py, qq, qr, qy, rr, ry, yy, sigmaPx };
}

/** One Gauss–Newton step in variable projection form: y ≈ a + b·Φ + c·φ + e·zφ, dx = −c σ/b, dlogσ = −e/b. */
function solveStep(
  s: Sums,
  n: number,
  freeSigma: boolean,
):
  | {
      readonly dx: number;
      readonly dLogSigma: number;
      readonly sdX: number;
      readonly step: number;
      readonly sdStep: number;
    }
  | undefined {
  // The constant is projected out of the others.
  const c = (product: number, a: number, b: number) => product - (a * b) / n;
  const [pp, pq, pr, py] = [c(s.pp, s.p, s.p), c(s.pq, s.p, s.q), c(s.pr, s.p, s.r), c(s.py, s.p, s.y)];
  const [qq, qr, qy] = [c(s.qq, s.q, s.q), c(s.qr, s.q, s.r), c(s.qy, s.q, s.y)];
  const [rr, ry, yy] = [c(s.rr, s.r, s.r), c(s.ry, s.r, s.y), c(s.yy, s.y, s.y)];
  if (!(pp > 1e-9)) return undefined;
  // Then Φ out of the derivatives, and the second derivative out of the first.
  const qq1 = qq - (pq * pq) / pp;
  const qr1 = qr - (pq * pr) / pp;
  const qy1 = qy - (pq * py) / pp;
  const rr1 = rr - (pr * pr) / pp;
  const ry1 = ry - (pr * py) / pp;
  const det = freeSigma ? qq1 * rr1 - qr1 * qr1 : qq1;
  if (!(det > 1e-12)) return undefined;
  const q = freeSigma ? (qy1 * rr1 - ry1 * qr1) / det : qy1 / det;
  const r = freeSigma ? (ry1 * qq1 - qy1 * qr1) / det : 0;
  const step = (py - q * pq - r * pr) / pp;
  if (step === 0) return undefined;
  const unknowns = freeSigma ? 4 : 3;
  const misfit = Math.max(0, yy - step * py - q * qy - r * ry);
  const noise = misfit / Math.max(1, n - unknowns);
  const qVariance = freeSigma ? (noise * rr1) / det : noise / det;
  return {
    dx: (-q * s.sigmaPx) / step,
    dLogSigma: -r / step,
    sdX: (Math.sqrt(qVariance) * s.sigmaPx) / Math.abs(step),
    step,
    sdStep: Math.sqrt(noise / pp + qVariance * (pq / pp) ** 2),
  };
}

/** The normal distribution and its density in steps fine enough to interpolate linearly to 1e-5. */
const NORMAL_END = 5;
const NORMAL_PER_UNIT = 64;
const density = Float64Array.from({ length: 2 * NORMAL_END * NORMAL_PER_UNIT + 2 }, (_, i) => {
  const z = i / NORMAL_PER_UNIT - NORMAL_END;
  return Math.exp(-(z * z) / 2) / Math.sqrt(2 * Math.PI);
});
const cumulative = density.slice();
cumulative[0] = 0;
for (let i = 1; i < cumulative.length; i += 1) {
  cumulative[i] = cumulative[i - 1]! + (density[i - 1]! + density[i]!) / 2 / NORMAL_PER_UNIT;
}

/** Lines are tried through this many places of the first half and as many of the second. */
const TRIED_PLACES = 16;
/** How far a step may lie off the line that it agrees with, px, and as a share of the length: a lens bows edges. */
const CONSENSUS_PX = 0.7;
const CONSENSUS_OF_LENGTH = 0.0012;

/** The line through two of the steps, bent as it is, that most of the others agree with. */
function consensusLine(view: View, steps: readonly Step[], start: ViewLine): ViewLine {
  const n = steps.length;
  const us = Float64Array.from(steps, ({ u }) => u);
  const vs = Float64Array.from(steps, ({ u, v }) => v - bendAt(view, start, u));
  const length = us[n - 1]! - us[0]!;
  const tolerance = Math.max(CONSENSUS_PX, CONSENSUS_OF_LENGTH * length);
  const perTolerance = 1 / tolerance;
  let line = start;
  let best = -1;
  const half = n >> 1;
  const every = Math.max(1, half / TRIED_PLACES);
  for (let a = 0; a < half; a += every) {
    const one = a | 0;
    for (let b = half; b < n; b += every) {
      const other = b | 0;
      const slope = (vs[other]! - vs[one]!) / (us[other]! - us[one]!);
      const v0 = vs[one]! - slope * us[one]!;
      let score = 0;
      for (let i = 0; i < n; i += 1) {
        const off = (vs[i]! - v0 - slope * us[i]!) * perTolerance;
        if (off > -1 && off < 1) score += 1 - off * off;
      }
      if (score > best) {
        best = score;
        line = { ...start, slope, v0 };
      }
    }
  }
  return line;
}

/**
 * Line and bends through the steps: some rounds by least absolute distances find the bulk of them, then Tukey's
 * biweight with the noise of each counts.
 */
function robustLine(
  view: View,
  steps: readonly Step[],
  start: ViewLine,
): { readonly line: ViewLine; readonly weights: Float64Array } {
  const n = steps.length;
  const weights = new Float64Array(n);
  const away = new Float64Array(n);
  let line = start;
  for (let round = 0; round < ROBUST_ROUNDS; round += 1) {
    for (let i = 0; i < n; i += 1) away[i] = Math.abs(steps[i]!.v - lineAt(view, line, steps[i]!.u));
    const scale = Math.max(0.01, MAD_TO_SD * median(away));
    for (let i = 0; i < n; i += 1) {
      const variance = scale * scale + steps[i]!.sdV ** 2 + courseVariance(view, line, steps[i]!.u);
      const t = (away[i]! * away[i]!) / (TUKEY * TUKEY * variance);
      if (round < 3) weights[i] = 1 / (variance * Math.max(0.3, away[i]! / scale));
      else weights[i] = t < 1 ? (1 - t) ** 2 / variance : 0;
    }
    line = weightedLine(view, steps, weights);
  }
  return { line, weights };
}

function courseVariance(view: View, line: ViewLine, u: number): number {
  let sum = 0;
  for (let k = 0; k < line.bends.length; k += 1) {
    const { course, courseSd } = view.bends[k]!;
    if (courseSd > 0) sum += (courseSd * line.bends[k]! * course[Math.round(u) - view.u0]!) ** 2;
  }
  return sum;
}

/** Rounds of reweighting after which lines move by less than a hundredth of a px. */
const ROBUST_ROUNDS = 8;

/** Least squares for line and bends; a bend that leaves its limits is held at them. */
function weightedLine(view: View, steps: readonly Step[], weights: Float64Array): ViewLine {
  const { u0, u1, bends } = view;
  const middle = (u0 + u1) / 2;
  const half = Math.max(1, (u1 - u0) / 2);
  const size = 2 + bends.length;
  // Normal equations of all columns; those of held bends then go to the other side.
  const matrix = new Float64Array(size * size);
  const rhs = new Float64Array(size);
  const row = new Float64Array(size);
  row[0] = 1;
  for (let i = 0; i < steps.length; i += 1) {
    const weight = weights[i]!;
    if (weight === 0) continue;
    const { u, v } = steps[i]!;
    row[1] = (u - middle) / half;
    for (let k = 2; k < size; k += 1) row[k] = bends[k - 2]!.course[Math.round(u) - u0]!;
    for (let j = 0; j < size; j += 1) {
      rhs[j] = rhs[j]! + weight * row[j]! * v;
      for (let k = 0; k <= j; k += 1)
        matrix[j * size + k] = matrix[j * size + k]! + weight * row[j]! * row[k]!;
    }
  }
  for (let j = 0; j < size; j += 1) {
    for (let k = 0; k < j; k += 1) matrix[k * size + j] = matrix[j * size + k]!;
  }
  const held = bends.map(({ low, high }) => (low === high ? low : undefined));
  for (;;) {
    const solution = solveHolding(matrix, rhs, held);
    if (solution === undefined) {
      // What cannot be told apart from the line is left at none.
      const k = held.indexOf(undefined);
      held[k] = Math.min(bends[k]!.high, Math.max(bends[k]!.low, 0));
      continue;
    }
    const amplitudes = bends.map((_, k) => held[k] ?? solution[2 + k]!);
    const out = amplitudes.findIndex((px, k) => px < bends[k]!.low || px > bends[k]!.high);
    if (out < 0) {
      const slope = solution[1]! / half;
      return { v0: solution[0]! - slope * middle, slope, bends: amplitudes };
    }
    held[out] = Math.min(bends[out]!.high, Math.max(bends[out]!.low, amplitudes[out]!));
  }
}

/** Solves normal equations with some of the last unknowns held; undefined when bends cannot be told apart. */
function solveHolding(
  matrix: Float64Array,
  rhs: Float64Array,
  held: readonly (number | undefined)[],
): Float64Array | undefined {
  const size = rhs.length;
  const free = [0, 1, ...held.flatMap((value, k) => (value === undefined ? [k + 2] : []))];
  const small = new Float64Array(free.length * free.length);
  const right = new Float64Array(free.length);
  for (const [i, j] of free.entries()) {
    let sum = rhs[j]!;
    for (const [k, value] of held.entries())
      if (value !== undefined) sum -= matrix[j * size + k + 2]! * value;
    right[i] = sum;
    for (const [l, m] of free.entries()) small[i * free.length + l] = matrix[j * size + m]!;
  }
  const found = solveSymmetric(small, right);
  if (found === undefined) return free.length === 2 ? Float64Array.of(right[0]! / small[0]!, 0) : undefined;
  const solution = new Float64Array(size);
  for (const [i, j] of free.entries()) solution[j] = found[i]!;
  return solution;
}

function edgeLineOf(
  view: View,
  found: ViewLine,
  steps: readonly Step[],
  seen: { readonly sigmaPx: number; readonly from: PointPx; readonly to: PointPx; readonly blockPx: number },
): EdgeLine | undefined {
  const { line, weights } = robustLine(view, steps, found);
  const kept = steps.filter((_, i) => weights[i]! > 0);
  if (kept.length < LEAST_FITTED) return undefined;
  const cosine = 1 / Math.hypot(1, line.slope);
  const residuals = Float64Array.from(kept, ({ u, v }) => (v - lineAt(view, line, u)) * cosine);
  const residualPx = Math.sqrt(residuals.reduce((sum, r) => sum + r * r, 0) / kept.length);
  const points = kept.map(({ u, v }): PointPx => {
    const straight = v - bendAt(view, line, u) + 0.5;
    return view.alongX ? [u + 0.5, straight] : [straight, u + 0.5];
  });
  const [u, v] = view.alongX ? ([0, 1] as const) : ([1, 0] as const);
  const backwards = seen.to[u] < seen.from[u];
  if (backwards) points.reverse();
  const direction: [number, number] = [0, 0];
  direction[u] = (backwards ? -1 : 1) * cosine;
  direction[v] = direction[u] * line.slope;
  const normal = [direction[1], -direction[0]] as const;
  const onLine: [number, number] = [0, 0];
  onLine[u] = 0.5;
  onLine[v] = line.v0 + 0.5;
  return {
    normal,
    offsetPx: normal[0] * onLine[0] + normal[1] * onLine[1],
    points,
    residualPx,
    sdPx: Math.hypot(METHOD_SD_PX, sdOfMean(residuals)),
    blurPx: seen.sigmaPx,
    support: kept.length / Math.floor((view.u1 - view.u0 + 1) / seen.blockPx),
    bendsPx: line.bends,
  };
}

/**
 * Standard uncertainty of the mean of values whose neighbours are alike.
 * @see Newey & West, "A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance
 * matrix", Econometrica 55(3), 1987 (from memory): triangular weights over lags.
 */
function sdOfMean(residuals: Float64Array): number {
  const n = residuals.length;
  const lags = Math.min(n - 1, Math.ceil(1.5 * Math.sqrt(n)));
  let sum = 0;
  for (let lag = 0; lag <= lags; lag += 1) {
    let product = 0;
    for (let i = lag; i < n; i += 1) product += residuals[i]! * residuals[i - lag]!;
    sum += (lag === 0 ? 1 : 2) * (1 - lag / (lags + 1)) * product;
  }
  // Two unknowns were fitted, and what is alike over the lags' width hides as many more.
  return Math.sqrt(Math.max(sum, 0) / n / Math.max(1, n - 2 - lags));
}
