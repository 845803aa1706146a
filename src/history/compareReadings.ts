import { isDeepStrictEqual } from 'node:util';
import { InputError } from '../core/errors.js';
import { combineSd, COVERAGE_95, interval95, type Estimate, type Interval } from '../core/estimate.js';
import type { MmPerS2 } from '../core/units.js';
import type { PrintRecord } from '../print/record.js';
import type { AnyReading } from '../reading/jointSchema.js';
import type { Reading } from '../reading/schema.js';
import { axisPointOf, recordOf, singleReadings, type AxisPoint } from './axisPoint.js';
import { changeOf, meanOf, type Change } from './change.js';

/** What is told of two sets of photos that no photo shows. */
export interface CompareOptions {
  /** Lamp, camera and filament were the same in all photos. @default false */
  readonly sameLight?: boolean;
  /** Ringing of proof prints up to this contrast is tolerated; absent: none that stands out. */
  readonly level?: number;
}

/** One side of a comparison: the results before, or those after. */
export interface ComparedSide {
  readonly points: readonly AxisPoint[];
  readonly frequencyHz?: Estimate;
  readonly dampingRatio?: Estimate;
}

/** How large the ripples are beside those before. */
export type AmplitudeChange =
  | {
      readonly state: 'compared';
      /** After ÷ before. */
      readonly ratio: Interval;
      readonly changed: boolean;
      /** At how many heights both could be read. */
      readonly heights: number;
      /** Layer lines show in both and were held to be the same. */
      readonly byLayerLines: boolean;
    }
  | {
      readonly state: 'not-comparable';
      /** The prints differ in more than their shaper's setting; no layer lines to hold the light against; no heights in common; or nothing stood out before. */
      readonly why: 'print' | 'light' | 'heights' | 'nothing-before';
    };

/** One acceleration of two proof prints. */
export interface ProofStep {
  readonly mmPerS2: MmPerS2;
  readonly before?: Estimate;
  readonly after?: Estimate;
}

/** Two proof prints side by side. */
export interface ProofChange {
  readonly steps: readonly ProofStep[];
  /** The highest acceleration tested up to which ringing is tolerated; absent where the lowest rings already. */
  readonly quietBefore?: MmPerS2;
  readonly quietAfter?: MmPerS2;
  /** Ripples after ÷ before over all accelerations read in both; absent where none stood out before. */
  readonly ratio?: Interval;
  /** What a corner excites by theory, scaled to what was read; absent where nothing stood out. */
  readonly modelBefore?: readonly ModelPoint[];
  readonly modelAfter?: readonly ModelPoint[];
}

/** One point of the curve that theory draws behind a proof print. */
export type ModelPoint = NonNullable<Proof['model']>[number];

/** Two results, or two sets of them, of one axis side by side. */
export interface Comparison {
  readonly axis: string;
  readonly before: ComparedSide;
  readonly after: ComparedSide;
  readonly sameLight: boolean;
  /** Contrast that is tolerated in proof prints; absent: none that stands out. */
  readonly level?: number;
  /** Absent where a side has none. */
  readonly frequency?: Change;
  readonly damping?: Change;
  /** Absent where either side is a proof print. */
  readonly amplitude?: AmplitudeChange;
  /** Present where both sides are proof prints. */
  readonly proof?: ProofChange;
}

/**
 * How much a lamp that stands elsewhere changes the contrast of ripples, relative standard uncertainty: the same tower drawn
 * under 13 lamps, 45 to 75° to the side and 10° below to 45° above it, showed 0.7 to 1.7 times the contrast.
 */
const OTHER_LIGHT_SD = 0.35;
/** What is left where the light is told to be the same: a camera's tone curve and a hand's tilt. */
const SAME_LIGHT_SD = 0.08;
/** Heights this far apart are the same, mm: bands are 1 mm high. */
const SAME_HEIGHT_MM = 0.5;
/** Fewer heights in common say little. */
const LEAST_HEIGHTS = 5;
/** Ripples before, over all heights, in standard errors: below there is nothing to hold the others against. */
const STANDS_OUT = 4;
/** Blocks of neighbouring heights that are left out in turn. */
const BLOCKS = 10;

