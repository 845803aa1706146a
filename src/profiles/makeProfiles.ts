import type { Hz, Mm } from '../core/units.js';
import type { Face } from '../face/rectifyFace.js';
import { accelerationStepOf } from '../print/accelerationLadder.js';
import { ladderHzAt, ladderIndexAt } from '../print/ladder.js';
import type { PrintSettings } from '../print/settle.js';
import { median, runningMedian } from '../signal/median.js';
import { despike } from './despike.js';
import { bridge, findGlare, hidesTooMuch, type GlarePatch } from './glare.js';
import { findPenLines, paintOver, type PenLine, type Slices } from './penLine.js';

/** A stretch of the face that starts where the machine was last kicked. Mm from the leading corner. */
export interface Wall {
  readonly startMm: Mm;
  readonly endMm: Mm;
  readonly startsAt: 'leading-corner' | 'slot';
}

/** One profile: log brightness along the face, averaged over a few layers. */
export interface Band {
  /** Height of its middle above the bed, mm. */
  readonly heightMm: Mm;
  /** The ladder's frequency there; undefined where the shaper was off. */
  readonly ladderHz: Hz | undefined;
  /** Of a tower with several ladders: index of the one that holds the whole band; absent where none does. */
  readonly ladder?: number;
  /** Of a proof print: index of the acceleration's step that holds the whole band; absent where none does. */
  readonly accelerationStep?: number;
  /** Natural logarithm of brightness less its mean over the usable columns, shape (positions,). */
  readonly values: Float64Array;
  /** 1 where a burnt-out patch left nothing to read and `values` is only a bridge, shape (positions,); absent: nowhere. */
  readonly missing?: Uint8Array;
}

/** The profiles of a face. All positions are mm from the leading corner. */
export interface Profiles {
  readonly walls: readonly Wall[];
  readonly stepMm: Mm;
  /** Middles of the bins, shape (positions,). */
  readonly positionsMm: Float64Array;
  /** 1 where a column may be used, 0 where a slot, a dark or light stripe or the far edge spoils it. */
  readonly usable: Uint8Array;
  /** From the bottom up; bands spoilt by a pen line or by the face's edges are left out. */
  readonly bands: readonly Band[];
  /** Lines drawn by hand, the likeliest first; their heights count from the bed. */
  readonly penLines: readonly PenLine[];
  /** Patches that are burnt out and left out; heights count from the bed. Absent: none. */
  readonly glare?: readonly GlarePatch[];
}

/** Bins along the wall, mm, and bands over the height, mm: DESIGN 5.2. */
export const BIN_MM: Mm = 0.125;
export const BAND_MM: Mm = 1;
/** Left out at top and bottom: the outline is uncertain by 0.3 mm and the first layer stands out. */
const EDGE_MM = 0.6;
/** Left out at the far end: the corner there is rounded and its edge shines. */
export const FAR_END_MM: Mm = 0.8;
/** Left out beside a slot. */
const SLOT_MARGIN_MM = 0.6;
/** A slice this far from its surroundings in log brightness tells nothing of ripples (about 25 % darker or lighter). */
const STRIPE_CONTRAST = 0.25;
const STRIPE_WINDOW_MM = 4;
const STRIPE_MARGIN_MM = 0.4;
/** A column this much darker than its surroundings in log brightness is a slot or a deep stripe. */
const DARK_COLUMN = 0.35;
/** One this much lighter is a scratch all the way up: strong ripples that a fixed shaper leaves alike reach 0.37. */
const LIGHT_COLUMN = 0.5;
const DARK_COLUMN_WINDOW_MM = 5;
/** A column that a patch hides at more than this share of the heights is left out at all of them. */
const MOST_HIDDEN_HEIGHTS = 0.5;
/** The darkest light that counts; black would have no logarithm. Half an 8-bit code of linear light. */
const LEAST_LIGHT = 1.5e-4;
/** Lights that are multiplied before the logarithm: the darkest to this power, 1e-245, is still a full number. */
const MOST_FACTORS = 64;

/**
 * Takes one profile along the face for each band of about 1 mm of height.
 * @param face - The flattened face.
 * @param settings - The print's settings: layers, ladder, slots.
 * @returns Profiles from the bottom up, with what was left out.
 */
