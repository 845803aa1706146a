import { jackknifeBlocks, jackknifeSd } from '../signal/jackknife.js';
import { combineColumns, invertSymmetric, normalMatrix } from '../signal/leastSquares.js';
import type { LayerStripes } from './layerStripes.js';

/**
 * How layer lines run over a face. Their phase, in layers, is that of a constant pitch and a smooth surface over the
 * face: corners that are a little off tilt and stretch it, a lens bends it.
 */
export interface FollowedLayers {
  /** Layers for each row of the image, where the surface is flat. */
  readonly layersPerRow: number;
  /** Coefficients of the surface, layers; its terms are those of `SURFACE`. */
  readonly surface: readonly number[];
  /** Amplitude of the lines ÷ brightness. */
  readonly contrast: number;
  /** The same in the thirds of the height, from the top, and in those of the width, from the left; 0 where there is none. */
  readonly contrastByRegion: readonly (readonly number[])[];
  /** Length of the sum of all phasors ÷ sum of their lengths, 0 to 1, along the height and across it. */
  readonly coherence: { readonly alongHeight: number; readonly across: number };
  /** Layers from the top edge to the bottom edge, in the middle of the width. */
  readonly count: { readonly value: number; readonly sd: number };
  /** Standard uncertainty of the phase at the bottom edge, layers. */
  readonly bottomSd: number;
}

/** Where the two cubic terms stand in the surface. A homography has none of them to the first order; a lens has both. */
export const CUBIC_TERMS = { bowUpTheFace: 6, unevenSpacing: 7 } as const;

/** u across the face and v down it, each −1 to 1: what a homography does to the first order, and a lens adds. */
type Term = (u: number, v: number) => number;
const SURFACE: readonly Term[] = [
  () => 1,
  (u) => u,
  (_, v) => v,
  (u) => u * u,
  (u, v) => u * v,
  (_, v) => v * v,
  (u, v) => u * u * v,
  (_, v) => v * v * v,
];
/**
 * The surface nearest to a function over the face.
 * @param height - The function of u and v.
 * @returns Coefficients of `FollowedLayers`, by least squares on an even grid.
 */
export function surfaceOf(height: (u: number, v: number) => number): readonly number[] {
  const STEPS = 9;
  const places = Array.from({ length: STEPS }, (_, k) => (2 * k) / (STEPS - 1) - 1);
  const grid = places.flatMap((u) => places.map((v) => [u, v] as const));
  const columns = SURFACE.map((term) => Float64Array.from(grid, ([u, v]) => term(u, v)));
  const solved = combineColumns(
    columns,
    Float64Array.from(grid, ([u, v]) => height(u, v)),
  );
  return SURFACE.map((_, k) => solved?.[k] ?? 0);
}

/** Terms of v alone. */
const DOWN: readonly Term[] = [() => 1, (_, v) => v, (_, v) => v * v, (_, v) => v * v * v];

/** The height is looked at in blocks of about so many layers, each overlapping half of the next. */
const LAYERS_PER_BLOCK = 20;
const BLOCKS = { least: 8, most: 48 } as const;
/** The fit begins in the middle of the face and grows: reach as a standard deviation, −1 to 1 being the face. */
const REACHES = [0.35, 0.7, Infinity, Infinity, Infinity] as const;
/** Hann windows that overlap by half share a sixth of their power: variances grow by 1 + 2/6 (Welch 1967; from memory). */
const OVERLAP = 4 / 3;

/**
 * Follows layer lines over the face by their phase.
 * @param stripes - Stripes of the face.
 * @param layersPerRow - About how many layers a row is, from the spectrum.
 * @returns How the lines run, or undefined where the face has too few stripes or layers to say.
 */
