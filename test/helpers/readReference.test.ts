import { describe, expect, test } from 'vitest';
import { parseCsv, readCsv, readJson } from './readReference.js';

describe('reference tables', () => {
  test('comments and empty lines are skipped; numbers are numbers, text stays text', () => {
    const text = '# made by hand\nshaper,zeta,V\nZV,0.1,-1e-3\n\n# half way\r\n2-hump,0,nan\r\n';
    expect(parseCsv(text, 'hand', ['V', 'zeta'], ['shaper'])).toEqual([
      { shaper: 'ZV', zeta: 0.1, V: -1e-3 },
      { shaper: '2-hump', zeta: 0, V: NaN },
    ]);
  });

  test('a damaged table is told, not read', () => {
    expect(() => parseCsv('a,b\n1,2', 'hand', ['c'])).toThrow(/hand: expected a column c but received a, b/);
    expect(() => parseCsv('a,b\n1,2\n3', 'hand', ['a'])).toThrow(
      /hand row 2: expected 2 cells but received 1/,
    );
    expect(() => parseCsv('a\n1.2.3', 'hand', ['a'])).toThrow(/expected a number but received "1\.2\.3"/);
    expect(() => parseCsv('a,b\n,2', 'hand', ['a'])).toThrow(/expected a number but received ""/);
  });

  test('the files of test/reference are found', () => {
    const beam = readCsv('LEW.csv', ['x', 'y']);
    expect(beam).toHaveLength(200);
    // Source: NIST StRD, univariate data set LEW: certified mean -177.435000000000.
    expect(beam.reduce((sum, { y }) => sum + y, 0) / 200).toBeCloseTo(-177.435, 12);
    expect(readJson('tower_sweep_minima.json')).toMatchObject({ map: 'f_s = 15 + h' });
    expect(() => readJson('nowhere.json')).toThrow(/ENOENT/);
  });
});
