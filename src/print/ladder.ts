import { combineSd, type Estimate, RECTANGULAR } from '../core/estimate.js';
import type { Hz, Mm } from '../core/units.js';
import type { PrintRecord } from './record.js';
import { ROUNDING_MM } from './recordConflicts.js';

/** A frequency at one height above the bed. */
export interface LadderPoint {
  readonly mm: Mm;
  readonly hz: Hz;
}

/** A stretch of height with one frequency. */
export interface LadderStep {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly hz: Hz;
}

/** The schedule height → shaper frequency. Heights are above the bed. */
export type Ladder =
  | ClimbingLadder
  | {
      readonly kind: 'several';
      /** Two or more, one above the other, from the bottom up: a tower may pass its frequencies more than once. */
      readonly ladders: readonly ClimbingLadder[];
    }
  | { readonly kind: 'fixed'; readonly hz: Hz }
  | { readonly kind: 'off' };

/** A ladder whose frequency follows the height. */
export type ClimbingLadder =
  | {
      readonly kind: 'linear' | 'table';
      /** At least two, ascending in height; straight between them. Of layers, the height of the centre. */
      readonly points: readonly LadderPoint[];
      readonly layerHeightMm: Mm;
      readonly firstLayerHeightMm: Mm;
    }
  | {
      readonly kind: 'stepped';
      /** From the bottom up, without overlap; touching steps differ in frequency. */
      readonly steps: readonly LadderStep[];
    };

/**
 * Makes a ladder from what the print record says.
 *
 * A linear ladder by layers, f = from + (to − from)·(k − first)/(last − first), passes as a continuous
 * function of height through the layers' centres. `fromMm` and `toMm` are taken as they stand.
 * @param told - The record's ladder; not modified.
 * @param layerHeightMm - Layer height.
 * @param firstLayerHeightMm - Height of the first layer.
 * @returns The ladder.
 * @throws {RangeError} When a linear ladder has no two ends, which a checked record cannot have.
 */
export function makeLadder(told: PrintRecord['ladder'], layerHeightMm: Mm, firstLayerHeightMm: Mm): Ladder {
  switch (told.kind) {
    case 'several':
      return {
        kind: 'several',
        ladders: told.ladders.map((one) => climbing(one, layerHeightMm, firstLayerHeightMm)),
      };
    case 'fixed':
      return { kind: 'fixed', hz: told.hz };
    case 'off':
      return { kind: 'off' };
    default:
      return climbing(told, layerHeightMm, firstLayerHeightMm);
  }
}

function climbing(told: ClimbingTold, layerHeightMm: Mm, firstLayerHeightMm: Mm): ClimbingLadder {
  const layers = { layerHeightMm, firstLayerHeightMm };
  switch (told.kind) {
    case 'linear':
      return { kind: 'linear', points: linearPoints(told, layerHeightMm, firstLayerHeightMm), ...layers };
    case 'table':
      return { kind: 'table', points: told.points.map(({ mm, hz }) => ({ mm, hz })), ...layers };
    case 'stepped':
      return { kind: 'stepped', steps: mergeEqual(told.bands) };
  }
}

/**
 * The ladders of a tower, each of which passes its frequencies by itself.
 * @param ladder - The ladder.
 * @returns Of several ladders each, from the bottom up; otherwise the one.
 */
export function laddersOf(ladder: Ladder): readonly Exclude<Ladder, { kind: 'several' }>[] {
  return ladder.kind === 'several' ? ladder.ladders : [ladder];
}

/**
 * Which of a tower's ladders holds a height. Where the half layers reach over each other by which ladders hold on beyond
 * their ends, it is the nearer one.
 * @param ladder - The ladder.
 * @param heightMm - Height above the bed.
 * @returns Its index in `laddersOf`, 0 of a single one; undefined where none reaches.
 */
export function ladderIndexAt(ladder: Ladder, heightMm: Mm): number | undefined {
  if (ladder.kind !== 'several') return ladderHzAt(ladder, heightMm) === undefined ? undefined : 0;
  const reaching = [...ladder.ladders.entries()].filter(([, one]) => ladderHzAt(one, heightMm) !== undefined);
  const beyond = (one: ClimbingLadder) => {
    const [lowMm, highMm] = endsOf(one);
    return Math.max(0, lowMm - heightMm, heightMm - highMm);
  };
  return reaching.reduce<(typeof reaching)[number] | undefined>(
    // A height on the boundary belongs to the upper one, as a step holds its lower edge.
    (best, next) => (best === undefined || beyond(next[1]) <= beyond(best[1]) + ROUNDING_MM ? next : best),
    undefined,
  )?.[0];
}

