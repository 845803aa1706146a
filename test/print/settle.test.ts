import { describe, expect, test } from 'vitest';
import { checkPrintRecord } from '../../src/print/record.js';
import { settlePrint } from '../../src/print/settle.js';
import { changed, DEMO_RECORD, PHOTO_RECORDS, SHORT_RECORD } from './exampleRecords.js';

const settle = (record: unknown) => settlePrint(checkPrintRecord(record));
const assumed = (record: unknown) => settle(record).assumptions.map(({ field }) => field);

describe('what is told', () => {
  test('stays as told, and nothing is assumed', () => {
    const { settings, assumptions } = settle(DEMO_RECORD);
    expect(assumptions).toEqual([]);
    expect(settings).toMatchObject({
      axis: 'Y',
      accelerationMmPerS2: 6000,
      cornerSpeedMmPerS: 6,
      layerHeightMm: 0.2,
      firstLayerHeightMm: 0.2,
      layers: 320,
      seam: 'other-face',
      direction: 'same',
      face: { widthMm: 84, heightMm: 64, bottomMm: 0, leadingCorner: 'left' },
      shaper: { family: 'ZV', dampingRatio: 0.08, hzMeans: 'natural' },
      alongWall: 'as-ladder',
      ladder: { kind: 'linear' },
      references: [{ kind: 'id1-card', behindFaceMm: 0 }],
      knownPitchesMm: [2],
      slots: [],
    });
    expect(settings.facePx).toEqual([undefined, undefined, undefined, undefined]);
    expect(settings.penLineMm).toBeUndefined();
    expect(settings.accelerationLadder).toBeUndefined();
  });

  test('the speed is uncertain by 2 % (DESIGN 5.5)', () => {
    expect(settle(DEMO_RECORD).settings.speedMmPerS).toEqual({ value: 110, sd: 2.2 });
  });

  test('every optional part reaches the settings', () => {
    const facePx = [
      [1, 2],
      [30, 2],
      [30, 40],
      [1, 40],
    ];
    const slots = [{ centreFromLeadingCornerMm: 58, widthMm: 2 }];
    const bands = [{ fromMm: 0, toMm: 10, mmPerS2: 2000 }];
    const alongWall = { hz: 40, family: 'ZVD', dampingRatio: 0.1 };
    const record = {
      ...DEMO_RECORD,
      firstLayerHeightMm: 0.3,
      seam: 'leading-corner',
      direction: 'alternates',
      ladder: { kind: 'fixed', hz: 41 },
      shaper: { family: 'EI', dampingRatio: 0.1, hzMeans: 'damped', alongWall },
      accelerationLadder: { bands },
      reference: [
        { kind: 'layers' },
        { kind: 'ruler', behindFaceMm: -2 },
        { kind: 'marker-card' },
        { kind: 'two-points', aPx: [1, 2], bPx: [3, 4], distanceMm: 9 },
        { kind: 'dpi', dotsPerInch: 600 },
        { kind: 'dpi' },
      ],
      facePx,
      penLineMm: 30,
      slots,
    };
    expect(settle(record)).toMatchObject({
      assumptions: [],
      settings: {
        firstLayerHeightMm: 0.3,
        seam: 'leading-corner',
        direction: 'alternates',
        ladder: { kind: 'fixed', hz: 41 },
        shaper: { family: 'EI', dampingRatio: 0.1, hzMeans: 'damped' },
        alongWall,
        accelerationLadder: bands,
        references: [
          { kind: 'layers' },
          { kind: 'ruler', behindFaceMm: -2 },
          { kind: 'marker-card', behindFaceMm: undefined },
          { kind: 'two-points', aPx: [1, 2], bPx: [3, 4], distanceMm: 9 },
          { kind: 'dpi', dotsPerInch: 600 },
          { kind: 'dpi', dotsPerInch: undefined },
        ],
        facePx,
        penLineMm: 30,
        slots,
      },
    });
  });

  test('settings are a copy: nothing in them is the record', () => {
    const record = checkPrintRecord({
      ...DEMO_RECORD,
      slots: [{ centreFromLeadingCornerMm: 58, widthMm: 2 }],
    });
    const before = structuredClone(record);
    const { settings } = settlePrint(record);
    record.slots![0]!.widthMm = 9;
    record.knownPitchesMm!.push(7);
    expect(settings.slots).toEqual(before.slots);
    expect(settings.knownPitchesMm).toEqual(before.knownPitchesMm);
  });

  test.each(PHOTO_RECORDS.map((record) => [record]))('the photographs assume nothing: %j', (record) => {
    expect(assumed(record)).toEqual([]);
  });
});

