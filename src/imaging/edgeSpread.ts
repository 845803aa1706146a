import type { CodeImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { percentile } from '../signal/median.js';

/** Rows (or columns) that are averaged for one profile across edges: so few blur an edge at 45° by a px. */
const BAND_PX = 4;
/** Profiles each way, and pieces of each: the strongest edge of a piece is looked at. */
const PROFILES = 48;
const PIECES = 12;
/** Edges each way that are kept, the strongest first, and the fewest that tell anything. */
const MOST_EDGES = 40;
const LEAST_EDGES = 12;
/** A step of less light than this is none: that of a shadow, or of the noise. */
const LEAST_STEP = 0.01;
/** Scales at which the slope of an edge is taken, px of a photo of 12 megapixels, and in proportion above. */
const SCALES_PX = [2, 8] as const;
/** Longer side of a photo of 12 megapixels. */
export const USUAL_LONGEST_PX = 4000;
/** Places that are looked at first lie this far apart, in scales: so near a peak the slope is within 1 % of it. */
const LOOKED_AT = 0.25;
/** Half a kernel, in its standard deviations. */
const REACH = 3;
/** The place of an edge differs by so much between the two scales, of the finer one. */
const SAME_PLACE = 1;
/** Of the strongest edges so many percent are at least as sharp: the rest may lie out of focus. */
const SHARPEST_PERCENT = 20;

/**
 * How far the sharpest of a photo's strong edges spread: its blur, as the standard deviation of a Gaussian. Edges that
 * run across the photo and those that run up it are taken apart, since a shaken camera blurs only those of one kind.
 * @param codes - Grey codes, shape (rows, columns), any strides; not modified.
 * @param lut - Linear light of each code.
 * @returns The larger of the two, px, at least 0 (sharper than can be told); undefined where there are too few edges.
 * @see Zhuo & Sim, "Defocus map estimation from a single image", Pattern Recognition 44, 2011 (from memory): the slopes
 * of one edge at two scales a and b are as √(s² + b²) to √(s² + a²).
 */
export function edgeSpreadPx(codes: CodeImage, lut: Float32Array): Px | undefined {
  const longest = Math.max(codes.shape[0]!, codes.shape[1]!);
  const grown = Math.max(1, longest / USUAL_LONGEST_PX);
  const kernels = SCALES_PX.map((scale) => slopeKernel(grown * scale));
  const spreads = [0, 1].flatMap((axis) => {
    const edges = strongestEdges(codes, lut, axis, kernels);
    if (edges.length < LEAST_EDGES) return [];
    return [
      percentile(
        edges.map((edge) => spreadOf(edge, kernels)),
        SHARPEST_PERCENT,
      ),
    ];
  });
  return spreads.length === 0 ? undefined : Math.max(...spreads);
}

/** Spreads beyond so many times the coarser scale are not told apart: the slopes at both then differ by a few per cent. */
const WIDEST = 5;

/** Derivative of a Gaussian. */
interface Kernel {
  readonly scalePx: Px;
  /** Weights at −reach … reach. */
  readonly weights: Float64Array;
  readonly reach: number;
}

function slopeKernel(scalePx: Px): Kernel {
  const reach = Math.ceil(REACH * scalePx);
  const weights = Float64Array.from({ length: 2 * reach + 1 }, (_, i) => {
    const z = (i - reach) / scalePx;
    return (z * Math.exp((-z * z) / 2)) / (scalePx ** 2 * Math.sqrt(2 * Math.PI));
  });
  return { scalePx, weights, reach };
}

/** Slopes of one edge at the finer and the coarser scale. */
interface EdgeSlopes {
  readonly fine: number;
  readonly coarse: number;
}

/** Profiles run along an axis: 0 down the columns, 1 along the rows. */
function strongestEdges(
  codes: CodeImage,
  lut: Float32Array,
  axis: number,
  kernels: readonly Kernel[],
): readonly EdgeSlopes[] {
  const [fine, coarse] = [kernels[0]!, kernels[1]!];
  const across = codes.shape[1 - axis]!;
  const edges: EdgeSlopes[] = [];
  for (let k = 0; k < PROFILES; k += 1) {
    const start = Math.round(((k + 0.5) / PROFILES) * across - BAND_PX / 2);
    if (start < 0 || start + BAND_PX > across) continue;
    const profile = bandProfile(codes, lut, axis, start);
    const from = coarse.reach;
    const length = profile.length - 2 * from;
    for (let piece = 0; piece < PIECES; piece += 1) {
      const first = from + Math.round((piece / PIECES) * length);
      const last = from + Math.round(((piece + 1) / PIECES) * length);
      const edge = strongestIn(profile, first, last, fine, coarse);
      if (edge !== undefined) edges.push(edge);
    }
  }
  return edges.sort((a, b) => b.coarse - a.coarse).slice(0, MOST_EDGES);
}

/** Mean linear light of a band along an axis. */
function bandProfile(codes: CodeImage, lut: Float32Array, axis: number, start: number): Float64Array {
  const { data, offset } = codes;
  const [step, aside] = [codes.stride[axis]!, codes.stride[1 - axis]!];
  const profile = new Float64Array(codes.shape[axis]!);
  for (let i = 0; i < profile.length; i += 1) {
    let sum = 0;
    for (let k = 0; k < BAND_PX; k += 1) sum += lut[data[offset + i * step + (start + k) * aside]!]!;
    profile[i] = sum / BAND_PX;
  }
  return profile;
}

/** The steepest place at the coarser scale; undefined where nothing stands there. */
function strongestIn(
  profile: Float64Array,
  first: number,
  last: number,
  fine: Kernel,
  coarse: Kernel,
): EdgeSlopes | undefined {
  let [at, steepest] = [first, 0];
  const look = (i: number) => {
    const slope = Math.abs(slopeAt(profile, i, coarse));
    if (slope > steepest) [at, steepest] = [i, slope];
  };
  // The coarse slope goes slowly: between the places looked at it cannot hide a peak.
  const step = Math.max(1, Math.floor(LOOKED_AT * coarse.scalePx));
  for (let i = first; i < last; i += step) look(i);
  const around = at;
  for (let i = Math.max(first, around - step + 1); i < Math.min(last, around + step); i += 1) look(i);
  // A step of A has the slope A ÷ (√(2π) · scale) at least where it is not blurred by more than that.
  if (steepest * coarse.scalePx * Math.sqrt(2 * Math.PI) < LEAST_STEP) return undefined;
  const near = Math.ceil(SAME_PLACE * fine.scalePx);
  let fineSlope = 0;
  for (let i = at - near; i <= at + near; i += 1) {
    fineSlope = Math.max(fineSlope, Math.abs(slopeAt(profile, i, fine)));
  }
  return { fine: fineSlope, coarse: steepest };
}

function slopeAt(profile: Float64Array, at: number, { weights, reach }: Kernel): number {
  // Weights on both sides of the middle are opposite.
  let sum = 0;
  for (let k = 1; k <= reach; k += 1) sum += weights[reach + k]! * (profile[at + k]! - profile[at - k]!);
  return sum;
}

function spreadOf({ fine, coarse }: EdgeSlopes, kernels: readonly Kernel[]): Px {
  const [a, b] = [kernels[0]!.scalePx, kernels[1]!.scalePx];
  const squared = (fine / coarse) ** 2;
  // A thing whose slope is the same at both scales is a ramp, as wide as can be.
  const widestPx = WIDEST * b;
  if (squared <= 1) return widestPx;
  return Math.min(widestPx, Math.sqrt(Math.max(0, (b * b - squared * a * a) / (squared - 1))));
}