/**
 * Sets results before a change beside results after it.
 * @param before - At least one, of one axis.
 * @param after - At least one, of the same axis.
 * @param options - What no photo shows.
 * @returns Frequency, damping ratio and size of the ripples (of several readings of a side: of the first), each with its change; of proof prints each acceleration.
 * @throws {RangeError} When a side is empty.
 */
export function compareReadings(
  before: readonly AnyReading[],
  after: readonly AnyReading[],
  { sameLight = false, level }: CompareOptions = {},
): Comparison {
  const [one, other] = [sideOf(before), sideOf(after)];
  const [frequencyBefore, frequencyAfter] = [one.frequencyHz, other.frequencyHz];
  const [dampingBefore, dampingAfter] = [one.dampingRatio, other.dampingRatio];
  const proofs = [proofOf(before), proofOf(after)] as const;
  const isProof = proofs.some((proof) => proof !== undefined);
  return {
    axis: one.points[0]?.axis ?? '',
    before: one,
    after: other,
    sameLight,
    ...(level === undefined ? {} : { level }),
    ...(frequencyBefore && frequencyAfter ? { frequency: changeOf(frequencyBefore, frequencyAfter) } : {}),
    ...(dampingBefore && dampingAfter ? { damping: changeOf(dampingBefore, dampingAfter) } : {}),
    ...(isProof ? {} : { amplitude: amplitudeChange(before, after, sameLight) }),
    ...(proofs[0] && proofs[1] ? { proof: proofChange(proofs[0], proofs[1], sameLight, level) } : {}),
  };
}

/** Repeats share what they were told of speed, size and ladder: together they are no surer than the surest of them. */
function sideOf(readings: readonly AnyReading[]): ComparedSide {
  const points = readings.map(axisPointOf);
  const together = (values: readonly (Estimate | undefined)[]): Estimate | undefined => {
    const known = values.filter((value) => value !== undefined);
    if (known.length === 0) return undefined;
    const mean = meanOf(known);
    return { value: mean.value, sd: Math.max(mean.sd, Math.min(...known.map(({ sd }) => sd))) };
  };
  const frequencyHz = together(points.map((point) => point.frequencyHz));
  const dampingRatio = together(points.map((point) => point.dampingRatio));
  return {
    points,
    ...(frequencyHz === undefined ? {} : { frequencyHz }),
    ...(dampingRatio === undefined ? {} : { dampingRatio }),
  };
}

type Height = Reading['heights'][number];

/** Amplitudes of both sides at one height or acceleration, squared and freed of their noise. */
interface Common {
  readonly before: number;
  readonly after: number;
  readonly noiseBefore: number;
}

function amplitudeChange(
  before: readonly AnyReading[],
  after: readonly AnyReading[],
  sameLight: boolean,
): AmplitudeChange {
  const [one] = before.flatMap(singleReadings);
  const [other] = after.flatMap(singleReadings);
  if (one === undefined || other === undefined) return { state: 'not-comparable', why: 'heights' };
  if (!samePrint(one, other)) return { state: 'not-comparable', why: 'print' };
  const layers = layerContrastRatio(one, other);
  if (layers === undefined && !sameLight) return { state: 'not-comparable', why: 'light' };
  const common = commonHeights(one.heights, other.heights);
  if (common.length < LEAST_HEIGHTS) return { state: 'not-comparable', why: 'heights' };
  const ratio = amplitudeRatio(common, sameLight, layers);
  if (ratio === undefined) return { state: 'not-comparable', why: 'nothing-before' };
  return {
    state: 'compared',
    ratio,
    changed: ratio.low95 > 1 || ratio.high95 < 1,
    heights: common.length,
    byLayerLines: layers !== undefined,
  };
}