describe('what is not told', () => {
  test('is assumed, with unit and reason', () => {
    // A damping of 0.15: DESIGN 3. 4000 mm/s² and 7 mm/s are the project's own choice: common practice, no source.
    const { settings, assumptions } = settle(SHORT_RECORD);
    expect(assumptions.map(({ field, value }) => [field, value])).toEqual([
      ['accelerationMmPerS2', '4000 mm/s²'],
      ['cornerSpeedMmPerS', '7 mm/s'],
      ['shaper.family', 'ZV'],
      ['shaper.dampingRatio', '0.15'],
      ['shaper.hzMeans', 'natural'],
      ['shaper.alongWall', 'as-ladder'],
    ]);
    for (const { why } of assumptions) expect(why).toMatch(/^not told; \S/);
    expect(settings).toMatchObject({
      accelerationMmPerS2: 4000,
      cornerSpeedMmPerS: 7,
      shaper: { family: 'ZV', dampingRatio: 0.15, hzMeans: 'natural' },
      alongWall: 'as-ladder',
      seam: 'other-face',
      direction: 'same',
      references: [],
      knownPitchesMm: [],
    });
    expect(settings.face).toEqual({
      widthMm: undefined,
      heightMm: undefined,
      bottomMm: 0,
      leadingCorner: 'right',
    });
  });

  test('a corner speed that is assumed stays below a low print speed, as a told one must', () => {
    const { settings, assumptions } = settle({ ...SHORT_RECORD, speedMmPerS: 5 });
    expect(settings.cornerSpeedMmPerS).toBe(2.5);
    expect(assumptions.find(({ field }) => field === 'cornerSpeedMmPerS')?.value).toBe('2.5 mm/s');
  });

  test('a told field is no longer assumed', () => {
    const record = {
      ...SHORT_RECORD,
      shaper: { dampingRatio: 0.08, alongWall: 'off' },
      accelerationMmPerS2: 900,
    };
    expect(assumed(record)).toEqual(['cornerSpeedMmPerS', 'shaper.family', 'shaper.hzMeans']);
    expect(settle(record).settings.alongWall).toBe('off');
  });

  test('with the shaper off nothing of it is assumed, and the wall is not shaped', () => {
    const record = changed(SHORT_RECORD, 'ladder', { kind: 'off' });
    expect(assumed(record)).toEqual(['accelerationMmPerS2', 'cornerSpeedMmPerS']);
    expect(settle(record).settings.alongWall).toBe('off');
    expect(settle({ ...record, shaper: { alongWall: 'as-ladder' } }).settings.alongWall).toBe('off');
  });

  test('a wall shaped on its own needs to know what its number means', () => {
    const alongWall = { hz: 40, family: 'ZV', dampingRatio: 0.1 };
    const record = { ...SHORT_RECORD, ladder: { kind: 'off' }, shaper: { alongWall } };
    expect(assumed(record)).toContain('shaper.hzMeans');
    expect(settle(record).settings.alongWall).toEqual(alongWall);
  });

  test('the height of the face comes from the layers, counted from its bottom', () => {
    const record = {
      ...SHORT_RECORD,
      layers: 330,
      face: { leadingCorner: 'left', bottomMm: 2 },
      firstLayerHeightMm: 0.3,
    };
    // By hand: 0.3 + 329 · 0.2 − 2 = 64.1.
    const { settings, assumptions } = settle(record);
    expect(settings.face.heightMm).toBe(64.1);
    expect(assumptions.find(({ field }) => field === 'face.heightMm')?.value).toBe('64.1 mm');
  });
});