function endsOf(ladder: ClimbingLadder): readonly [Mm, Mm] {
  return ladder.kind === 'stepped'
    ? [ladder.steps[0]?.fromMm ?? 0, ladder.steps.at(-1)?.toMm ?? 0]
    : [ladder.points[0]?.mm ?? 0, ladder.points.at(-1)?.mm ?? 0];
}

/**
 * The shaper's frequency at a height.
 *
 * A layer has one frequency, so a height that is read continuously is uncertain by a layer's thickness ÷ √12
 * and the frequency by that times the slope. The first and the last layer reach half a layer beyond the
 * ladder's ends; there the end's frequency holds. Inside a step the frequency is exact.
 * @param ladder - The ladder.
 * @param heightMm - Height above the bed.
 * @returns The frequency, Hz; undefined where the shaper is off or the ladder does not reach.
 * @see GUM (JCGM 100:2008) 4.3.7, rectangular distribution.
 */
export function ladderHzAt(ladder: Ladder, heightMm: Mm): Estimate | undefined {
  if (!(heightMm >= 0) || ladder.kind === 'off') return undefined;
  if (ladder.kind === 'fixed') return { value: ladder.hz, sd: 0 };
  if (ladder.kind === 'several') {
    const index = ladderIndexAt(ladder, heightMm);
    const one = index === undefined ? undefined : ladder.ladders[index];
    return one && ladderHzAt(one, heightMm);
  }
  if (ladder.kind === 'stepped') {
    const step = stepAt(ladder.steps, heightMm);
    return step && { value: step.hz, sd: 0 };
  }
  const segment = segmentAt(ladder, heightMm);
  if (segment === undefined) return undefined;
  const { below, above } = segment;
  const share = Math.min(1, Math.max(0, (heightMm - below.mm) / (above.mm - below.mm)));
  // Exact at both ends, and never beyond them by rounding.
  const hz = below.hz * (1 - share) + above.hz * share;
  const value = Math.min(Math.max(hz, Math.min(below.hz, above.hz)), Math.max(below.hz, above.hz));
  return { value, sd: Math.abs(slopeOf(segment)) * roundingMm(ladder, heightMm) };
}

/**
 * The heights at which a ladder has a frequency.
 *
 * Between the frequencies of two touching steps, the height is interpolated between the steps' centres: there
 * the staircase passes it.
 * @param ladder - The ladder.
 * @param hz - The frequency.
 * @returns Heights above the bed, mm, from the bottom up. None when the ladder does not pass the frequency or
 * says nothing of height (fixed, off); several when it passes it more than once. The uncertainty is that of
 * rounding to a layer or a step: thickness ÷ √12.
 * @see GUM (JCGM 100:2008) 4.3.7, rectangular distribution.
 */
export function ladderHeightsAt(ladder: Ladder, hz: Hz): readonly Estimate[] {
  switch (ladder.kind) {
    case 'fixed':
    case 'off':
      return [];
    case 'several':
      return ladder.ladders.flatMap((one) => ladderHeightsAt(one, hz));
    case 'stepped':
      return staircases(ladder.steps).flatMap((steps) =>
        crossings(centresOf(steps), hz).map(({ mm }) => {
          const step = stepAt(steps, mm);
          return { value: mm, sd: step === undefined ? 0 : (step.toMm - step.fromMm) * RECTANGULAR };
        }),
      );
    default:
      return crossings(ladder.points, hz).map(({ mm, flatMm }) => ({
        value: mm,
        sd: combineSd(roundingMm(ladder, mm), flatMm * RECTANGULAR),
      }));
  }
}

/**
 * The frequencies that a ladder spans.
 * @param ladder - The ladder.
 * @returns Lowest and highest frequency, Hz; equal for a fixed one, undefined when the shaper is off.
 */
