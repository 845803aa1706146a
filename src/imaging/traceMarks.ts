import type { CodeImage } from '../core/image.js';
import type { Px } from '../core/units.js';
import { lightReader, pointInStrip, type StripFrame } from './strip.js';

/** How marks lie across a strip. */
export interface TracedMarks {
  /** Where each mark begins and ends across the strip, px; shape (marks,). */
  readonly low: Float64Array;
  readonly high: Float64Array;
  /** By how much the mark that crosses the axis at x moves along for each px across. */
  readonly leanAt: (x: Px) => number;
}

/** Steps across the strip, in spacings, and no shorter than this many px. */
const STEP_SPACINGS = 0.25;
const LEAST_STEP_PX = 1;
/** Longest mark that is followed, in spacings: a centimetre's mark of a ruler in half millimetres is 20 or so long. */
const LONGEST_SPACINGS = 24;
/** A mark goes on while it has this share of the usual contrast, but for so many steps in a row. */
const LEAST_SHARE = 0.4;
const FADED_STEPS = 2;
/** By so many spacings from the axis, on one side, this share of the marks must have ended: where all begin. */
const DECIDED_SPACINGS = 10;
const LEAST_BEGUN = 0.85;
/** Of many marks, so many in the middle go first: layer lines come by the hundred, and these tell. */
const SCOUTS = 30;
/** The ground is looked up beside so many marks to both sides. */
const NEIGHBOURS = 4;
/** Printed or engraved marks differ from their ground by more than this share of it; layer lines by less. */
const LEAST_CONTRAST = 0.12;
/** The mark's own part of a spacing, and the gaps beside it, as distances from its middle, in spacings. */
const MARK_HALF = 0.14;
const GAP_FROM = 0.3;
/** Samples across a mark are no further apart than this, unless it takes more of them to each side. */
const MOST_SAMPLE_PX = 1;
const MOST_EACH = 16;
/** Spacings across which the direction of the marks is learnt: beyond them only long marks and figures are left. */
const LEARN_SPACINGS = 6;
/** The prior of the marks' lean: at right angles to the strip, give or take 0.3. */
const LEAN_SD = 0.3;

/**
 * Follows marks from where they cross a strip's axis to both of their ends. They lean as perspective has it: alike,
 * and changing evenly along the strip, which is learnt on the way.
 * @param codes - Grey codes, any strides; not modified.
 * @param lut - Linear light of each code.
 * @param frame - The strip's axes.
 * @param positions - Where the marks cross the axis, px along it, shape (n,), ascending or descending.
 * @param spacings - Distance of neighbouring marks at each of them, px > 0, shape (n,).
 * @param sign - 1 for dark marks on a bright ground, −1 for bright ones on a dark ground.
 * @returns Their ends and lean, or undefined when the marks hardly differ from their ground, or do so the other way, or
 * when they end anywhere, as layer lines and wood do.
 */
export function traceMarks(
  codes: CodeImage,
  lut: Float32Array,
  frame: StripFrame,
  positions: readonly number[],
  spacings: readonly number[],
  sign: 1 | -1,
): TracedMarks | undefined {
  if (positions.length > 2 * SCOUTS) {
    const from = Math.floor((positions.length - SCOUTS) / 2);
    const few = [positions, spacings].map((values) => values.slice(from, from + SCOUTS)) as [
      number[],
      number[],
    ];
    if (follow(codes, lut, frame, ...few, sign) === undefined) return undefined;
  }
  return follow(codes, lut, frame, positions, spacings, sign);
}

