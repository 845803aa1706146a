import type { Mm } from '../core/units.js';
import { median } from '../signal/median.js';
import { NEAR_CORNER_MM, type Slices } from './penLine.js';

/** A patch of the wall that is burnt out. Mm from the leading corner, and above the face's lower edge. */
export interface GlarePatch {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly lowMm: Mm;
  readonly highMm: Mm;
}

/** Patches that are burnt out, and where nothing can be read for them. */
export interface Glare {
  readonly patches: readonly GlarePatch[];
  /** 1 where a bin of a slice is burnt out or lies beside one that is; undefined where there is no patch. */
  readonly mask: readonly Uint8Array[] | undefined;
}

/** Light of a bin that is burnt out, of white: what is left to noise and JPEG's rounding. */
const BURNT = Math.log(0.96);
/** A ripple's crest is burnt out over less than a spacing; a patch is wider. */
const LEAST_PATCH_MM: Mm = 4;
/** Around a patch px are partly burnt out: left out as well, mm along the wall and over the height. */
const MARGIN_MM = { alongWall: 1, overHeight: 0.6 } as const;
/** A band of which a patch hides more than this share is left out. */
const MOST_HIDDEN = 1 / 3;
/** Brightness at a patch's rim is read over so much wall. */
const RIM_MM: Mm = 1;

/**
 * Finds where a lamp's reflection has burnt out the wall.
 * @param slices - The face by slices.
 * @returns The patches, each the box around what hangs together, and the bins to leave out.
 */
export function findGlare({ rows, sliceMm, stepMm }: Slices): Glare {
  const bins = rows[0]?.length ?? 0;
  const burnt = rows.map((row) => Uint8Array.from(row, (value) => (value > BURNT ? 1 : 0)));
  const mask = rows.map(() => new Uint8Array(bins));
  const seen = rows.map(() => new Uint8Array(bins));
  const patches: GlarePatch[] = [];
  const [aside, above] = [Math.ceil(MARGIN_MM.alongWall / stepMm), Math.ceil(MARGIN_MM.overHeight / sliceMm)];
  const least = Math.ceil(LEAST_PATCH_MM / stepMm);
  for (const [slice, row] of burnt.entries()) {
    for (let bin = 0; bin + least <= bins; bin += 1) {
      if (seen[slice]![bin] === 1 || !row.subarray(bin, bin + least).every((is) => is === 1)) continue;
      const places = connected(burnt, seen, slice, bin);
      for (const [place, at] of places) {
        for (let i = Math.max(0, place - above); i <= Math.min(rows.length - 1, place + above); i += 1) {
          mask[i]!.fill(1, Math.max(0, at - aside), at + aside + 1);
        }
      }
      const [slices, columns] = [places.map(([place]) => place), places.map(([, at]) => at)];
      patches.push({
        fromMm: smallest(columns) * stepMm,
        toMm: (largest(columns) + 1) * stepMm,
        lowMm: smallest(slices) * sliceMm,
        highMm: (largest(slices) + 1) * sliceMm,
      });
    }
  }
  return { patches, mask: patches.length === 0 ? undefined : mask };
}

const smallest = (values: readonly number[]) => values.reduce((a, b) => Math.min(a, b), Infinity);
const largest = (values: readonly number[]) => values.reduce((a, b) => Math.max(a, b), -Infinity);

/** All burnt bins that hang together with one, over edges. */
function connected(
  burnt: readonly Uint8Array[],
  seen: readonly Uint8Array[],
  slice: number,
  bin: number,
): readonly (readonly [slice: number, bin: number])[] {
  const places: (readonly [number, number])[] = [[slice, bin]];
  seen[slice]![bin] = 1;
  for (let next = 0; next < places.length; next += 1) {
    const [i, k] = places[next]!;
    for (const [a, b] of [
      [i - 1, k],
      [i + 1, k],
      [i, k - 1],
      [i, k + 1],
    ] as const) {
      if (burnt[a]?.[b] !== 1 || seen[a]![b] === 1) continue;
      seen[a]![b] = 1;
      places.push([a, b]);
    }
  }
  return places;
}

/**
 * Bridges what is missing of a profile, for whatever cannot leave it out: straight from one rim to the other.
 * @param values - Log brightness, shape (bins,); changed.
 * @param missing - 1 where it is missing, shape (bins,).
 * @param stepMm - Width of a bin.
 */
export function bridge(values: Float64Array, missing: Uint8Array, stepMm: Mm): void {
  const rim = Math.max(1, Math.round(RIM_MM / stepMm));
  for (let first = 0; first < values.length; first += 1) {
    if (missing[first] === 0) continue;
    let last = first;
    while (last + 1 < values.length && missing[last + 1] === 1) last += 1;
    const level = (from: number, to: number) => {
      const known = Array.from(values.subarray(Math.max(0, from), to)).filter(
        (_, i) => missing[Math.max(0, from) + i] === 0,
      );
      return known.length === 0 ? undefined : median(known);
    };
    const before = level(first - rim, first);
    const after = level(last + 1, last + 1 + rim);
    const [left, right] = [before ?? after ?? 0, after ?? before ?? 0];
    for (let i = first; i <= last; i += 1) {
      values[i] = left + ((right - left) * (i - first + 1)) / (last - first + 2);
    }
    first = last;
  }
}

/**
 * Whether too much of a profile is missing to be drawn in: of all of it, or of where a corner's ripples are strongest.
 * @param missing - 1 where it is missing, shape (bins,).
 * @param usable - 1 where a column may be used, shape (bins,).
 * @param stepMm - Width of a bin.
 * @param bothEnds - The wall rings from its far end as well.
 * @returns True where more than a third is missing of any of them.
 */
export function hidesTooMuch(
  missing: Uint8Array,
  usable: Uint8Array,
  stepMm: Mm,
  bothEnds: boolean,
): boolean {
  const near = Math.ceil(NEAR_CORNER_MM / stepMm);
  const share = (from: number, to: number) => {
    let [hidden, all] = [0, 0];
    for (let bin = Math.max(0, from); bin < Math.min(to, usable.length); bin += 1) {
      all += usable[bin]!;
      hidden += usable[bin]! * missing[bin]!;
    }
    return hidden > MOST_HIDDEN * all;
  };
  const end = usable.length;
  return share(0, end) || share(0, near) || (bothEnds && share(end - near, end));
}
