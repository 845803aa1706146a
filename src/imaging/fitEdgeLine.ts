import type { CodeImage, PointPx } from '../core/image.js';
import { median } from '../signal/median.js';
import { LEAST_STEP, stepsAlong, type Step } from './blurredSteps.js';
import type { EdgeLine, EdgeSearch } from './edgeLine.js';
import { edgeOfSteps, LEAST_FITTED } from './edgeOfSteps.js';
import { BLOCK_PX, checkLine, viewAlong } from './edgeView.js';
import { consensusLine, robustLine } from './lineThroughSteps.js';
import { roughLine } from './roughLine.js';

/** A photo's edge spreads by 0.6–1 px when it is sharp (common practice, no source). */
const FIRST_BLUR_PX = 0.9;

/**
 * What the blocks are asked in turn: every third one its spread, which costs the most and is the same all along,
 * and then where the line lies with it; of every block their places.
 */
const ROUNDS = [
  { every: 3, freeSigma: true },
  { every: 3, freeSigma: true },
  { every: 3, freeSigma: false },
  { every: 1, freeSigma: false },
] as const;

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
  let fitted: ReturnType<typeof robustLine> | undefined;
  // The spread is found first, in a window that grows with it, then the place in a window that fits it.
  for (const { every, freeSigma } of ROUNDS) {
    const found = stepsAlong(view, line, { sigmaPx, leastStep, freeSigma, every });
    if (found.length < LEAST_FITTED) return undefined;
    if (freeSigma) sigmaPx = median(found.map((step) => step.sigmaPx));
    steps = found;
    fitted = robustLine(view, steps, consensusLine(view, steps, line));
    line = fitted.line;
  }
  return fitted && edgeOfSteps(view, fitted, steps, { sigmaPx, from, to, blockPx: BLOCK_PX });
}