function follow(
  codes: CodeImage,
  lut: Float32Array,
  frame: StripFrame,
  positions: readonly number[],
  spacings: readonly number[],
  sign: 1 | -1,
): TracedMarks | undefined {
  const read = lightReader(codes, lut);
  const middle = positions.reduce((sum, x) => sum + x, 0) / positions.length;
  const span = Math.max(...positions) - Math.min(...positions);
  const spacing = spacings.reduce((sum, p) => sum + p, 0) / spacings.length;
  const step = Math.max(LEAST_STEP_PX, STEP_SPACINGS * spacing);
  const lean = leanLearner(span);
  const at = (k: number, s: Px): Sample => {
    const x = positions[k]! + s * lean.at(positions[k]! - middle);
    return sampleMark(read, frame, x, s, spacings[k]!, sign);
  };
  const atAxis = positions.map((_, k) => at(k, 0));
  const contrast = medianOf(atAxis.map(({ mark, ground }) => ground - mark));
  const ground = medianOf(atAxis.map((sample) => Math.abs(sample.ground)));
  if (!(contrast > LEAST_CONTRAST * ground)) return undefined;
  const most = Math.round((LONGEST_SPACINGS * spacing) / step);
  const learnt = Math.round((LEARN_SPACINGS * spacing) / step);
  // Both directions side by side, so that the lean is learnt from short levers first.
  const walk = (direction: 1 | -1): Walk => ({
    direction,
    end: new Float64Array(positions.length),
    faded: new Uint8Array(positions.length),
  });
  const walks = [walk(-1), walk(1)] as const;
  const samples: Sample[] = [];
  const decided = Math.round((DECIDED_SPACINGS * spacing) / step);
  for (let i = 1; i <= most; i += 1) {
    if (i === decided && !walks.some(({ faded }) => shareOf(faded) >= LEAST_BEGUN)) return undefined;
    for (const { direction, end, faded } of walks) {
      if (faded.every((steps) => steps >= FADED_STEPS)) continue;
      const s = direction * i * step;
      for (let k = 0; k < positions.length; k += 1) samples[k] = at(k, s);
      for (let k = 0; k < positions.length; k += 1) {
        if (faded[k]! >= FADED_STEPS) continue;
        const { mark, ground, shift } = samples[k]!;
        // Where a mark widens to an arrow or a figure stands close, the ground is that beside its neighbours.
        const goesOn =
          ground - mark >= LEAST_SHARE * contrast || groundNear(samples, k) - mark >= LEAST_SHARE * contrast;
        if (!goesOn) {
          faded[k] = faded[k]! + 1;
          continue;
        }
        faded[k] = 0;
        end[k] = s + (direction * step) / 2;
        if (i <= learnt) lean.learn(positions[k]! - middle, s, shift);
      }
    }
    lean.settle();
  }
  return { low: walks[0].end, high: walks[1].end, leanAt: (x) => lean.at(x - middle) };
}

/** The way to one end of all marks: where each was seen last, and for how many steps it has not been. */
interface Walk {
  readonly direction: 1 | -1;
  readonly end: Float64Array;
  readonly faded: Uint8Array;
}

function groundNear(samples: readonly Sample[], k: number): number {
  return medianOf(samples.slice(Math.max(0, k - NEIGHBOURS), k + NEIGHBOURS + 1).map(({ ground }) => ground));
}

function shareOf(faded: Uint8Array): number {
  return faded.filter((steps) => steps >= FADED_STEPS).length / faded.length;
}

interface Sample {
  /** Linear light of the mark and of the gaps beside it, times the sign. */
  readonly mark: number;
  readonly ground: number;
  /** How far the mark lies beside where it was expected, px. */
  readonly shift: number;
}

/** Room for the samples across one mark: used again and again. */
const across = new Float64Array(2 * MOST_EACH + 1);

function sampleMark(
  read: (x: Px, y: Px) => number,
  frame: StripFrame,
  x: Px,
  s: Px,
  spacing: Px,
  sign: 1 | -1,
): Sample {
  const each = Math.min(MOST_EACH, Math.max(2, Math.ceil(spacing / 4 / MOST_SAMPLE_PX) * 2));
  const apart = spacing / 2 / each;
  const [x0, y0] = pointInStrip(frame, x, s);
  let [gap, gaps, mark, marks, moment, mass] = [0, 0, 0, 0, 0, 0];
  for (let i = -each; i <= each; i += 1) {
    const value = sign * read(x0 + i * apart * frame.along[0], y0 + i * apart * frame.along[1]);
    across[i + each] = value;
    const off = Math.abs(i) / (2 * each);
    if (off <= MARK_HALF) {
      mark += value;
      marks += 1;
    } else if (off >= GAP_FROM) {
      gap += value;
      gaps += 1;
    }
  }
  const ground = gap / gaps;
  for (let i = -each; i <= each; i += 1) {
    const below = Math.max(0, ground - across[i + each]!);
    moment += below * i * apart;
    mass += below;
  }
  return { mark: mark / marks, ground, shift: mass > 0 ? moment / mass : 0 };
}

/** Lean of the marks, px along for each px across: a value in the middle, and its change along the strip. */
function leanLearner(span: Px): {
  at: (x: Px) => number;
  learn: (x: Px, s: Px, shift: Px) => void;
  settle: () => void;
} {
  const half = Math.max(1, span / 2);
  let [value, slope] = [0, 0];
  // Normal equations of shift = s (value + slope x / half), about what is already known.
  let [a, b, c, d, e] = [1 / LEAN_SD ** 2, 0, 1 / LEAN_SD ** 2, 0, 0];
  return {
    at: (x) => value + (slope * x) / half,
    learn: (x, s, shift) => {
      const t = x / half;
      const lean = shift + s * (value + slope * t);
      a += s * s;
      b += s * s * t;
      c += s * s * t * t;
      d += s * lean;
      e += s * t * lean;
    },
    settle: () => {
      const det = a * c - b * b;
      value = (c * d - b * e) / det;
      slope = (a * e - b * d) / det;
    },
  };
}

function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted[Math.floor(sorted.length / 2)]!;
}