export function makeProfiles(face: Face, settings: PrintSettings): Profiles {
  const sliced = slicesOf(face, settings);
  const { sliceMm, stepMm } = sliced;
  const lines = findPenLines(sliced);
  const { rows: slices, spoilt } = paintOver(sliced, lines, settings.direction === 'alternates');
  const positionsMm = Float64Array.from(slices[0]!, (_, i) => (i + 0.5) * stepMm);
  markStripes(spoilt, slices, sliceMm);
  const edgeSlices = Math.max(1, Math.round(EDGE_MM / sliceMm));
  spoilt.fill(1, 0, edgeSlices);
  spoilt.fill(1, Math.max(0, slices.length - edgeSlices));

  const glare = findGlare(sliced);
  const usable = usableColumns(slices, spoilt, positionsMm, stepMm, settings);
  for (let bin = 0; bin < usable.length; bin += 1) {
    const hidden = glare.mask?.reduce((sum, row) => sum + row[bin]!, 0) ?? 0;
    if (hidden > MOST_HIDDEN_HEIGHTS * slices.length) usable[bin] = 0;
  }
  const bands = makeBands(slices, spoilt, usable, glare.mask, { sliceMm, stepMm }, face.bottomMm, settings);
  const clean = withoutSpikes(bands);
  return {
    walls: wallsOf(settings, face.widthMm),
    stepMm,
    positionsMm,
    usable,
    bands: clean,
    penLines: lines.map(({ line }) => ({ ...line, heightMm: face.bottomMm + line.heightMm })),
    ...(glare.patches.length === 0
      ? {}
      : {
          glare: glare.patches.map((patch) => ({
            ...patch,
            lowMm: face.bottomMm + patch.lowMm,
            highMm: face.bottomMm + patch.highMm,
          })),
        }),
  };
}

/**
 * Log brightness of a face by height and place along the wall.
 * @param face - The flattened face.
 * @param settings - The layer height: a slice is as many whole layers as 1.5 px need.
 * @returns Slices from the lower edge up.
 * @internal
 */
export function slicesOf(face: Face, { layerHeightMm }: Pick<PrintSettings, 'layerHeightMm'>): Slices {
  const stepMm = Math.max(BIN_MM, 1 / face.imagePxPerMm.alongWall);
  const bins = Math.floor(face.widthMm / stepMm);
  const sliceLayers = Math.max(1, Math.ceil(1.5 / (layerHeightMm * face.imagePxPerMm.alongHeight)));
  const sliceMm = sliceLayers * layerHeightMm;
  return { rows: sliceProfiles(face, stepMm, bins, sliceMm), sliceMm, stepMm };
}

/** Each acceleration and each ladder by itself: where one ends, the ripples jump, and are no spikes. */
function withoutSpikes(bands: readonly Band[]): readonly Band[] {
  const clean = new Map<Band, Float64Array>();
  const stretchOf = (band: Band) => `${String(band.accelerationStep)} ${String(band.ladder)}`;
  for (const stretch of new Set(bands.map(stretchOf))) {
    const alike = bands.filter((band) => stretchOf(band) === stretch);
    const values = despike(
      alike.map((band) => band.values),
      BAND_MM,
    );
    alike.forEach((band, i) => clean.set(band, values[i]!));
  }
  return bands.map((band) => ({ ...band, values: clean.get(band)! }));
}

