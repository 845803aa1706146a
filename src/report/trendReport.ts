import { interval95 } from '../core/estimate.js';
import type { AxisTrend } from '../history/axisTrends.js';
import type { TrendPoint } from '../history/trend.js';
import { halfWidth95 } from './format.js';
import { EXCHANGED } from './pairWords.js';
import { movedAdvice } from './sinceWords.js';
import { labelled, plainText } from './textReport.js';

/**
 * The history of axes as plain text for a terminal.
 * @param trends - One for each axis of a machine.
 * @returns Lines joined by newlines, with one at the end; all spaces are U+0020.
 */
export function trendReport(trends: readonly AxisTrend[]): string {
  if (trends.length === 0) return plainText(['No frequency has been measured yet.']);
  return trends
    .map((trend) =>
      plainText([
        trendVerdict(trend),
        ...labelled(
          'hertz',
          trend.frequency.map((point) => line(point, 'Hz')),
        ),
        ...labelled(
          'damping',
          trend.damping.map((point) => line(point, '')),
        ),
        ...labelled(
          'note',
          trend.exchanged === undefined ? [] : [`With axis ${trend.exchanged}: ${EXCHANGED}`],
        ),
        ...labelled('next', trendAdvice(trend)),
      ]),
    )
    .join('\n');
}

/**
 * What the history of an axis comes to.
 * @param trend - The axis.
 * @returns Which axis, its latest frequency, and whether it has moved, with two spaces or more between them.
 */
export function trendVerdict({ machine, axis, frequency }: AxisTrend): string {
  const head = `Axis ${axis} of ${machine ?? 'a machine without a name'}`;
  const last = frequency.at(-1);
  if (last === undefined) return `${head}   no frequency was measured`;
  const now = halfWidth95(interval95(last.value), 'Hz');
  const moved = frequency.findLast(({ state, since }) => state !== 'steady' && since?.changed === true);
  if (moved?.since === undefined) {
    const many = `steady over ${String(frequency.length)} readings`;
    return `${head}   ${now}   ${frequency.length === 1 ? 'the first reading' : many}`;
  }
  const { value, sd } = moved.since.by;
  const by = halfWidth95(interval95({ value: Math.abs(value), sd }), 'Hz');
  return `${head}   ${now}   moved ${value < 0 ? 'down' : 'up'} by ${by} at ${moved.name}`;
}

/**
 * What to do about the history of an axis.
 * @param trend - The axis.
 * @returns One line or more.
 */
export function trendAdvice({ frequency, changesSince, exchanged }: AxisTrend): readonly string[] {
  const last = frequency.at(-1);
  const state = last?.state;
  const moved = state === 'jumped' || state === 'drifted';
  const told = changesSince.length > 0;
  return [
    ...(told ? [`measure again: since the last reading this was changed: ${changesSince.join(', ')}`] : []),
    ...(moved && exchanged === undefined ? [movedAdvice([last?.by])] : []),
    ...(told || moved
      ? []
      : ['measure again after anything that moves the frequency: belts, nozzle or tool, bed, feet, frame']),
  ];
}

function line(point: TrendPoint, unit: string): string {
  const { name, on, value, changes } = point;
  const when = on === undefined ? '' : ` ${on}`;
  const told = changes.length === 0 ? '' : `, after ${changes.join(', ')}`;
  return `${name}${when}   ${halfWidth95(interval95(value), unit)}   ${stateWords(point, unit)}${told}`;
}

/** One reading in the history of an axis, in words. */
export interface TrendRow {
  readonly name: string;
  /** Day, ISO 8601; empty where it is not known. */
  readonly on: string;
  readonly frequency: string;
  /** How the frequency stands to those before it. */
  readonly state: string;
  /** Empty where it was not measured. */
  readonly damping: string;
  /** What was changed on the machine since the reading before; empty for nothing. */
  readonly changes: string;
}

/**
 * The history of an axis as a table.
 * @param trend - The axis.
 * @returns One row for each frequency, in their order.
 */
export function trendRows({ frequency, damping }: AxisTrend): readonly TrendRow[] {
  return frequency.map((point) => {
    const ratio = damping.find(({ name }) => name === point.name);
    return {
      name: point.name,
      on: point.on ?? '',
      frequency: halfWidth95(interval95(point.value), 'Hz'),
      state: stateWords(point, 'Hz'),
      damping: ratio === undefined ? '' : halfWidth95(interval95(ratio.value)),
      changes: point.changes.join(', '),
    };
  });
}

function stateWords({ state, since }: TrendPoint, unit: string): string {
  const by = since === undefined ? '' : ` by ${halfWidth95(since.by, unit)}`;
  switch (state) {
    case 'steady':
      return 'steady';
    case 'jumped':
      return `moved${by}`;
    case 'drifted':
      return `has moved little by little, now${by}`;
    case 'first':
      if (since === undefined) return 'the first';
      return since.changed ? `moved${by}` : 'not moved, as far as can be told';
  }
}