export function followLayers(stripes: LayerStripes, layersPerRow: number): FollowedLayers | undefined {
  const { rows, places } = stripes;
  const blocks = Math.round((2 * rows * layersPerRow) / LAYERS_PER_BLOCK);
  const count = Math.min(BLOCKS.most, Math.max(BLOCKS.least, blocks));
  if (places.length < 4 || rows * layersPerRow < 2 * BLOCKS.least) return undefined;
  const cells = cellsOf(stripes, layersPerRow, count);
  const surface = refine(cells, startOf(cells, places.length, count));
  if (surface === undefined) return undefined;
  const flat = cells.map((cell) => turned(cell, heightOf(surface, cell.u, cell.v)));
  const down = sumsOver(flat, count, (i) => i % count);
  const across = sumsOver(flat, places.length, (i) => Math.floor(i / count));
  const whole = flat.reduce((sum, { re }) => sum + re, 0);
  const ends = uncertaintyOfEnds(down);
  return {
    layersPerRow,
    surface,
    contrast: (2 * whole) / flat.length,
    contrastByRegion: contrastByRegion(flat, places.length, count),
    coherence: { alongHeight: coherenceOf(down), across: coherenceOf(across) },
    count: {
      value: rows * layersPerRow + heightOf(surface, 0, 1) - heightOf(surface, 0, -1),
      sd: ends.countSd,
    },
    bottomSd: ends.bottomSd,
  };
}

/**
 * The surface's height at a place.
 * @param surface - Coefficients of `FollowedLayers`.
 * @param u - Across the face, −1 at the left edge to 1 at the right one.
 * @param v - Down the face, −1 at the top edge to 1 at the bottom one.
 * @returns Layers.
 */
export function heightOf(surface: readonly number[], u: number, v: number): number {
  return surface.reduce((sum, coefficient, k) => sum + coefficient * (SURFACE[k]?.(u, v) ?? 0), 0);
}

interface Phasor {
  readonly re: number;
  readonly im: number;
}

/** The lines of one block of one stripe, against a constant pitch. */
interface Cell extends Phasor {
  readonly u: number;
  readonly v: number;
}

/** All blocks of the first stripe, then of the next. A phasor's length is half the lines' amplitude. */
function cellsOf(
  { rows, places, values }: LayerStripes,
  layersPerRow: number,
  count: number,
): readonly Cell[] {
  const hop = rows / (count + 1);
  const cosine = new Float64Array(rows);
  const sine = new Float64Array(rows);
  for (let row = 0; row < rows; row += 1) {
    cosine[row] = Math.cos(2 * Math.PI * layersPerRow * (row + 0.5));
    sine[row] = -Math.sin(2 * Math.PI * layersPerRow * (row + 0.5));
  }
  const windows = Array.from({ length: count }, (_, block) => {
    const first = Math.ceil(block * hop);
    const last = Math.min(rows, Math.floor((block + 2) * hop));
    const weights = Float64Array.from({ length: last - first }, (__, i) => {
      const place = (first + i + 0.5 - block * hop) / (2 * hop);
      return Math.sin(Math.PI * place) ** 2;
    });
    const sum = weights.reduce((total, weight) => total + weight, 0);
    return { first, weights: weights.map((weight) => weight / sum) };
  });
  return values.flatMap((stripe, k) =>
    windows.map(({ first, weights }, block): Cell => {
      let [re, im] = [0, 0];
      for (let i = 0; i < weights.length; i += 1) {
        const value = (weights[i] ?? 0) * (stripe[first + i] ?? 0);
        re += value * (cosine[first + i] ?? 0);
        im += value * (sine[first + i] ?? 0);
      }
      return { re, im, u: places[k] ?? 0, v: (2 * (block + 1) * hop) / rows - 1 };
    }),
  );
}

/**
 * A first surface from the steps of phase between neighbours, which need no unwrapping: they are its slopes, linear
 * in u and v.
 */
