import { solveSymmetric } from '../signal/leastSquares.js';
import { MAD_TO_SD, median } from '../signal/median.js';
import type { Step } from './blurredSteps.js';
import { bendAt, type View, type ViewLine } from './edgeView.js';

/** Tukey's biweight at 95 % efficiency (Beaton & Tukey 1974; from memory). */
const TUKEY = 4.685;

/** Lines are tried through this many places of the first half and as many of the second. */
const TRIED_PLACES = 16;
/** How far a step may lie off the line that it agrees with, px, and as a share of the length: a lens bows edges. */
const CONSENSUS_PX = 0.7;
const CONSENSUS_OF_LENGTH = 0.0012;
/** Steps that are held against a line before it is asked whether it may still win. */
const AT_A_TIME = 16;

/**
 * The line through two of the steps, bent as it is, that most of the others agree with.
 * @param view - The view that they are in.
 * @param steps - At least two steps, in order of u.
 * @param start - Where the edge is about; its bends are kept.
 * @returns The line.
 */
export function consensusLine(view: View, steps: readonly Step[], start: ViewLine): ViewLine {
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
      // No step adds more than 1: most lines need not be followed to their ends.
      for (let i = 0; i < n && score + n - i > best;) {
        const end = Math.min(n, i + AT_A_TIME);
        for (; i < end; i += 1) {
          const off = (vs[i]! - v0 - slope * us[i]!) * perTolerance;
          if (off > -1 && off < 1) score += 1 - off * off;
        }
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
 * @param view - The view that they are in.
 * @param steps - The steps.
 * @param start - Where the edge is about.
 * @returns The line, and the weight of each step: 0 for those that were left out.
 */
export function robustLine(
  view: View,
  steps: readonly Step[],
  start: ViewLine,
): { readonly line: ViewLine; readonly weights: Float64Array } {
  const n = steps.length;
  const weights = new Float64Array(n);
  const away = new Float64Array(n);
  const rows = rowsOf(view, steps);
  let line = start;
  for (let round = 0; round < ROBUST_ROUNDS; round += 1) {
    for (let i = 0; i < n; i += 1) away[i] = Math.abs(rows.v[i]! - placeOn(line, rows, i));
    const scale = Math.max(0.01, MAD_TO_SD * median(away));
    for (let i = 0; i < n; i += 1) {
      const variance = scale * scale + steps[i]!.sdV ** 2 + courseVariance(view, line, rows, i);
      const t = (away[i]! * away[i]!) / (TUKEY * TUKEY * variance);
      if (round < 3) weights[i] = 1 / (variance * Math.max(0.3, away[i]! / scale));
      else weights[i] = t < 1 ? (1 - t) ** 2 / variance : 0;
    }
    line = weightedLine(view, rows, weights);
  }
  return { line, weights };
}

/** What the rounds ask of each step again and again: its place, and how far each bend goes there. */
interface Rows {
  readonly u: Float64Array;
  readonly v: Float64Array;
  readonly courses: readonly Float64Array[];
}

function rowsOf({ bends, u0 }: View, steps: readonly Step[]): Rows {
  return {
    u: Float64Array.from(steps, ({ u }) => u),
    v: Float64Array.from(steps, ({ v }) => v),
    courses: bends.map(({ course }) => Float64Array.from(steps, ({ u }) => course[Math.round(u) - u0]!)),
  };
}

/** As `lineAt`, at a step. */
function placeOn(line: ViewLine, { u, courses }: Rows, i: number): number {
  let bend = 0;
  for (let k = 0; k < courses.length; k += 1) bend += line.bends[k]! * courses[k]![i]!;
  return line.v0 + line.slope * u[i]! + bend;
}

function courseVariance({ bends }: View, line: ViewLine, { courses }: Rows, i: number): number {
  let sum = 0;
  for (let k = 0; k < courses.length; k += 1) {
    const { courseSd } = bends[k]!;
    if (courseSd > 0) sum += (courseSd * line.bends[k]! * courses[k]![i]!) ** 2;
  }
  return sum;
}

/** Rounds of reweighting after which lines move by less than a hundredth of a px. */
const ROBUST_ROUNDS = 8;

/** Least squares for line and bends; a bend that leaves its limits is held at them. */
function weightedLine({ u0, u1, bends }: View, rows: Rows, weights: Float64Array): ViewLine {
  const middle = (u0 + u1) / 2;
  const half = Math.max(1, (u1 - u0) / 2);
  const size = 2 + bends.length;
  // Normal equations of all columns; those of held bends then go to the other side.
  const matrix = new Float64Array(size * size);
  const rhs = new Float64Array(size);
  const row = new Float64Array(size);
  row[0] = 1;
  for (let i = 0; i < weights.length; i += 1) {
    const weight = weights[i]!;
    if (weight === 0) continue;
    const v = rows.v[i]!;
    row[1] = (rows.u[i]! - middle) / half;
    for (let k = 2; k < size; k += 1) row[k] = rows.courses[k - 2]![i]!;
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
