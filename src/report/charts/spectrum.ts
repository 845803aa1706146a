import type { Hz } from '../../core/units.js';
import { interval95 } from '../../core/estimate.js';
import { decimals, halfWidth95, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { contrastAxis } from './contrastAxis.js';
import { INK, LIGHT_TONE, SIZES, SOFT_INK } from './ink.js';
import { label } from './label.js';
import { linearScale, roundTicks, type Frame } from './scale.js';
import { textWidth } from './textWidth.js';

/** Spectrum of one profile in travel time; it knows nothing of the ladder. */
export interface SpectrumData {
  /** Spacing of the bins; the first stands at 0. */
  readonly binHz: Hz;
  /** Relative contrast, shape (bins,). */
  readonly amplitude: ArrayLike<number>;
  readonly peakHz: { readonly value: Hz; readonly sd: Hz };
  readonly peakAmplitude: number;
  readonly noiseFloor: number;
  /** Whether the peak stands out of the noise. */
  readonly significant: boolean;
}

/**
 * Amplitude against frequency, with the noise floor and the peak.
 * @param data - The spectrum.
 * @param frame - Its place.
 * @param limits - Frequency at the right edge and relative contrast at the upper one, so that two spectra can
 * share a scale.
 * @returns A group, with labels up to 20 px below and 40 px to the left, none at the right.
 * @throws {RangeError} When a number is not finite.
 */
export function spectrumChart(
  data: SpectrumData,
  frame: Frame,
  limits: { readonly hz: Hz; readonly amplitude: number },
): string {
  const { left, top, width, height } = frame;
  const bottom = top + height;
  const right = left + width;
  const x = linearScale([0, limits.hz], [left, right]);
  const y = linearScale([0, limits.amplitude], [bottom, top]);
  const clamp = (value: number) => y(Math.min(limits.amplitude, value));
  const curve = Array.from(data.amplitude)
    .map((value, bin) => [bin * data.binHz, value] as const)
    .filter(([hz]) => hz <= limits.hz)
    .map(([hz, value]) => [x(hz), clamp(value)] as const);
  const lastX = curve.at(-1)?.[0] ?? left;
  const { values, digits } = roundTicks(0, limits.hz, width / 60);
  const last = values.at(-1);
  const ticks = values.map((value) => ({
    at: x(value),
    text: withUnit(decimals(value, digits), value === last ? 'Hz' : ''),
  }));
  const floorY = clamp(data.noiseFloor);
  return element(
    'g',
    { class: 'spectrum' },
    contrastAxis([0, limits.amplitude], y, [left, right]),
    element('path', {
      d: pathThrough([[left, bottom], ...curve, [lastX, bottom]], true),
      fill: LIGHT_TONE,
      'fill-opacity': 0.55,
    }),
    element('path', { d: pathThrough(curve), stroke: INK, 'stroke-width': 1, fill: 'none' }),
    element('line', {
      x1: left,
      y1: floorY,
      x2: right,
      y2: floorY,
      stroke: SOFT_INK,
      'stroke-dasharray': '2 3',
    }),
    peak(),
    horizontalAxis(ticks, [left, right], bottom, 'below', 0),
  );

  function peak(): string {
    if (!data.significant)
      return label('nothing stands out', right, top + 12, { fill: SOFT_INK, anchor: 'end' });
    if (data.peakHz.value > limits.hz) {
      const beyond = `highest at ${halfWidth95(interval95(data.peakHz), 'Hz')}, beyond this scale`;
      return label(beyond, right, top + 12, { fill: SOFT_INK, anchor: 'end' });
    }
    const at = x(data.peakHz.value);
    const peakY = clamp(data.peakAmplitude);
    const text = halfWidth95(interval95(data.peakHz), 'Hz');
    const roomAtRight = at + 12 + textWidth(text, SIZES.note, true) < right;
    const wedge: (readonly [number, number])[] = [
      [at, peakY - 3],
      [at - 4, peakY - 10],
      [at + 4, peakY - 10],
    ];
    return (
      element('path', { class: 'peak', d: pathThrough(wedge, true), fill: INK }) +
      label(text, roomAtRight ? at + 10 : at - 10, peakY - 1, {
        sizePx: SIZES.note,
        bold: true,
        anchor: roomAtRight ? 'start' : 'end',
      })
    );
  }
}
