import { BLOCK_PX, lineAt, type View, type ViewLine } from './edgeView.js';

/** Least difference of linear light that can be told from codes' rounding in the dark (half a code is 0.00015). */
export const LEAST_STEP = 0.002;
/** An edge is no sharper than a pixel's own width lets it be, and beyond the last it is no edge to fit. */
export const BLUR_LIMITS_PX = [0.35, 8] as const;
/** Window on both sides of the edge: spread on this many sigmas, and some px of either side. */
const WINDOW_SIGMAS = 2.2;
const WINDOW_MARGIN_PX = 1.8;
/** A step is there where it stands out of what remains beside it, standard errors. */
const LEAST_SIGNIFICANCE = 4;

/** A blurred step in one block of columns. */
export interface Step {
  readonly u: number;
  /** Its place across, in v. */
  readonly v: number;
  readonly sigmaPx: number;
  /** Standard uncertainty of v by the noise beside the step. */
  readonly sdV: number;
}

/**
 * Fits a blurred step in each block of columns along a line.
 * @param view - The picture along the edge; not modified.
 * @param line - Where the edge is about.
 * @param options - Its spread, px; the least step of linear light that counts; whether the spread is to be fitted;
 * of how many blocks one is looked at.
 * @returns The steps that stand out, in order of u.
 */
export function stepsAlong(
  view: View,
  line: ViewLine,
  options: {
    readonly sigmaPx: number;
    readonly leastStep: number;
    readonly freeSigma: boolean;
    readonly every: number;
  },
): Step[] {
  const blocks = Math.floor((view.u1 - view.u0 + 1) / BLOCK_PX);
  const steps: Step[] = [];
  for (let block = 0; block < blocks; block += options.every) {
    const step = fitStep(view, line, view.u0 + block * BLOCK_PX, options);
    if (step !== undefined) steps.push(step);
  }
  return steps;
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
  const total = totalOf(n);
  let x = 0;
  let sigmaPx = options.sigmaPx;
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    // With a and b solved for, what remains is one or two unknowns: columns 1, Φ, dΦ/dx, dΦ/dlogσ, and y.
    const sums = momentSums(n, x, sigmaPx, options.freeSigma);
    const fit = solveStep(sums, total, n, options.freeSigma);
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

/** Sums of products of 1, Φ, φ, zφ and y over a block's pixels, z = (d − x)/σ; those of zφ only where σ is free. */
interface Sums {
  readonly p: number;
  readonly q: number;
  readonly r: number;
  readonly pp: number;
  readonly pq: number;
  readonly pr: number;
  readonly py: number;
  readonly qq: number;
  readonly qr: number;
  readonly qy: number;
  readonly rr: number;
  readonly ry: number;
  readonly sigmaPx: number;
}

function momentSums(n: number, x: number, sigmaPx: number, freeSigma: boolean): Sums {
  let [p, q, r] = [0, 0, 0];
  let [pp, pq, pr, py, qq, qr, qy, rr, ry] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
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
    p += big;
    q += small;
    pp += big * big;
    pq += big * small;
    py += big * value;
    qq += small * small;
    qy += small * value;
    if (freeSigma) {
      const third = z * small;
      r += third;
      pr += big * third;
      qr += small * third;
      rr += third * third;
      ry += third * value;
    }
  }
  return { p, q, r, pp, pq, pr, py, qq, qr, qy, rr, ry, sigmaPx };
}

/** Sum of a block's values, and of their squares. */
interface Total {
  readonly y: number;
  readonly yy: number;
}

function totalOf(n: number): Total {
  let [y, yy] = [0, 0];
  for (let i = 0; i < n; i += 1) {
    y += values[i]!;
    yy += values[i]! * values[i]!;
  }
  return { y, yy };
}

/** One Gauss–Newton step in variable projection form: y ≈ a + b·Φ + c·φ + e·zφ, dx = −c σ/b, dlogσ = −e/b. */
function solveStep(
  s: Sums,
  { y, yy: ofSquares }: Total,
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
  const [pp, pq, pr, py] = [c(s.pp, s.p, s.p), c(s.pq, s.p, s.q), c(s.pr, s.p, s.r), c(s.py, s.p, y)];
  const [qq, qr, qy] = [c(s.qq, s.q, s.q), c(s.qr, s.q, s.r), c(s.qy, s.q, y)];
  const [rr, ry, yy] = [c(s.rr, s.r, s.r), c(s.ry, s.r, y), c(ofSquares, y, y)];
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