function startOf(cells: readonly Cell[], stripes: number, count: number): readonly number[] {
  const across: Step[] = [];
  const down: Step[] = [];
  for (let k = 0; k < stripes; k += 1) {
    for (let block = 0; block < count; block += 1) {
      const here = cells[k * count + block];
      const right = cells[(k + 1) * count + block];
      const below = block + 1 < count ? cells[k * count + block + 1] : undefined;
      if (here !== undefined && right !== undefined) across.push(stepBetween(here, right, right.u - here.u));
      if (here !== undefined && below !== undefined) down.push(stepBetween(here, below, below.v - here.v));
    }
  }
  const slopes = [...unwound(across), ...unwound(down)];
  const split = across.length;
  // Slopes of c1 u + c2 v + c3 u² + c4 uv + c5 v², by u and by v.
  const column = (byU: (step: Step) => number, byV: (step: Step) => number) =>
    Float64Array.from(slopes, ({ step, weight }, i) => weight * (i < split ? byU(step) : byV(step)));
  const solved = combineColumns(
    [
      column(
        () => 1,
        () => 0,
      ),
      column(
        () => 0,
        () => 1,
      ),
      column(
        ({ u }) => 2 * u,
        () => 0,
      ),
      column(
        ({ v }) => v,
        ({ u }) => u,
      ),
      column(
        () => 0,
        ({ v }) => 2 * v,
      ),
    ],
    Float64Array.from(slopes, ({ slope, weight }) => weight * slope),
  );
  const slope = solved ?? new Float64Array(5);
  return [0, ...slope, 0, 0];
}

/** Thirds of the face; there are at least four stripes and eight blocks. */
function contrastByRegion(
  flat: readonly Phasor[],
  stripes: number,
  count: number,
): readonly (readonly number[])[] {
  const thirdOf = (k: number, whole: number) => Math.floor((3 * k) / whole);
  return [0, 1, 2].map((down) =>
    [0, 1, 2].map((across) => {
      const own = flat.filter(
        (_, i) => thirdOf(i % count, count) === down && thirdOf(Math.floor(i / count), stripes) === across,
      );
      return Math.max(0, (2 * sumOf(own).re) / own.length);
    }),
  );
}

/** The product of a phasor with its neighbour's conjugate, halfway between the two. */
interface Step extends Cell {
  readonly apart: number;
}

function stepBetween(a: Cell, b: Cell, apart: number): Step {
  return {
    re: b.re * a.re + b.im * a.im,
    im: b.im * a.re - b.re * a.im,
    u: (a.u + b.u) / 2,
    v: (a.v + b.v) / 2,
    apart,
  };
}

/** Layers for each unit of u or v at each step, about the mean of all of them, with weights of their square roots. */
function unwound(
  steps: readonly Step[],
): readonly { readonly step: Step; readonly slope: number; readonly weight: number }[] {
  const mean = phaseOf({
    re: steps.reduce((sum, { re }) => sum + re, 0),
    im: steps.reduce((sum, { im }) => sum + im, 0),
  });
  return steps.map((step) => ({
    step,
    slope: (mean + phaseOf(turned(step, mean))) / step.apart,
    weight: Math.sqrt(Math.hypot(step.re, step.im)) * step.apart,
  }));
}

/** Least squares of the phases that are left, from the middle of the face outwards. */
function refine(cells: readonly Cell[], start: readonly number[]): readonly number[] | undefined {
  let surface = start;
  for (const reach of REACHES) {
    const shared = sumOf(
      cells.map((cell) => nearMiddle(turned(cell, heightOf(surface, cell.u, cell.v)), cell, reach)),
    );
    const base = phaseOf(shared);
    surface = [(surface[0] ?? 0) + base, ...surface.slice(1)];
    const left = cells.map((cell) =>
      nearMiddle(turned(cell, heightOf(surface, cell.u, cell.v)), cell, reach),
    );
    const weights = left.map(({ re, im }) => Math.hypot(re, im));
    const change = combineColumns(
      SURFACE.map((term) => Float64Array.from(cells, ({ u, v }, i) => (weights[i] ?? 0) * term(u, v))),
      Float64Array.from(left, (one, i) => (weights[i] ?? 0) * phaseOf(one)),
    );
    if (change === undefined) return undefined;
    surface = surface.map((value, k) => value + (change[k] ?? 0));
  }
  return surface;
}

