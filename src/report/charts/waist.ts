import type { Mm } from '../../core/units.js';
import { decimals, withUnit } from '../format.js';
import { element, pathThrough } from '../svg.js';
import { horizontalAxis } from './axis.js';
import { ACCENT, DARK_TONE, HAIRLINE, INK, LIGHT_TONE, NOISE_GREY, PAPER } from './ink.js';
import { heightY, linearScale, roundTicks, type Column, type HeightScale } from './scale.js';

/** One height's ripples. Amplitudes are relative contrast. */
export interface WaistHeight {
  readonly heightMm: Mm;
  readonly amplitude?: { readonly value: number; readonly sd: number } | undefined;
  /** Only its sign is drawn: on which side of the reversal the height lies. */
  readonly signedAmplitude?: number | undefined;
  readonly fittedAmplitude?: number | undefined;
}

/** Half-width of the grey core in standard errors: the decision, too, asks for a signal above two. */
const NOISE_SDS = 2;

/** Steps of 1, 2 and 5 are up to 2.5 times what is asked for: with fewer, zero may be the only one inside. */
const LEAST_TICKS = 2.5;

interface Row {
  readonly y: number;
  /** Amplitude with the sign of its side, and whether a side is known. */
  readonly across: number;
  readonly hasSide: boolean;
  readonly noise: number;
}

/**
 * Amplitude against height as an envelope that is the same on both sides of a vertical line: it narrows where
 * ringing dies. The two tones change sides where the ripples turn over; noise is a grey core.
 * @param heights - From the bottom up.
 * @param scale - The shared vertical scale.
 * @param column - Its place.
 * @param largest - Amplitude at its edges. @default `largestAmplitude` of the heights
 * @returns A group, with labels up to 20 px below.
 * @throws {RangeError} When a number is not finite.
 */
export function waistChart(
  heights: readonly WaistHeight[],
  scale: HeightScale,
  column: Column,
  largest: number = largestAmplitude(heights),
): string {
  const { left, width } = column;
  const middle = left + width / 2;
  const axisLine = element('line', {
    x1: middle,
    y1: scale.topY,
    x2: middle,
    y2: scale.bottomY,
    stroke: HAIRLINE,
  });
  if (largest === 0) return element('g', { class: 'waist' }, axisLine);
  const across = linearScale([0, largest], [0, (width / 2) * 0.96]);
  const runs = runsOf(heights, (height): Row | undefined => {
    const { amplitude, signedAmplitude } = height;
    return (
      amplitude && {
        y: heightY(scale, height.heightMm),
        across: across(amplitude.value) * (signedAmplitude !== undefined && signedAmplitude < 0 ? -1 : 1),
        hasSide: signedAmplitude !== undefined,
        noise: across(Math.min(largest, NOISE_SDS * amplitude.sd)),
      }
    );
  });
  const fitted = runsOf(heights, ({ heightMm, fittedAmplitude }) =>
    fittedAmplitude === undefined
      ? undefined
      : { y: heightY(scale, heightMm), across: across(fittedAmplitude), hasSide: true, noise: 0 },
  );
  const side = (run: readonly Row[], sign: 1 | -1) =>
    run.map((row) => [middle + sign * row.across, row.y] as const);
  const envelope = runs.map((run) => {
    const hasSide = run.every((row) => row.hasSide);
    return (
      element('path', { d: half(side(run, 1), middle), fill: hasSide ? DARK_TONE : LIGHT_TONE }) +
      element('path', { d: half(side(run, -1), middle), fill: LIGHT_TONE }) +
      element('path', {
        d: pathThrough(side(run, 1)) + pathThrough(side(run, -1)),
        stroke: INK,
        'stroke-width': 0.8,
        fill: 'none',
      })
    );
  });
  const core = runs.map((run) => {
    const right = run.map((row) => [middle + row.noise, row.y] as const);
    const leftSide = run.map((row) => [middle - row.noise, row.y] as const).reverse();
    const d = pathThrough([...right, ...leftSide], true);
    // Grey alone stands out of neither tone nor paper: a line with a casing does (WCAG 2.2, 1.4.11).
    return (
      element('path', { d, fill: 'none', stroke: PAPER, 'stroke-width': 2.4 }) +
      element('path', { class: 'noise', d, fill: NOISE_GREY, stroke: INK, 'stroke-width': 0.7 })
    );
  });
  const fit = element('path', {
    class: 'fitted',
    d: fitted.map((run) => pathThrough(side(run, 1)) + pathThrough(side(run, -1))).join(''),
    stroke: ACCENT,
    'stroke-width': 1.4,
    fill: 'none',
  });
  return element(
    'g',
    { class: 'waist' },
    axisLine,
    ...envelope,
    ...core,
    fitted.length === 0 ? '' : fit,
    amplitudeAxis(),
  );

  function amplitudeAxis(): string {
    const ticks = roundTicks(0, largest * 100, Math.max(LEAST_TICKS, width / 90));
    const both = ticks.values.flatMap((value) => (value === 0 ? [0] : [-value, value]));
    const farthest = ticks.values.at(-1);
    const marks = both.map((value) => {
      const text = decimals(Math.abs(value), value === 0 ? 0 : ticks.digits);
      return { at: middle + across(value / 100), text: value === farthest ? withUnit(text, '%') : text };
    });
    return horizontalAxis(marks, [left, left + width], scale.bottomY, 'below');
  }
}

/**
 * The largest amplitude of a waist, measured or fitted: several waists that share it can be set side by side.
 * @param heights - The heights.
 * @returns Relative contrast; 0 where nothing was measured.
 */
export function largestAmplitude(heights: readonly WaistHeight[]): number {
  return Math.max(
    ...heights.map(({ amplitude, fittedAmplitude = 0 }) =>
      Math.max(amplitude?.value ?? 0, Math.abs(fittedAmplitude)),
    ),
    0,
  );
}

/** One side of the envelope, closed along the middle. */
function half(points: readonly (readonly [number, number])[], middle: number): string {
  const first = points[0];
  const last = points.at(-1);
  return first === undefined || last === undefined
    ? ''
    : pathThrough([[middle, first[1]], ...points, [middle, last[1]]], true);
}

/** Stretches of heights that have a row, each all with or all without a known side. */
function runsOf(
  heights: readonly WaistHeight[],
  rowOf: (height: WaistHeight) => Row | undefined,
): readonly (readonly Row[])[] {
  const runs: Row[][] = [];
  let open: Row[] | undefined;
  for (const height of heights) {
    const row = rowOf(height);
    if (row === undefined) {
      open = undefined;
    } else if (open?.at(-1)?.hasSide === row.hasSide) {
      open.push(row);
    } else {
      open = [row];
      runs.push(open);
    }
  }
  return runs;
}