/** After ÷ before with what the light leaves open; undefined where nothing stands out before. */
function amplitudeRatio(common: readonly Common[], sameLight: boolean, layers = 1): Interval | undefined {
  const power = common.reduce((sum, { before }) => sum + before, 0);
  // Squares of noise alone scatter by √2 times their mean.
  const powerSd = Math.sqrt(2 * common.reduce((sum, { noiseBefore }) => sum + noiseBefore ** 4, 0));
  if (!(power > STANDS_OUT * powerSd)) return undefined;
  const value = ratioOf(common) / layers;
  const light = value * (sameLight ? SAME_LIGHT_SD : OTHER_LIGHT_SD);
  return interval95({ value, sd: combineSd(jackknifeSd(common) / layers, light) });
}

/**
 * Heights can be set beside each other where the nozzle moved alike. With a ladder that climbs it must be the same one; a
 * shaper that stays may be set otherwise or be off, which is what is compared.
 */
function samePrint({ printRecord: a }: Reading, { printRecord: b }: Reading): boolean {
  const stays = ({ ladder: { kind } }: PrintRecord) => kind === 'fixed' || kind === 'off';
  const ladders = stays(a) && stays(b) ? [] : [[a.ladder, b.ladder] as const, [a.shaper, b.shaper] as const];
  const moves = ({ speedMmPerS, accelerationMmPerS2, cornerSpeedMmPerS, layerHeightMm }: PrintRecord) => [
    speedMmPerS,
    accelerationMmPerS2,
    cornerSpeedMmPerS,
    layerHeightMm,
  ];
  return [[moves(a), moves(b)] as const, ...ladders].every(([one, other]) => isDeepStrictEqual(one, other));
}

/** Contrast of the layer lines after ÷ before, freed of each photo's blur; undefined where they do not show in both. */
function layerContrastRatio(before: Reading, after: Reading): number | undefined {
  const [one, other] = [before, after].map(({ layerLines, face }) => {
    const blurPx = face?.quality.blurPx;
    if (layerLines?.contrast === undefined || blurPx === undefined) return undefined;
    // A Gaussian blur lowers a wave of p px to exp(−2π²σ² ÷ p²) of itself.
    return layerLines.contrast * Math.exp(2 * (Math.PI * (blurPx / layerLines.pxPerLayer)) ** 2);
  });
  return one === undefined || other === undefined || !(one > 0) ? undefined : other / one;
}

function commonHeights(before: readonly Height[], after: readonly Height[]): readonly Common[] {
  return before.flatMap((one) => {
    const other = after.find(({ heightMm }) => Math.abs(heightMm - one.heightMm) <= SAME_HEIGHT_MM);
    return commonOf(one.amplitude, other?.amplitude);
  });
}

function commonOf(before: Estimate | undefined, after: Estimate | undefined): readonly Common[] {
  if (before === undefined || after === undefined) return [];
  const power = ({ value, sd }: Estimate) => value ** 2 - sd ** 2;
  return [{ before: power(before), after: power(after), noiseBefore: before.sd }];
}

/** Root mean square after ÷ before, noise taken off both. */
function ratioOf(common: readonly Common[]): number {
  const sum = (of: (height: Common) => number) => common.reduce((total, height) => total + of(height), 0);
  return Math.sqrt(
    Math.max(
      0,
      sum((height) => height.after),
    ) / sum((height) => height.before),
  );
}

/** Neighbouring heights share their noise, so whole blocks are left out: Quenouille, Tukey. */
function jackknifeSd(common: readonly Common[]): number {
  const blocks = Math.min(BLOCKS, common.length);
  const without = Array.from({ length: blocks }, (_, block) =>
    ratioOf(common.filter((_height, i) => Math.floor((i * blocks) / common.length) !== block)),
  );
  const mean = without.reduce((sum, value) => sum + value, 0) / blocks;
  return Math.sqrt(((blocks - 1) / blocks) * without.reduce((sum, value) => sum + (value - mean) ** 2, 0));
}

type Proof = Extract<Reading['proposal'], { state: 'proof' }>;

function proofOf(readings: readonly AnyReading[]): Proof | undefined {
  const [first] = readings;
  return first?.proposal.state === 'proof' ? first.proposal : undefined;
}