export function ladderRangeHz(ladder: Ladder): { readonly lowHz: Hz; readonly highHz: Hz } | undefined {
  if (ladder.kind === 'off') return undefined;
  if (ladder.kind === 'fixed') return { lowHz: ladder.hz, highHz: ladder.hz };
  const parts = ladder.kind === 'several' ? ladder.ladders : [ladder];
  const all = parts.flatMap((one) => (one.kind === 'stepped' ? one.steps : one.points).map(({ hz }) => hz));
  return { lowHz: Math.min(...all), highHz: Math.max(...all) };
}

/**
 * How fast a ladder's frequency changes with height: what an error of height costs in frequency.
 * @param ladder - The ladder.
 * @param heightMm - Height above the bed.
 * @returns Hz per mm, negative where the frequency falls. Of steps, the slope between the centres of
 * touching steps. 0 where there is no frequency or it does not change.
 */
export function ladderSlopeHzPerMm(ladder: Ladder, heightMm: Mm): number {
  if (ladder.kind === 'fixed' || ladder.kind === 'off' || !(heightMm >= 0)) return 0;
  if (ladder.kind === 'several') {
    const index = ladderIndexAt(ladder, heightMm);
    const one = index === undefined ? undefined : ladder.ladders[index];
    return one === undefined ? 0 : ladderSlopeHzPerMm(one, heightMm);
  }
  if (ladder.kind !== 'stepped') {
    const segment = segmentAt(ladder, heightMm);
    return segment === undefined ? 0 : slopeOf(segment);
  }
  const staircase = staircases(ladder.steps).find((steps) => stepAt(steps, heightMm) !== undefined);
  const segment = staircase && segmentOf(centresOf(staircase), heightMm);
  return segment === undefined ? 0 : slopeOf(segment);
}

/**
 * The layer that fills a height.
 * @param heightMm - Height above the bed, ≥ 0. A height on a boundary belongs to the layer above it.
 * @param layerHeightMm - Layer height, > 0.
 * @param firstLayerHeightMm - Height of the first layer, > 0.
 * @returns Index of the layer, counted from 0.
 * @throws {RangeError} When the height is negative or not a number.
 */
export function layerAt(heightMm: Mm, layerHeightMm: Mm, firstLayerHeightMm: Mm): number {
  if (!(heightMm >= 0)) throw new RangeError(`Expected a height ≥ 0 mm but received ${heightMm}.`);
  const reached = heightMm + ROUNDING_MM;
  if (reached < firstLayerHeightMm) return 0;
  return 1 + Math.floor((reached - firstLayerHeightMm) / layerHeightMm);
}

/**
 * The height of a layer's centre. Layer k fills [k, k + 1) layer heights above the bed.
 * @param layer - Index of the layer, counted from 0.
 * @param layerHeightMm - Layer height.
 * @param firstLayerHeightMm - Height of the first layer.
 * @returns Height above the bed, mm: (k + ½) layer heights when all layers are equal.
 */
export function layerCentreMm(layer: number, layerHeightMm: Mm, firstLayerHeightMm: Mm): Mm {
  return layer === 0 ? firstLayerHeightMm / 2 : firstLayerHeightMm + (layer - 0.5) * layerHeightMm;
}

type ClimbingTold = Extract<PrintRecord['ladder'], { kind: 'linear' | 'stepped' | 'table' }>;
type LinearTold = Extract<PrintRecord['ladder'], { kind: 'linear' }>;
type SlopedLadder = Extract<Ladder, { kind: 'linear' | 'table' }>;

interface Segment {
  readonly below: LadderPoint;
  readonly above: LadderPoint;
}

function linearPoints(told: LinearTold, layerHeightMm: Mm, firstLayerHeightMm: Mm): readonly LadderPoint[] {
  const { fromHz, toHz, firstLayer, lastLayer, fromMm, toMm } = told;
  if (firstLayer !== undefined && lastLayer !== undefined) {
    const points = [
      { mm: layerCentreMm(firstLayer, layerHeightMm, firstLayerHeightMm), hz: fromHz },
      { mm: layerCentreMm(lastLayer, layerHeightMm, firstLayerHeightMm), hz: toHz },
    ];
    if (firstLayer > 0 || firstLayerHeightMm === layerHeightMm) return points;
    // The layer number climbs at another rate through the first layer: half a layer is passed at its top.
    const bend = { mm: firstLayerHeightMm, hz: fromHz + ((toHz - fromHz) * 0.5) / lastLayer };
    return points.toSpliced(1, 0, bend);
  }
  if (fromMm !== undefined && toMm !== undefined) {
    return [
      { mm: fromMm, hz: fromHz },
      { mm: toMm, hz: toHz },
    ];
  }
  throw new RangeError('Expected a linear ladder with two layers or two heights but received one without.');
}

