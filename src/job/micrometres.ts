/**
 * Rounds to a millionth: what sums and differences of a job's words add below is no part of them.
 * @param value - A length, mm, or a speed, mm/s.
 * @returns The value to six decimals.
 */
export function micrometres(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