function proofChange(
  before: Proof,
  after: Proof,
  sameLight: boolean,
  level: number | undefined,
): ProofChange {
  const accelerations = [...new Set([...before.steps, ...after.steps].map(({ mmPerS2 }) => mmPerS2))];
  const at = ({ steps }: Proof, mmPerS2: MmPerS2) =>
    steps.find((step) => step.mmPerS2 === mmPerS2)?.amplitude;
  const [quietBefore, quietAfter] = [before, after].map((proof) => quietUpTo(proof, level));
  const steps = accelerations
    .sort((a, b) => a - b)
    .map((mmPerS2): ProofStep => {
      const [one, other] = [at(before, mmPerS2), at(after, mmPerS2)];
      return {
        mmPerS2,
        ...(one === undefined ? {} : { before: one }),
        ...(other === undefined ? {} : { after: other }),
      };
    });
  const ratio = amplitudeRatio(
    steps.flatMap((step) => commonOf(step.before, step.after)),
    sameLight,
  );
  return {
    steps,
    ...(quietBefore === undefined ? {} : { quietBefore }),
    ...(quietAfter === undefined ? {} : { quietAfter }),
    ...(ratio === undefined ? {} : { ratio }),
    ...(before.model === undefined ? {} : { modelBefore: before.model }),
    ...(after.model === undefined ? {} : { modelAfter: after.model }),
  };
}

/** The highest acceleration tested at which, as at all lower ones, ringing is tolerated: DESIGN 5.10. */
function quietUpTo({ steps, quietUpTo: unseen }: Proof, level: number | undefined): MmPerS2 | undefined {
  if (level === undefined) return unseen?.mmPerS2;
  const climbing = [...steps].sort((a, b) => a.mmPerS2 - b.mmPerS2);
  const tolerated = ({ amplitude }: Proof['steps'][number]) =>
    amplitude !== undefined && amplitude.value + COVERAGE_95 * amplitude.sd <= level;
  const first = climbing.findIndex((step) => !tolerated(step));
  return climbing[(first < 0 ? climbing.length : first) - 1]?.mmPerS2;
}

/**
 * Makes sure that two results can be set side by side.
 * @param before - The results before.
 * @param after - Those after.
 * @throws {InputError} `readings-differ`.
 */
export function expectAlike(before: readonly AnyReading[], after: readonly AnyReading[]): void {
  const difference = unlike(before, after);
  if (difference === undefined) return;
  throw new InputError(
    'readings-differ',
    `The readings cannot be compared: ${difference}.`,
    'Give readings of one axis of one machine.',
  );
}

/**
 * Why two results cannot be set side by side.
 * @param before - The results before.
 * @param after - Those after.
 * @returns What differs that must be the same, as the end of a sentence, or undefined.
 * @internal
 */
export function unlike(before: readonly AnyReading[], after: readonly AnyReading[]): string | undefined {
  const all = [...before, ...after].map(recordOf);
  const axes = new Set(all.map(({ axis }) => axis));
  if (axes.size > 1) return `they belong to the axes ${[...axes].join(' and ')}`;
  const machines = new Set(all.flatMap(({ machine }) => machine ?? []));
  if (machines.size > 1) return `they belong to the machines ${[...machines].join(' and ')}`;
  const [one, other] = [before, after].map((side) =>
    side.flatMap(singleReadings).flatMap(({ photos }) => photos.map(({ sha256 }) => sha256)),
  );
  if (one?.some((sha256) => other?.includes(sha256))) return 'one photo stands on both sides';
  const kinds = new Set(all.map(({ shaper }) => shaper?.hzMeans ?? 'natural'));
  if (kinds.size > 1) return 'their frequencies are natural ones and damped ones';
  const proofs = [before, after].map(
    (one) => one.filter(({ proposal }) => proposal.state === 'proof').length,
  );
  const many = [before, after].some((one, i) => (proofs[i] ?? 0) > 0 && one.length > 1);
  if (many) return 'a proof print can only be compared by itself, one on each side';
  return undefined;
}