function mergeEqual(bands: readonly LadderStep[]): readonly LadderStep[] {
  const steps: LadderStep[] = [];
  for (const { fromMm, toMm, hz } of bands) {
    const last = steps.at(-1);
    if (last?.hz === hz && touches(last, { fromMm })) steps.splice(-1, 1, { ...last, toMm });
    else steps.push({ fromMm, toMm, hz });
  }
  return steps;
}

function touches(below: Pick<LadderStep, 'toMm'>, above: Pick<LadderStep, 'fromMm'>): boolean {
  return above.fromMm - below.toMm <= ROUNDING_MM;
}

/** Groups of touching steps: between groups the shaper is off. */
function staircases(steps: readonly LadderStep[]): readonly (readonly LadderStep[])[] {
  const groups: LadderStep[][] = [];
  for (const step of steps) {
    const group = groups.at(-1);
    const last = group?.at(-1);
    if (group !== undefined && last !== undefined && touches(last, step)) group.push(step);
    else groups.push([step]);
  }
  return groups;
}

function centresOf(steps: readonly LadderStep[]): readonly LadderPoint[] {
  return steps.map(({ fromMm, toMm, hz }) => ({ mm: (fromMm + toMm) / 2, hz }));
}

/** A step holds its lower edge, not its upper one. */
function stepAt(steps: readonly LadderStep[], heightMm: Mm): LadderStep | undefined {
  return steps.find(({ fromMm, toMm }) => heightMm >= fromMm - ROUNDING_MM && heightMm < toMm - ROUNDING_MM);
}

/** The segment at a height, as far as half a layer beyond the ends. */
function segmentAt(ladder: SlopedLadder, heightMm: Mm): Segment | undefined {
  const segment = segmentOf(ladder.points, heightMm);
  const lowest = ladder.points[0]?.mm ?? Infinity;
  const highest = ladder.points.at(-1)?.mm ?? -Infinity;
  const reached =
    heightMm >= lowest - thicknessMm(ladder, lowest) / 2 - ROUNDING_MM &&
    heightMm <= highest + thicknessMm(ladder, highest) / 2 + ROUNDING_MM;
  return reached ? segment : undefined;
}

/** The segment at a height, the first or the last one beyond them; undefined for a single point. */
function segmentOf(points: readonly LadderPoint[], heightMm: Mm): Segment | undefined {
  const after = points.findIndex(({ mm }, i) => i > 0 && (mm > heightMm || i === points.length - 1));
  const below = points[after - 1];
  const above = points[after];
  return below !== undefined && above !== undefined ? { below, above } : undefined;
}

function slopeOf({ below, above }: Segment): number {
  return (above.hz - below.hz) / (above.mm - below.mm);
}

function thicknessMm(ladder: SlopedLadder, heightMm: Mm): Mm {
  return heightMm < ladder.firstLayerHeightMm ? ladder.firstLayerHeightMm : ladder.layerHeightMm;
}

function roundingMm(ladder: SlopedLadder, heightMm: Mm): Mm {
  return thicknessMm(ladder, heightMm) * RECTANGULAR;
}

interface Crossing {
  readonly mm: Mm;
  /** Over how much height the frequency stays; 0 when it only passes. */
  readonly flatMm: Mm;
}

/** Where a line of straight pieces has a frequency; a flat piece counts once, by its middle. */
function crossings(points: readonly LadderPoint[], hz: Hz): readonly Crossing[] {
  const found: Crossing[] = [];
  let flatFrom: Mm | undefined;
  for (const [i, point] of points.entries()) {
    const next = points[i + 1];
    if (point.hz === hz) {
      flatFrom ??= point.mm;
      if (next?.hz === hz) continue;
      found.push({ mm: (flatFrom + point.mm) / 2, flatMm: point.mm - flatFrom });
      flatFrom = undefined;
    } else if (next !== undefined && (point.hz - hz) * (next.hz - hz) < 0) {
      found.push({
        mm: point.mm + ((hz - point.hz) / (next.hz - point.hz)) * (next.mm - point.mm),
        flatMm: 0,
      });
    }
  }
  return found;
}
