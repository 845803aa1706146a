import type { AnyReading } from './jointSchema.js';

/**
 * How the axis's natural frequency and the ladder frequency of its null stand to each other. They differ where the machine
 * takes the damped frequency, and where the test was printed with another damping ratio than the axis has.
 * @param reading - A reading of one photo or several.
 * @returns Natural (undamped) frequency ÷ ladder frequency; undefined where there is no fit along the ladder.
 */
export function naturalPerLadder({ nullFit }: AnyReading): number | undefined {
  return nullFit === undefined ? undefined : nullFit.naturalHz / nullFit.nullHz.value;
}
