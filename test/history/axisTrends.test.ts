import { describe, expect, test } from 'vitest';
import { axisTrends, type HistoryEntry } from '../../src/history/axisTrends.js';
import type { Reading } from '../../src/reading/schema.js';
import { trendReport } from '../../src/report/trendReport.js';
import { bareRefusal, proposedReading } from '../report/fixtures.js';

/** A reading of an axis with a frequency. */
function reading(axis: string, hz: number, machine?: string): Reading {
  const one = proposedReading();
  const { proposal, printRecord } = one;
  if (proposal.state !== 'proposed') throw new Error('expected a proposal');
  const frequencyHz = { value: hz, sd: 0.2, low95: hz - 0.4, high95: hz + 0.4 };
  return {
    ...one,
    printRecord: { ...printRecord, axis, machine },
    proposal: { ...proposal, axis, frequencyHz },
  };
}

const entries = (...parts: readonly Omit<HistoryEntry, 'name'>[]): HistoryEntry[] =>
  parts.map((part, i) => ({ name: `entry ${String(i + 1)}`, ...part }));
const of = (axis: string, hz: number, machine = 'north', changes: readonly string[] = []) => ({
  reading: reading(axis, hz, machine),
  changes,
});

describe('axisTrends', () => {
  test('each axis of each machine by itself, in the order of their first readings', () => {
    const trends = axisTrends(entries(of('Y', 41), of('X', 50), of('Y', 41.1), of('Y', 60, 'south')));
    expect(trends.map(({ machine, axis, frequency }) => [machine, axis, frequency.length])).toEqual([
      ['north', 'Y', 2],
      ['north', 'X', 1],
      ['south', 'Y', 1],
    ]);
  });

  test('a change that is told counts for all axes of its machine, and for no other machine', () => {
    const [y, x, south] = axisTrends(
      entries(
        of('Y', 41),
        of('X', 50),
        of('Y', 60, 'south'),
        { changes: ['belt-tension'], machine: 'north' },
        of('Y', 43),
        of('X', 52),
        of('Y', 60, 'south'),
      ),
    );
    expect(y!.frequency.at(-1)).toMatchObject({ state: 'first', changes: ['belt-tension'] });
    expect(y!.frequency.at(-1)!.since!.changed).toBe(true);
    expect(x!.frequency.at(-1)!.changes).toEqual(['belt-tension']);
    expect(south!.frequency.at(-1)).toMatchObject({ state: 'steady', changes: [] });
  });

  test('what was changed since the last reading asks for another', () => {
    const trends = axisTrends(entries(of('Y', 41), { changes: ['nozzle'] }));
    expect(trends[0]!.changesSince).toEqual(['nozzle']);
    expect(trendReport(trends)).toMatch(/measure again: since the last reading this was changed: nozzle/);
  });

  test('a refusal is no value, and what was changed before it counts for the next', () => {
    const refusal = { reading: bareRefusal(), changes: ['feet'] };
    const machine = bareRefusal().printRecord.machine!;
    const [trend] = axisTrends(entries(of('Y', 41, machine), refusal, of('Y', 41, machine)));
    expect(trend!.frequency.map(({ changes }) => changes)).toEqual([[], ['feet']]);
  });

  test('a pair that fits its history better exchanged is told on both axes', () => {
    const trends = axisTrends(entries(of('Y', 41), of('X', 50), of('Y', 49.9), of('X', 41.1)));
    expect(trends.map(({ exchanged }) => exchanged)).toEqual(['X', 'Y']);
    expect(trendReport(trends)).toMatch(
      /With axis X: Both values fit the history of their machine better the other way round/,
    );
    const steady = axisTrends(entries(of('Y', 41), of('X', 50), of('Y', 41.1), of('X', 50)));
    expect(steady.every(({ exchanged }) => exchanged === undefined)).toBe(true);
  });

  test('says what moved, by how much and where', () => {
    const trends = axisTrends(entries(of('Y', 41), of('Y', 41), of('Y', 44)));
    expect(trendReport(trends)).toMatch(
      /^Axis Y of north {3}44\.0 Hz ± 0\.4 {3}moved up by 3\.0 Hz ± \S+ at entry 3$/m,
    );
    expect(trendReport([])).toMatch(/No frequency/);
  });
});
