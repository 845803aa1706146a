import { describe, expect, test } from 'vitest';
import { axisTrends, type HistoryEntry } from '../../src/history/axisTrends.js';
import { drawTrends, MOST_TRENDS } from '../../src/report/trendPicture.js';
import { proposedReading } from './fixtures.js';
import { expectGolden } from './golden.js';

function entry(number: number, axis: string, hz: number, changes: readonly string[] = []): HistoryEntry {
  const reading = proposedReading();
  const { proposal, printRecord, photos } = reading;
  if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
  const takenAt = `2026-0${1 + Math.floor(number / 4)}-04T10:00:00`;
  return {
    name: `entry ${number}`,
    changes,
    reading: {
      ...reading,
      printRecord: { ...printRecord, axis },
      photos: [{ ...photos[0]!, takenAt }],
      proposal: { ...proposal, axis, frequencyHz: { value: hz, sd: 0.2, low95: hz - 0.4, high95: hz + 0.4 } },
    },
  };
}

/** Y moves by a told change, and at the end both axes look exchanged. */
const HISTORY = [
  ...[41, 41.2, 40.9].map((hz, i) => entry(i, 'Y', hz)),
  ...[52, 52.2].map((hz, i) => entry(3 + i, 'X', hz)),
  entry(5, 'Y', 42.6, ['belt-tension']),
  entry(6, 'Y', 42.5),
  entry(7, 'Y', 52.3),
  entry(8, 'X', 42.4),
  { name: 'entry 9', changes: ['bed'], machine: 'north bench 3' },
];

const OF_X = ['entry 3', 'entry 4', 'entry 8'];

describe('the chart of a trend', () => {
  test('was looked at', () => {
    expectGolden('trend', drawTrends(axisTrends(HISTORY)));
  });

  test('has a bar for each value, a diamond where one moved, and a dashed line for each change told', () => {
    const svg = drawTrends(axisTrends(HISTORY.filter(({ name }) => !OF_X.includes(name))));
    const [frequency = '', damping = ''] = svg.split('>Damping ratio<');
    expect([frequency, damping].map((part) => part.match(/<circle /g)?.length)).toEqual([4, 6]);
    expect(frequency.match(/Z" fill="#8c2f5f"/g)).toHaveLength(2);
    expect(frequency).toMatch(/>\+1\.6\u2009Hz</);
    expect(svg.match(/stroke-dasharray/g)).toHaveLength(2);
    expect(svg).toContain('>belt-tension<');
    expect(svg).toContain('>bed<');
    expect(svg).not.toMatch(/like axis/);
  });

  test('asks where both axes fit their history better exchanged', () => {
    const svg = drawTrends(axisTrends(HISTORY));
    expect(svg).toMatch(/like axis X\?/);
    expect(svg).toMatch(/like axis Y\?/);
    expect(svg).toMatch(/<desc[^>]*>[^<]*the other way round/);
  });

  test('is there for one value, for none, and not for more than can be looked at', () => {
    const one = drawTrends(axisTrends([entry(1, 'Y', 41)]));
    expect(one).not.toMatch(/NaN|Infinity|undefined/);
    expect(one).toMatch(/the first reading/);
    expect(drawTrends([])).toMatch(/No frequency has been measured yet/);
    const [trend] = axisTrends([entry(1, 'Y', 41)]);
    expect(() => drawTrends(Array.from({ length: MOST_TRENDS + 1 }, () => trend!))).toThrow(/at most 40/);
  });

  test('of a thousand values stays inside its frame', () => {
    const many = Array.from({ length: 1000 }, (_, i) => entry(i % 30, 'Y', 41 + Math.sin(i)));
    const [trend] = axisTrends(many.map((one, i) => ({ ...one, name: `entry ${i}` })));
    const svg = drawTrends([trend!]);
    const xs = [...svg.matchAll(/ (?:cx|x1|x2)="([\d.-]+)"/g)].map(([, x]) => Number(x));
    expect(Math.min(...xs)).toBeGreaterThanOrEqual(40);
    expect(Math.max(...xs)).toBeLessThanOrEqual(920);
  });
});
