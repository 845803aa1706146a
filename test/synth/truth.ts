import type { FaceRecipe } from './recipe.js';
import { residualOf, shaperOf, type DrawnFamily } from './shapers.js';

/** What a perfect reading of a face would say. */
export interface Truth {
  readonly dampedHz: number;
  readonly dampingRatio: number;
  /** Frequency of the shaper at which the axis rings least, near its own; of EI and its kin, what they are built for. */
  readonly nullHz: number;
}

/**
 * The truth of a face.
 * @param recipe - The face.
 * @returns Frequencies, Hz; without a ladder the null of a ZV shaper with the axis's own damping ratio.
 */
export function truthOf(recipe: FaceRecipe): Truth {
  const { naturalHz, dampingRatio } = recipe;
  const setting = recipe.ladder?.dampingRatio ?? dampingRatio;
  return {
    dampedHz: naturalHz * Math.sqrt(1 - dampingRatio ** 2),
    dampingRatio,
    // EI and its kin have zeros on both sides of what they are built for: the axis's own frequency is what to enter.
    nullHz:
      recipe.family?.endsWith('EI') === true
        ? naturalHz
        : leastRinging(recipe.family ?? 'ZV', setting, naturalHz, dampingRatio),
  };
}

/** The smallest within a factor of 1.6, on a grid and then by thirds. */
function leastRinging(family: DrawnFamily, setting: number, naturalHz: number, dampingRatio: number): number {
  const at = (hz: number) =>
    Math.hypot(...residualOf(shaperOf(family, hz, setting), naturalHz, dampingRatio));
  let best = naturalHz;
  for (let hz = naturalHz / 1.6; hz <= 1.6 * naturalHz; hz += naturalHz / 1000) {
    if (at(hz) < at(best)) best = hz;
  }
  let [low, high] = [best - naturalHz / 1000, best + naturalHz / 1000];
  while (high - low > 1e-7) {
    const third = (high - low) / 3;
    if (at(low + third) < at(high - third)) high -= third;
    else low += third;
  }
  return (low + high) / 2;
}