function nearMiddle({ re, im }: Phasor, { u, v }: Cell, reach: number): Phasor {
  const weight = Math.exp(-(u * u + v * v) / (2 * reach * reach));
  return { re: weight * re, im: weight * im };
}

/**
 * Uncertainty of the surface's ends, by what the blocks' phases leave of a cubic, and by a jackknife: neighbouring
 * blocks err alike where something lies over the lines.
 */
function uncertaintyOfEnds(blocks: readonly Phasor[]): {
  readonly countSd: number;
  readonly bottomSd: number;
} {
  const count = blocks.length;
  const v = blocks.map((_, block) => (2 * (block + 1)) / (count + 1) - 1);
  const columns = DOWN.map((term) => Float64Array.from(v, (at) => term(0, at)));
  const phases = Float64Array.from(blocks, phaseOf);
  const fit = combineColumns(columns, phases);
  const inverse = invertSymmetric(normalMatrix(columns), DOWN.length);
  if (fit === undefined || inverse === undefined) return { countSd: Infinity, bottomSd: Infinity };
  const left = phases.map((phase, i) =>
    columns.reduce((rest, column, k) => rest - (fit[k] ?? 0) * (column[i] ?? 0), phase),
  );
  const variance = (OVERLAP * left.reduce((sum, value) => sum + value * value, 0)) / (count - DOWN.length);
  const without = jackknifeBlocks(count).map(([from, to]) => {
    const kept = (values: Float64Array) => values.filter((_, i) => i < from || i >= to);
    return combineColumns(columns.map(kept), kept(phases));
  });
  const sdOf = (gradient: readonly number[]) => {
    const spread = gradient.reduce(
      (sum, a, i) =>
        sum + gradient.reduce((inner, b, j) => inner + a * b * (inverse[i * DOWN.length + j] ?? 0), 0),
      0,
    );
    const values = without.map((one) => gradient.reduce((sum, a, i) => sum + a * (one?.[i] ?? Infinity), 0));
    return Math.max(Math.sqrt(variance * spread), jackknifeSd(values));
  };
  // The count is twice the odd terms; at the bottom all count.
  return { countSd: sdOf([0, 2, 0, 2]), bottomSd: sdOf([1, 1, 1, 1]) };
}

/** Phase in turns, −½ to ½. */
function phaseOf({ re, im }: Phasor): number {
  return Math.atan2(im, re) / (2 * Math.PI);
}

/** A phasor turned back by so many turns. */
function turned({ re, im }: Phasor, turns: number): Phasor {
  const [cosine, sine] = [Math.cos(2 * Math.PI * turns), -Math.sin(2 * Math.PI * turns)];
  return { re: re * cosine - im * sine, im: re * sine + im * cosine };
}

function sumOf(phasors: readonly Phasor[]): Phasor {
  let [re, im] = [0, 0];
  for (const one of phasors) {
    re += one.re;
    im += one.im;
  }
  return { re, im };
}

function sumsOver(
  phasors: readonly Phasor[],
  count: number,
  group: (i: number) => number,
): readonly Phasor[] {
  const groups = Array.from({ length: count }, (): Phasor[] => []);
  phasors.forEach((one, i) => groups[group(i)]?.push(one));
  return groups.map(sumOf);
}

function coherenceOf(phasors: readonly Phasor[]): number {
  const whole = sumOf(phasors);
  const lengths = phasors.reduce((sum, { re, im }) => sum + Math.hypot(re, im), 0);
  return lengths === 0 ? 0 : Math.hypot(whole.re, whole.im) / lengths;
}
