import type { Mm, MmPerS2 } from '../core/units.js';

/** A stretch of height of a proof print that was printed with one acceleration. */
export interface AccelerationStep {
  readonly fromMm: Mm;
  readonly toMm: Mm;
  readonly mmPerS2: MmPerS2;
}

/** A tenth of a usual layer: heights of a band and of a step are rounded apart from each other. */
const ROUNDING_MM: Mm = 0.02;

/**
 * The step of an acceleration ladder that holds a whole stretch of height: a profile over more than one step mixes
 * two ways of moving.
 * @param steps - The ladder; undefined: none was told.
 * @param lowMm - Lower end above the bed.
 * @param highMm - Upper end above the bed.
 * @returns Its index, or undefined where the acceleration changes in between or nothing is told of it.
 */
export function accelerationStepOf(
  steps: readonly AccelerationStep[] | undefined,
  lowMm: Mm,
  highMm: Mm,
): number | undefined {
  const index = (steps ?? []).findIndex(
    ({ fromMm, toMm }) => lowMm >= fromMm - ROUNDING_MM && highMm <= toMm + ROUNDING_MM,
  );
  return index < 0 ? undefined : index;
}