/** Log brightness in (slice, bin), slice 0 at the bottom edge; light is averaged before the logarithm. */
function sliceProfiles(face: Face, stepMm: Mm, bins: number, sliceMm: Mm): readonly Float64Array[] {
  const [rows, columns] = face.image.shape as [number, number];
  const light = face.image.data;
  const count = Math.max(1, Math.floor(face.heightMm / sliceMm + 0.01));
  const slices = Array.from({ length: count }, () => new Float64Array(bins));
  const rowsIn = new Uint32Array(count);
  const sums = new Float64Array(columns + 1);
  const pxPerBin = stepMm * face.imagePxPerMm.alongWall;
  // Where each bin ends, as a whole column and a share of the next one: the same in every row.
  const ends = Float64Array.from({ length: bins }, (_, bin) => Math.min(columns, (bin + 1) * pxPerBin));
  const wholes = Int32Array.from(ends, (end) => Math.min(columns - 1, Math.floor(end)));
  const shares = ends.map((end, bin) => end - wholes[bin]!);
  // The logarithm of a product is the sum of logarithms, at one logarithm for many rows.
  const product = new Float64Array(bins).fill(1);
  let factors = 0;
  const sliceOf = (row: number): number =>
    Math.floor((rows - row - 0.5) / face.imagePxPerMm.alongHeight / sliceMm);
  for (let row = 0; row < rows; row += 1) {
    const index = sliceOf(row);
    if (index >= count) continue;
    let sum = 0;
    for (let column = 0, i = row * columns; column < columns; column += 1, i += 1) {
      sum += light[i]!;
      sums[column + 1] = sum;
    }
    let before = 0;
    for (let bin = 0; bin < bins; bin += 1) {
      // Exact mean of the piecewise constant light over the bin: bins and px need not line up.
      const whole = wholes[bin]!;
      const below = sums[whole]!;
      const after = below + shares[bin]! * (sums[whole + 1]! - below);
      product[bin] = product[bin]! * Math.max(LEAST_LIGHT, (after - before) / pxPerBin);
      before = after;
    }
    rowsIn[index] = rowsIn[index]! + 1;
    factors += 1;
    if (factors < MOST_FACTORS && sliceOf(row + 1) === index) continue;
    const slice = slices[index]!;
    for (let bin = 0; bin < bins; bin += 1) slice[bin] = slice[bin]! + Math.log(product[bin]!);
    product.fill(1);
    factors = 0;
  }
  for (const [index, slice] of slices.entries()) {
    const count = Math.max(1, rowsIn[index]!);
    for (let bin = 0; bin < bins; bin += 1) slice[bin] = slice[bin]! / count;
  }
  return slices;
}

/** Marks slices that stand out from their surroundings as a whole, such as a layer of another colour. */
function markStripes(spoilt: Uint8Array, slices: readonly Float64Array[], sliceMm: Mm): void {
  const levels = Float64Array.from(slices, (slice) => median(slice));
  const smooth = runningMedian(levels, Math.round(STRIPE_WINDOW_MM / sliceMm));
  const margin = Math.max(1, Math.round(STRIPE_MARGIN_MM / sliceMm));
  for (const [i, level] of levels.entries()) {
    if (Math.abs(level - smooth[i]!) > STRIPE_CONTRAST)
      spoilt.fill(1, Math.max(0, i - margin), i + margin + 1);
  }
}

function usableColumns(
  slices: readonly Float64Array[],
  spoilt: Uint8Array,
  positionsMm: Float64Array,
  stepMm: Mm,
  settings: PrintSettings,
): Uint8Array {
  const good = slices.filter((_, i) => spoilt[i] === 0);
  if (good.length === 0) return new Uint8Array(positionsMm.length);
  const columns = transposed(good, positionsMm.length);
  const level = Float64Array.from(columns, (column) => median(column));
  const smooth = runningMedian(level, Math.round(DARK_COLUMN_WINDOW_MM / stepMm));
  const usable = new Uint8Array(positionsMm.length).fill(1);
  const margin = Math.round(SLOT_MARGIN_MM / stepMm);
  level.forEach((value, bin) => {
    const out = value - smooth[bin]!;
    if (out < -DARK_COLUMN || out > LIGHT_COLUMN) usable.fill(0, Math.max(0, bin - margin), bin + margin + 1);
  });
  for (const slot of settings.slots) {
    const half = slot.widthMm / 2 + SLOT_MARGIN_MM;
    positionsMm.forEach((x, bin) => {
      if (Math.abs(x - slot.centreFromLeadingCornerMm) < half) usable[bin] = 0;
    });
  }
  const end = positionsMm[positionsMm.length - 1]! - FAR_END_MM;
  positionsMm.forEach((x, bin) => {
    if (x > end) usable[bin] = 0;
  });
  return usable;
}

/** Columns of equally long rows, in one go along the rows: going down each column misses the cache. */
function transposed(rows: readonly Float64Array[], count: number): readonly Float64Array[] {
  const all = new Float64Array(rows.length * count);
  for (const [i, row] of rows.entries()) {
    for (let k = 0; k < count; k += 1) all[k * rows.length + i] = row[k]!;
  }
  return Array.from({ length: count }, (_, k) => all.subarray(k * rows.length, (k + 1) * rows.length));
}

