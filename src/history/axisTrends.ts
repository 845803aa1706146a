import type { AnyReading } from '../reading/jointSchema.js';
import { axisPointOf, type AxisPoint } from './axisPoint.js';
import { meanOf } from './change.js';
import { swapGuard, type SwapGuard } from './swapGuard.js';
import { followTrend, type TrendInput, type TrendPoint } from './trend.js';

/** Something that was kept: a reading, or a note of what was changed. */
export interface HistoryEntry {
  /** What it is called. */
  readonly name: string;
  /** The machine that a note is about; of a reading its record tells. Absent: of all. */
  readonly machine?: string;
  /** What the user says has changed on the machine since before. */
  readonly changes: readonly string[];
  readonly reading?: AnyReading;
}

/** What is followed over time, of one axis of one machine. */
export interface AxisTrend {
  /** Absent where the records name none. */
  readonly machine?: string;
  readonly axis: string;
  /** Ladder frequency at which the axis rings least, Hz. */
  readonly frequency: readonly TrendPoint[];
  readonly damping: readonly TrendPoint[];
  /** What the user says has changed since the last reading. */
  readonly changesSince: readonly string[];
  /** The machine's other axis, where the last readings of both fit their histories better exchanged. */
  readonly exchanged?: string;
}

/**
 * Follows each axis of each machine over time.
 * @param history - What was kept, in its order.
 * @returns One trend for each axis that has a reading, in the order of their first readings. A change that is told with a
 * reading or a note counts for all axes of its machine, up to the next frequency of each.
 */
export function axisTrends(history: readonly HistoryEntry[]): readonly AxisTrend[] {
  const kept = history.map((entry): Kept => {
    const point = entry.reading && axisPointOf(entry.reading);
    const machine = point === undefined ? entry.machine : point.machine;
    return { name: entry.name, changes: entry.changes, ...(machine === undefined ? {} : { machine }), point };
  });
  const axes = new Map(
    kept.flatMap(({ machine, point }) =>
      point === undefined ? [] : [[JSON.stringify([machine, point.axis]), { machine, axis: point.axis }]],
    ),
  );
  const trends = [...axes.values()].map(({ machine, axis }): AxisTrend => {
    const own = kept.filter(({ machine: of, point }) => of === machine || (of === undefined && !point));
    const frequency = valuesOf(own, axis, 'frequencyHz');
    return {
      ...(machine === undefined ? {} : { machine }),
      axis,
      frequency: followTrend(frequency.inputs),
      damping: followTrend(valuesOf(own, axis, 'dampingRatio').inputs),
      changesSince: frequency.changesSince,
    };
  });
  return trends.map((trend) => {
    const others = trends.filter((one) => one !== trend && one.machine === trend.machine);
    const other = others.find((one) => exchanged(trend, one));
    return other === undefined ? trend : { ...trend, exchanged: other.axis };
  });
}

/** An entry with what it says of its axis; a note says nothing. */
interface Kept {
  readonly name: string;
  readonly machine?: string;
  readonly changes: readonly string[];
  readonly point: AxisPoint | undefined;
}

function valuesOf(
  kept: readonly Kept[],
  axis: string,
  what: 'frequencyHz' | 'dampingRatio',
): { readonly inputs: readonly TrendInput[]; readonly changesSince: readonly string[] } {
  const inputs: TrendInput[] = [];
  let changes: readonly string[] = [];
  for (const { name, point, changes: told } of kept) {
    changes = [...changes, ...told];
    const value = point?.axis === axis ? point[what] : undefined;
    if (value === undefined) continue;
    inputs.push({
      name,
      ...(point?.on === undefined ? {} : { on: point.on }),
      value,
      ...(what === 'dampingRatio' || point?.by === undefined ? {} : { by: point.by }),
      changes,
    });
    changes = [];
  }
  return { inputs, changesSince: changes };
}

/**
 * Holds two readings of one machine against what its two axes were before them, as told and exchanged.
 * @param trends - The machine's axes.
 * @param names - The two readings, as the trends name them.
 * @returns The verdict; undefined where nothing can be told.
 */
export function pairGuard(
  trends: readonly AxisTrend[],
  names: readonly [string, string],
): SwapGuard | undefined {
  const [a, b] = names.map((name) => {
    for (const { frequency } of trends) {
      const at = frequency.findIndex((point) => point.name === name);
      const [now, before] = [frequency[at]?.value, frequency.slice(0, Math.max(at, 0))];
      if (now !== undefined && before.length > 0)
        return { now, before: meanOf(before.map(({ value }) => value)) };
    }
    return undefined;
  });
  return a && b && swapGuard(a, b);
}

function exchanged(one: AxisTrend, other: AxisTrend): boolean {
  const [a, b] = [one.frequency.at(-1), other.frequency.at(-1)];
  return a !== undefined && b !== undefined && pairGuard([one, other], [a.name, b.name])?.swapped === true;
}
