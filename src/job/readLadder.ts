import type { Hz, Mm } from '../core/units.js';
import { layerCentreMm } from '../print/ladder.js';
import type { PrintRecord } from '../print/record.js';
import { micrometres } from './micrometres.js';

/** A frequency that the job sets, and from which layer on it holds. */
export interface LayerFrequency {
  /** Index of the layer whose printing follows, from 0. */
  readonly layer: number;
  readonly hz: Hz;
  /** Digits behind the decimal point that the job tells. */
  readonly decimals: number;
}

/** The layers that carry it. */
interface LayerGrid {
  readonly count: number;
  readonly heightMm: Mm;
  readonly firstHeightMm: Mm;
}

/** From so many layers for each frequency on, a ladder is told by its steps. */
const LAYERS_OF_STEP = 2;

/**
 * The ladder that a job's own frequencies make, in the shortest form that holds each layer's frequency to what the job's
 * decimals tell: fixed, linear from layer to layer, stepped, or a table of straight pieces.
 * @param sets - From the bottom up, at most one of each layer; not modified.
 * @param layers - The layers of the print. The last frequency holds to their end.
 * @returns The ladder as a print record tells it; undefined where no frequency is set.
 */
export function readLadder(
  sets: readonly LayerFrequency[],
  layers: LayerGrid,
): PrintRecord['ladder'] | undefined {
  const [first] = sets;
  const last = sets.at(-1);
  if (first === undefined || last === undefined) return undefined;
  const hz = frequencies(sets, layers.count);
  if (hz.every((one) => one === first.hz)) {
    // A layer has no frequency below the first line: a fixed ladder has one everywhere.
    if (first.layer === 0) return { kind: 'fixed', hz: first.hz };
    return stepped(sets, layers);
  }
  const steps = changes(sets);
  if (hz.length >= LAYERS_OF_STEP * steps.length) return stepped(steps, layers);
  const roundingHz = Math.max(...sets.map(({ decimals }) => 0.5 * 10 ** -decimals));
  const points = straightPieces(hz, roundingHz).map((i) => ({ layer: first.layer + i, hz: hz[i] ?? 0 }));
  const [from, to, ...more] = points;
  if (from !== undefined && to !== undefined && more.length === 0) {
    return { kind: 'linear', fromHz: from.hz, toHz: to.hz, firstLayer: from.layer, lastLayer: to.layer };
  }
  const centreMm = (layer: number) =>
    micrometres(layerCentreMm(layer, layers.heightMm, layers.firstHeightMm));
  return { kind: 'table', points: points.map(({ layer, hz: one }) => ({ mm: centreMm(layer), hz: one })) };
}

/** The frequency of each layer from the first that has one to the top. */
function frequencies(sets: readonly LayerFrequency[], count: number): readonly Hz[] {
  const hz: Hz[] = [];
  for (const [i, { layer, hz: one }] of sets.entries()) {
    const end = sets[i + 1]?.layer ?? Math.max(count, layer + 1);
    for (let at = layer; at < end; at += 1) hz.push(one);
  }
  return hz;
}

function changes(sets: readonly LayerFrequency[]): readonly LayerFrequency[] {
  return sets.filter(({ hz }, i) => hz !== sets[i - 1]?.hz);
}

function stepped(sets: readonly LayerFrequency[], layers: LayerGrid): PrintRecord['ladder'] {
  const bottomMm = (layer: number) =>
    micrometres(layer === 0 ? 0 : layers.firstHeightMm + (layer - 1) * layers.heightMm);
  const steps = changes(sets);
  return {
    kind: 'stepped',
    bands: steps.map(({ layer, hz }, i) => ({
      fromMm: bottomMm(layer),
      toMm: bottomMm(steps[i + 1]?.layer ?? Math.max(layers.count, layer + 1)),
      hz,
    })),
  };
}

/**
 * Indexes of the values between which straight lines pass all others within twice what each is rounded by: the ends
 * of a line are rounded like what lies between.
 */
function straightPieces(values: readonly number[], rounding: number): readonly number[] {
  const kept = [0];
  let start = 0;
  let low = -Infinity;
  let high = Infinity;
  for (let i = 1; i < values.length; i += 1) {
    const rise = (values[i] ?? 0) - (values[start] ?? 0);
    const slope = rise / (i - start);
    if (i > start + 1 && (slope < low || slope > high)) {
      start = i - 1;
      kept.push(start);
      low = -Infinity;
      high = Infinity;
    }
    const run = i - start;
    const here = (values[i] ?? 0) - (values[start] ?? 0);
    low = Math.max(low, (here - 2 * rounding) / run);
    high = Math.min(high, (here + 2 * rounding) / run);
  }
  if (values.length > 1) kept.push(values.length - 1);
  return kept;
}