function makeBands(
  slices: readonly Float64Array[],
  spoilt: Uint8Array,
  usable: Uint8Array,
  hidden: readonly Uint8Array[] | undefined,
  { sliceMm, stepMm }: { readonly sliceMm: Mm; readonly stepMm: Mm },
  bottomMm: Mm,
  settings: PrintSettings,
): readonly Band[] {
  const perBand = slicesPerBand(sliceMm, settings);
  const columns = count(usable);
  const bands: Band[] = [];
  if (columns === 0) return bands;
  for (let start = 0; start + perBand <= slices.length; start += perBand) {
    const good: number[] = [];
    for (let i = start; i < start + perBand; i += 1) if (spoilt[i] === 0) good.push(i);
    if (good.length <= perBand / 2) continue;
    const missing = hidden && missingOf(good, hidden, usable);
    if (missing && hidesTooMuch(missing, usable, stepMm, settings.direction === 'alternates')) continue;
    const values = new Float64Array(usable.length);
    for (const i of good) {
      const slice = slices[i]!;
      for (let bin = 0; bin < values.length; bin += 1) values[bin] = values[bin]! + slice[bin]! / good.length;
    }
    if (missing !== undefined) bridge(values, missing, stepMm);
    const mean = values.reduce((sum, value, bin) => sum + usable[bin]! * value, 0) / columns;
    const middle = good.reduce((sum, i) => sum + i + 0.5, 0) / good.length;
    const heightMm = bottomMm + middle * sliceMm;
    // The whole band must be shaped, or its profile mixes two ways of moving.
    const half = (perBand / 2) * sliceMm - settings.layerHeightMm / 2;
    const [lower, upper] = [heightMm - half, heightMm + half].map((mm) => ladderIndexAt(settings.ladder, mm));
    const shaped = lower !== undefined && lower === upper;
    const step = accelerationStepOf(settings.accelerationLadder, heightMm - half, heightMm + half);
    bands.push({
      heightMm,
      ...(settings.ladder.kind === 'several' && shaped ? { ladder: lower } : {}),
      ...(step === undefined ? {} : { accelerationStep: step }),
      ladderHz: shaped ? ladderHzAt(settings.ladder, heightMm)?.value : undefined,
      values: values.map((value) => value - mean),
      ...(missing === undefined ? {} : { missing }),
    });
  }
  return bands;
}

/** Usable bins that any slice of a band does not show; undefined where all of them are there. */
function missingOf(
  good: readonly number[],
  hidden: readonly Uint8Array[],
  usable: Uint8Array,
): Uint8Array | undefined {
  const missing = usable.map((use, bin) => (use === 1 && good.some((i) => hidden[i]![bin] === 1) ? 1 : 0));
  return missing.includes(1) ? missing : undefined;
}

function count(flags: Uint8Array): number {
  return flags.reduce((sum, flag) => sum + flag, 0);
}

/**
 * How many slices a band has: where layers are printed in alternating directions an even number of layers, or more of one
 * direction would be in one band and more of the other in the next.
 */
function slicesPerBand(sliceMm: Mm, { direction, layerHeightMm }: PrintSettings): number {
  const even = direction === 'alternates' && Math.round(sliceMm / layerHeightMm) % 2 === 1;
  const unit = even ? 2 : 1;
  return unit * Math.max(1, Math.round(BAND_MM / sliceMm / unit));
}

/** A slot kicks the machine again, so a new wall starts behind it. */
function wallsOf(settings: PrintSettings, widthMm: Mm): readonly Wall[] {
  const slots = [...settings.slots].sort((a, b) => a.centreFromLeadingCornerMm - b.centreFromLeadingCornerMm);
  const starts: Wall[] = [];
  let startMm = 0;
  let startsAt: Wall['startsAt'] = 'leading-corner';
  for (const slot of slots) {
    starts.push({ startMm, endMm: slot.centreFromLeadingCornerMm - slot.widthMm / 2, startsAt });
    startMm = slot.centreFromLeadingCornerMm + slot.widthMm / 2;
    startsAt = 'slot';
  }
  return [...starts, { startMm, endMm: widthMm, startsAt }];
}
