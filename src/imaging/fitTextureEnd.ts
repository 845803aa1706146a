import type { CodeImage, PointPx } from '../core/image.js';
import { MAD_TO_SD, median } from '../signal/median.js';
import { BLUR_LIMITS_PX, LEAST_STEP, type Step } from './blurredSteps.js';
import { edgeOfSteps, LEAST_FITTED } from './edgeOfSteps.js';
import type { EdgeLine, EdgeSearch } from './edgeLine.js';
import { checkLine, lineAt, viewAlong, type View, type ViewLine } from './edgeView.js';
import { consensusLine, robustLine } from './lineThroughSteps.js';

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
  let fitted: ReturnType<typeof robustLine> | undefined;
  for (const reachPx of [search.reachPx, Math.min(search.reachPx, NEAR_PX)]) {
    steps = textureEnds(view, line, reachPx);
    if (steps.length < LEAST_FITTED) return undefined;
    fitted = robustLine(view, steps, consensusLine(view, steps, line));
    line = fitted.line;
  }
  const sigmaPx = median(steps.map((step) => step.sigmaPx));
  return fitted && edgeOfSteps(view, fitted, steps, { sigmaPx, from, to, blockPx: TEXTURE_BLOCK_PX });
}

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
