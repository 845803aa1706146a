import type { Mm } from '../../core/units.js';
import { decimals, withUncertainty, withUnit } from '../format.js';
import { element } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { heatColour } from './heatColours.js';
import { bestLine, type BandMarks } from './heightMarks.js';
import { HAIRLINE, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks, type Column, type HeightScale } from './scale.js';
import { textWidth } from './textWidth.js';

/** A heat map as a picture. */
export interface HeatData {
  /** A picture in a data URI that spans the shared vertical scale. */
  readonly dataUri: string;
  /** From the leading corner to its right edge. */
  readonly widthMm: Mm;
  /** Relative contrast of the strongest colour. */
  readonly limit: number;
}

/** Samples of the colours in the legend. */
const SAMPLES = 9;
const SAMPLE_PX = { width: 6, height: 8 } as const;

/**
 * Contrast of brightness along the wall at each height, in colours; above it what the colours mean.
 * @param data - The picture.
 * @param scale - The shared vertical scale.
 * @param column - Its place.
 * @param marks - The best heights, which are drawn through it.
 * @returns A group, with labels up to 20 px above and below.
 * @throws {RangeError} When a number is not finite.
 */
export function heatChart(
  data: HeatData,
  scale: HeightScale,
  column: Column,
  marks: readonly BandMarks[],
): string {
  const { left, width } = column;
  const { topY, bottomY } = scale;
  const box = { x: left, y: topY, width, height: bottomY - topY };
  const x = linearScale([0, data.widthMm], [left, left + width]);
  const { values, digits } = roundTicks(0, data.widthMm, Math.max(2, width / 50));
  const last = values.at(-1);
  const ticks = values.map((value) => ({
    at: x(value),
    text: withUnit(decimals(value, digits), value === last ? 'mm' : ''),
  }));
  return element(
    'g',
    { class: 'heat' },
    element('image', {
      ...box,
      preserveAspectRatio: 'none',
      href: data.dataUri,
    }),
    element('rect', { ...box, fill: 'none', stroke: HAIRLINE }),
    ...marks.map((one) => bestLine(one, scale, column)),
    legend(data.limit, left, topY - 6),
    horizontalAxis(ticks, [left, left + width], bottomY, 'below', 0),
  );
}

function legend(limit: number, left: number, bottom: number): string {
  const share = withUncertainty({ value: 0, sd: 100 * limit }).sd;
  const [low, high] = [`−${share}`, withUnit(`+${share}`, '%')];
  const first = left + textWidth(low, SIZES.label) + 4;
  const samples = Array.from({ length: SAMPLES }, (_, i) => {
    const [red, green, blue] = heatColour((2 * i) / (SAMPLES - 1) - 1);
    const code = [red, green, blue].map((part) => part.toString(16).padStart(2, '0')).join('');
    return element('rect', {
      x: first + i * SAMPLE_PX.width,
      y: bottom - SAMPLE_PX.height,
      ...SAMPLE_PX,
      fill: `#${code}`,
    });
  });
  return [
    label(low, left, bottom, { fill: SOFT_INK }),
    ...samples,
    label(high, first + SAMPLES * SAMPLE_PX.width + 4, bottom, { fill: SOFT_INK }),
  ].join('');
}
