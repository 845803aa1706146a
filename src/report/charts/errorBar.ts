import { element, pathThrough } from '../svg.js';

const CAP_PX = 4;

/**
 * A vertical bar with caps: what a value may be.
 * @param atX - Where it stands, px.
 * @param ends - Its upper and lower end, px.
 * @param stroke - Its colour.
 * @param capPx - Half the width of its caps. @default 4
 * @returns A path.
 * @throws {RangeError} When a position is not finite.
 */
export function errorBar(
  atX: number,
  [high, low]: readonly [high: number, low: number],
  stroke: string,
  capPx: number = CAP_PX,
): string {
  const lines = [
    [
      [atX, high],
      [atX, low],
    ],
    [
      [atX - capPx, high],
      [atX + capPx, high],
    ],
    [
      [atX - capPx, low],
      [atX + capPx, low],
    ],
  ] as const;
  return element('path', { d: lines.map((line) => pathThrough(line)).join(''), stroke, fill: 'none' });
}
