import { combineSd, type Estimate } from '../core/estimate.js';
import { CHART_LIMIT, movingAverage, movingRangeSd } from '../signal/controlChart.js';
import type { AxisPoint } from './axisPoint.js';
import { changeOf, meanOf, type Change } from './change.js';

/** A value in the history of one axis. */
export interface TrendInput {
  /** What it is called: the logbook's entry. */
  readonly name: string;
  /** Day, ISO 8601; absent where it is not known. The order of the list counts, not the day. */
  readonly on?: string;
  readonly value: Estimate;
  /** Of a frequency: the route that it comes from. */
  readonly by?: AxisPoint['by'];
  /** What the user says has changed on the machine since the value before. */
  readonly changes: readonly string[];
}

/**
 * How a value stands to those before it.
 *
 * - `first`: the first of a stretch: nothing to hold it against, or it begins anew after a change that was told.
 * - `steady`: within the limits.
 * - `jumped`: more than 3 standard deviations of the difference from the mean of the stretch's baseline (Shewhart).
 * - `drifted`: the moving average has left its 3 standard deviations (Roberts).
 */
export type TrendState = 'first' | 'steady' | 'jumped' | 'drifted';

/** A value with how it stands to those before it. */
export interface TrendPoint extends TrendInput {
  readonly state: TrendState;
  /** What it is held against; absent of the first of all. */
  readonly baseline?: Estimate;
  /** Single values within these count as steady; absent where there is no baseline. */
  readonly limits?: { readonly low: number; readonly high: number };
  /** Held against the baseline before: of a value that moved, and of the first after a change that was told. */
  readonly since?: Change;
}

/** A stretch's first values are what later ones are held against: more would follow a drift. */
const BASELINE = 3;
/** With so many values their own scatter says how well a reading repeats. */
const ENOUGH_FOR_SCATTER = 8;

/**
 * Follows a value over time and tells where it moved. A change is called where a single value or the exponentially weighted
 * moving average leaves 3 standard deviations of its distance from the baseline, uncertainties of both included; there, and
 * where the user tells of a change on the machine, a new stretch begins.
 * @param inputs - In their order.
 * @returns As many points.
 * @see NIST/SEMATECH e-Handbook of Statistical Methods 6.3.1, 6.3.2.2 and 6.3.2.4: control limits, individuals charts, EWMA.
 */
export function followTrend(inputs: readonly TrendInput[]): readonly TrendPoint[] {
  const points: TrendPoint[] = [];
  let stretch: TrendInput[] = [];
  for (const input of inputs) {
    const point = judge(input, stretch);
    if (point.state !== 'steady') stretch = [];
    stretch.push(input);
    points.push(point);
  }
  return points;
}

function judge(input: TrendInput, stretch: readonly TrendInput[]): TrendPoint {
  if (stretch.length === 0) return { ...input, state: 'first' };
  const baseline = meanOf(stretch.slice(0, BASELINE).map(({ value }) => value));
  const own = withScatter(input.value, stretch);
  const limit = CHART_LIMIT * combineSd(own.sd, baseline.sd);
  const told = { ...input, baseline, limits: { low: baseline.value - limit, high: baseline.value + limit } };
  const since = changeOf(baseline, own);
  if (input.changes.length > 0) return { ...told, state: 'first', since };
  if (Math.abs(since.by.value) > limit) return { ...told, state: 'jumped', since };
  const later = [...stretch.slice(BASELINE).map(({ value }) => withScatter(value, stretch)), own];
  const average = movingAverage(later, baseline).at(-1);
  // The values of the baseline itself are not held against it.
  const drifted =
    stretch.length >= BASELINE &&
    average !== undefined &&
    Math.abs(average.value - baseline.value) > CHART_LIMIT * average.sd;
  return drifted ? { ...told, state: 'drifted', since } : { ...told, state: 'steady' };
}

/** A value is no surer than values of its stretch repeat. */
function withScatter(value: Estimate, stretch: readonly TrendInput[]): Estimate {
  if (stretch.length < ENOUGH_FOR_SCATTER) return value;
  return { value: value.value, sd: Math.max(value.sd, movingRangeSd(stretch.map((one) => one.value.value))) };
}
