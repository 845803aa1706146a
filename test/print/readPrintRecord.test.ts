import { describe, expect, test } from 'vitest';
import { optionName } from '../../src/print/overrides.js';
import { readPrintRecord } from '../../src/print/readPrintRecord.js';
import { syncInputErrorOf } from '../helpers/thrown.js';
import { changed, DEMO_FLAGS, DEMO_RECORD } from './exampleRecords.js';

describe('fields are called as they were given', () => {
  const told = (source: object | undefined, given: Record<string, string>) =>
    syncInputErrorOf(() => readPrintRecord(source && JSON.stringify(source), given));
  const lacking = changed(changed(DEMO_RECORD, 'axis', undefined), 'layerHeightMm', undefined);
  const flagsWithout = (...names: readonly string[]): Record<string, string> =>
    Object.fromEntries(Object.entries(DEMO_FLAGS).filter(([name]) => !names.includes(name)));

  test('by flags only: all that are missing, what measuring needs among them', () => {
    const error = told(undefined, { axis: 'Y', toHz: '60' });
    expect(error).toMatchObject({ code: 'record-field', field: 'speedMmPerS' });
    expect(error.message).toBe(
      'The flags --speed, --layer-height, --leading-corner, --ladder, --face-width and --face-height are missing.',
    );
    // The example is one to copy: with it nothing is missing any more.
    const example = /like (.*)\.$/.exec(error.advice)![1]!;
    expect(example).not.toContain('--to-hz');
    const given = [...example.matchAll(/(--[a-z-]+) (?:"([^"]+)"|(\S+))/g)].map(
      ([, flag, quoted, bare]) => [optionName(flag!), (quoted ?? bare)!] as const,
    );
    expect(readPrintRecord(undefined, { axis: 'Y', toHz: '60', ...Object.fromEntries(given) })).toMatchObject(
      {
        speedMmPerS: 110,
        ladder: { kind: 'linear', toHz: 60, lastLayer: 319 },
      },
    );
  });

  test('with ends in mm the example has no ends in layers', () => {
    const { advice } = told(undefined, { fromMm: '1', toMm: '60' });
    expect(advice).toContain('--ladder linear --from-hz 18 --to-hz 66 --face-width');
  });

  test('one that is missing', () => {
    const error = told(undefined, { ...flagsWithout('speed'), face: '1,2 3,2 3,4 1,4' });
    expect(error.message).toBe('The flag --speed is missing (print speed along the face).');
    expect(error.advice).toBe('Add it like --speed 110.');
    expect(error.field).toBe('speedMmPerS');
  });

  test('in a file only: by the names there', () => {
    const error = told(lacking, {});
    expect(error.message).toBe('The print record does not say axis and layerHeightMm.');
    expect(error.advice).not.toContain('--');
  });

  test('in both: by both', () => {
    const error = told(lacking, { speed: '90' });
    expect(error.message).toBe(
      'The print record does not say axis (--axis) and layerHeightMm (--layer-height).',
    );
    expect(told(DEMO_RECORD, { speed: '6000' }).message).toMatch(/^speedMmPerS \(--speed\) is 6000, /);
    const steps = { ladder: 'stepped', bands: '0-10:30,5-20:40' };
    expect(told(DEMO_RECORD, steps).message).toMatch(/^ladder\.bands\[1\]\.fromMm \(--bands\) is 5, /);
  });

  test('a size that nothing else tells, also where the record is whole otherwise', () => {
    const unsized = changed(DEMO_RECORD, 'face.widthMm', undefined);
    const sized = (reference: unknown) => ({ ...unsized, reference });
    expect(told(sized({ kind: 'face' }), {}).message).toMatch(/does not say face\.widthMm /);
    const scan = JSON.stringify(sized({ kind: 'dpi', dotsPerInch: 600 }));
    expect(readPrintRecord(scan, {}).face.widthMm).toBeUndefined();
    const card = JSON.stringify(sized({ kind: 'id1-card', behindFaceMm: 0 }));
    expect(readPrintRecord(card, {}).face.widthMm).toBeUndefined();
  });

  test.each<[Record<string, string>, RegExp, RegExp]>([
    [{ speed: '6000' }, /^--speed is 6000, /, /^Correct --speed \(/],
    [{ layers: '2.5' }, /^--layers is 2\.5; /, /^Correct --layers \(Number of layers of the tower\)/],
    [{ cornerSpeed: '200' }, /^--corner-speed is 200, but must be below --speed, 110\./, /a few mm\/s/],
    [{ lastLayer: '320' }, /^--last-layer is 320, /, /correct layers\.$/],
    [{ faceHeight: '99' }, /^The face reaches 99 mm/, /^Correct --face-height, --face-bottom, /],
    [
      { ladder: 'stepped', bands: '0-10:30,5-20:40' },
      /^ladder\.bands\[1\]\.fromMm \(--bands\) is 5, /,
      /bottom/,
    ],
  ])('by flags only: %j', (given, message, advice) => {
    const { fromHz, toHz, firstLayer, lastLayer, ...rest } = DEMO_FLAGS;
    const linear = given['ladder'] === undefined ? { fromHz, toHz, firstLayer, lastLayer } : {};
    const error = told(undefined, { ...rest, ...linear, ...given });
    expect(error.message).toMatch(message);
    expect(error.advice).toMatch(advice);
  });

  test('without a ladder where only the spacing is wanted', () => {
    const rest = flagsWithout('ladder', 'fromHz', 'toHz', 'firstLayer', 'lastLayer');
    expect(readPrintRecord(undefined, rest, { spacingOnly: true }).ladder).toEqual({ kind: 'off' });
    expect(told(undefined, rest).field).toBe('ladder.kind');
  });
});
