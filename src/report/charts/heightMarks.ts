import type { Mm } from '../../core/units.js';
import { element, pathThrough } from '../svg.js';
import { ACCENT, PAPER } from './ink.js';
import { heightY, type Column, type HeightScale } from './scale.js';

/** The heights that a proposal names. */
export interface BandMarks {
  readonly bestHeightMm: Mm;
  readonly cleanBandMm: { readonly low: Mm; readonly high: Mm };
}

/**
 * A cleanest band as a pale veil with clear edges.
 * @param marks - Its heights.
 * @param scale - The shared vertical scale; the band is cut off at its ends.
 * @param column - From where to where it runs.
 * @returns A group.
 * @throws {RangeError} When a height is not finite.
 */
export function bandVeil(marks: BandMarks, scale: HeightScale, { left, width }: Column): string {
  const inside = (heightMm: Mm) => Math.min(scale.topMm, Math.max(scale.bottomMm, heightMm));
  const top = heightY(scale, inside(marks.cleanBandMm.high));
  const bottom = heightY(scale, inside(marks.cleanBandMm.low));
  const edges = [top, bottom]
    .map((y) =>
      pathThrough([
        [left, y],
        [left + width, y],
      ]),
    )
    .join('');
  return element(
    'g',
    { class: 'band' },
    element('rect', { x: left, y: top, width, height: bottom - top, fill: ACCENT, 'fill-opacity': 0.13 }),
    element('path', { d: edges, stroke: ACCENT, 'stroke-width': 0.75, 'stroke-opacity': 0.7, fill: 'none' }),
  );
}

/**
 * A best height as a thin line; a casing of paper keeps it visible on any print.
 * @param marks - Its heights.
 * @param scale - The shared vertical scale.
 * @param column - From where to where it runs.
 * @returns A group.
 * @throws {RangeError} When a height is not finite.
 */
export function bestLine(marks: BandMarks, scale: HeightScale, { left, width }: Column): string {
  const y = heightY(scale, marks.bestHeightMm);
  const line = { x1: left, y1: y, x2: left + width, y2: y };
  return element(
    'g',
    { class: 'best' },
    element('line', { ...line, stroke: PAPER, 'stroke-width': 3.5, 'stroke-opacity': 0.65 }),
    element('line', { ...line, stroke: ACCENT, 'stroke-width': 1.4 }),
  );
}
