import { describe, expect, test } from 'vitest';
import { examineJob, type ExamineOptions } from '../../src/job/examineJob.js';
import type { RawObject } from '../../src/print/overrides.js';
import { checkPrintRecord } from '../../src/print/record.js';
import { jobReport } from '../../src/report/jobReport.js';
import { expectClose } from '../helpers/closeTo.js';
import { inputErrorOf } from '../helpers/thrown.js';
import { writeJob, type JobTruth } from '../synth/job.js';

const FITTING: RawObject = {
  schema: 'stillband/print-record@1',
  axis: 'Y',
  speedMmPerS: 110,
  accelerationMmPerS2: 6000,
  cornerSpeedMmPerS: 6,
  layerHeightMm: 0.2,
  layers: 40,
  seam: 'other-face',
  direction: 'same',
  face: { widthMm: 84, heightMm: 8, leadingCorner: 'left' },
  ladder: { kind: 'linear', fromHz: 20, toHz: 50, firstLayer: 4, lastLayer: 39 },
};

const examine = (job: Partial<JobTruth>, told: RawObject = FITTING, options: ExamineOptions = {}) =>
  examineJob([new TextEncoder().encode(writeJob(job).text)], told, options);
const codes = async (job: Partial<JobTruth>, told?: RawObject, options?: ExamineOptions) =>
  (await examine(job, told, options)).findings.map(({ code }) => code);
const withFace = (more: object) => ({ ...FITTING, face: { ...(FITTING['face'] as object), ...more } });
const calm = (hz: (layer: number) => number) => (layer: number) =>
  layer < 4 ? '; nothing yet' : `CALM Y ${hz(layer).toFixed(3)}`;
const PATTERN = { frequencyLine: 'CALM Y ([0-9.]+)' };

describe('examineJob', () => {
  test('a record that fits its job leaves nothing to say', async () => {
    const { findings, record, face } = await examine({});
    expect(findings).toEqual([]);
    expect(record).toMatchObject({ filled: [], missing: [] });
    expect(record.problem).toBeUndefined();
    expect(face).toMatchObject({ speedMmPerS: 110, wallMm: 83.6, otherFacingDeg: 90 });
    expect(face!.side.facingDeg).toBe(270);
  });

  test.each<[string, Partial<JobTruth>, RawObject, ExamineOptions]>([
    ['speed-differs', {}, { ...FITTING, speedMmPerS: 112 }, {}],
    ['speed-not-told', { speedMmPerS: 0, firstLayerSpeedMmPerS: 0 }, FITTING, {}],
    ['layer-height-differs', {}, { ...FITTING, layerHeightMm: 0.21 }, {}],
    ['first-layer-differs', {}, { ...FITTING, firstLayerHeightMm: 0.3 }, {}],
    ['layers-differ', { layers: 39 }, FITTING, {}],
    ['face-width-differs', {}, withFace({ widthMm: 90 }), {}],
    ['face-width-differs', {}, withFace({ widthMm: 83 }), {}],
    ['face-width-differs', {}, FITTING, { lineWidthMm: 0.8 }],
    ['face-height-differs', {}, withFace({ heightMm: 9 }), {}],
    ['leading-corner-differs', { clockwise: true }, FITTING, {}],
    ['direction-differs', { alternates: true }, FITTING, {}],
    ['seam-differs', { start: 'front' }, FITTING, { facingDeg: 270 }],
    ['slots-differ', { slotCentreMm: 40, slotWidthMm: 2 }, FITTING, { facingDeg: 270 }],
    ['ladder-differs', { beforeLayer: calm((k) => 20 + k) }, FITTING, PATTERN],
    ['ladder-not-found', {}, FITTING, PATTERN],
  ])('%s (%#)', async (code, job, told, options) => {
    expect(await codes(job, told, options)).toEqual([code]);
  });

  test.each<[string, Partial<JobTruth>, RawObject, ExamineOptions]>([
    ['a speed within one in a hundred', {}, { ...FITTING, speedMmPerS: 110.9 }, {}],
    ['a width a line more', {}, withFace({ widthMm: 84.2 }), {}],
    ['a width with the line told', {}, FITTING, { lineWidthMm: 0.4 }],
    [
      'a seam on another side',
      { start: 'front' },
      { ...FITTING, axis: 'X', face: { leadingCorner: 'left' } },
      {},
    ],
    ['no seam in a spiral', { spiral: true }, { ...FITTING, seam: 'none' }, {}],
    ['the ladder of the record', { beforeLayer: calm((k) => 20 + ((k - 4) * 30) / 35) }, FITTING, PATTERN],
  ])('nothing for %s', async (_, job, told, options) => {
    expect(await codes(job, told, options)).toEqual([]);
  });

  test('a ladder that the job leaves early, or begins late, is told where it does', async () => {
    const hz = (k: number) => 20 + ((k - 4) * 30) / 35;
    const until20 = calm(hz);
    const stops = await examine(
      { beforeLayer: (k) => (k > 20 ? '; no more' : until20(k)) },
      FITTING,
      PATTERN,
    );
    // Layer 20 is at 33.714 Hz, which stays in force.
    expect(stops.findings).toEqual([
      {
        code: 'ladder-differs',
        layer: 21,
        heightMm: 4.3,
        toldHz: expect.closeTo(hz(21), 6) as number,
        jobHz: 33.714,
      },
    ]);
    const late = await examine({ beforeLayer: (k) => (k < 9 ? '; not yet' : until20(k)) }, FITTING, PATTERN);
    expect(late.findings).toEqual([
      {
        code: 'ladder-differs',
        layer: 4,
        heightMm: 0.9,
        toldHz: expect.closeTo(20, 6) as number,
        jobHz: undefined,
      },
    ]);
    expect(jobReport(late)).toMatch(
      /the job has set no frequency yet, and the record's ladder tells 20.00 Hz/,
    );
    // Above the ladder's end its last frequency may stay in force.
    const lower = {
      ...FITTING,
      ladder: { kind: 'linear', fromHz: 20, toHz: hz(30), firstLayer: 4, lastLayer: 30 },
    };
    expect(await codes({ beforeLayer: (k) => (k > 30 ? '; no more' : until20(k)) }, lower, PATTERN)).toEqual(
      [],
    );
  });

  test('a seam that spoils the face is told, also where the record says nothing of it', async () => {
    const { seam, ...rest } = FITTING;
    expect(seam).toBe('other-face');
    expect(await codes({ start: 'front' }, rest, { facingDeg: 270 })).toEqual(['seam-on-face']);
    expect(await codes({ start: 2 }, rest, { facingDeg: 90 })).toEqual(['seam-on-face']);
    // Which of two sides alike is photographed is not known: the better one is taken, and the other one named.
    expect(await codes({ start: 'front' }, rest)).toEqual([]);
  });

  test('a face that is slowed down in part', async () => {
    const { text } = writeJob({ layers: 40 });
    const slowed = text.replace(/(Z6\.0000[\s\S]*)/, (rest) => rest.replaceAll('F6600', 'F3000'));
    const { findings, face } = await examineJob([new TextEncoder().encode(slowed)], FITTING);
    expect(face!.speedMmPerS).toBe(110);
    expect(findings).toEqual([
      {
        code: 'speed-changes',
        jobMmPerS: 110,
        bands: [{ fromMm: 5.8, toMm: 8, speedMmPerS: 50 }],
      },
    ]);
  });

  // Source: elementary kinematics, v² = v_c² + a·L for a wall that is sped up over its first half and slowed over its second.
  test('a speed that the wall is too short for is told, with what is reached', async () => {
    const told = { ...FITTING, accelerationMmPerS2: 140 };
    const { findings, face } = await examine({}, told);
    expect(findings.map(({ code }) => code)).toEqual(['speed-not-reached']);
    expectClose(face!.reached!.reachedMmPerS, Math.sqrt(6 ** 2 + 140 * 83.6), {
      rel: 1e-6,
      why: 'words of four decimals',
    });
    // Just enough, and no more.
    const enough = (110 ** 2 - 6 ** 2) / 83.6;
    expect(await codes({}, { ...FITTING, accelerationMmPerS2: enough * 1.001 })).toEqual([]);
    expect(await codes({}, { ...FITTING, accelerationMmPerS2: enough * 0.999 })).toEqual([
      'speed-not-reached',
    ]);
  });

  test('up to a slot the wall is shorter', async () => {
    const slots = [{ centreFromLeadingCornerMm: 40.2, widthMm: 1.6 }];
    const { face } = await examine(
      { slotCentreMm: 40, slotWidthMm: 2 },
      { ...FITTING, slots },
      { facingDeg: 270 },
    );
    expectClose(face!.wallMm, 39, { abs: 1e-3, why: 'words of four decimals' });
  });

  test('of a proof print the lowest acceleration counts', async () => {
    const told = {
      ...FITTING,
      accelerationMmPerS2: undefined,
      ladder: { kind: 'fixed', hz: 40 },
      accelerationLadder: {
        bands: [
          { fromMm: 0, toMm: 4, mmPerS2: 140 },
          { fromMm: 4, toMm: 8, mmPerS2: 6000 },
        ],
      },
    };
    expect(await codes({}, told)).toEqual(['speed-not-reached']);
  });

  test('fills in what the job tells and leaves what is told', async () => {
    const { record } = await examine(
      {
        firstLayerHeightMm: 0.3,
        slotCentreMm: 40,
        slotWidthMm: 2,
        beforeLayer: calm((k) => 20 + ((k - 4) * 30) / 35),
      },
      { axis: 'Y', layers: 40 },
      { ...PATTERN, facingDeg: 270, lineWidthMm: 0.4 },
    );
    expect(record).toMatchObject({ missing: [] });
    expect(checkPrintRecord(record.fields)).toEqual({
      schema: 'stillband/print-record@1',
      axis: 'Y',
      layers: 40,
      layerHeightMm: 0.2,
      firstLayerHeightMm: 0.3,
      speedMmPerS: 110,
      direction: 'same',
      seam: 'other-face',
      face: { leadingCorner: 'left', widthMm: 84 },
      slots: [{ centreFromLeadingCornerMm: 40.2, widthMm: 1.6 }],
      ladder: { kind: 'linear', fromHz: 20, toHz: 50, firstLayer: 4, lastLayer: 39 },
    });
    expect(record.filled).not.toContain('layers');
  });

  test('says what is still to be told, and what contradicts', async () => {
    expect((await examine({}, {})).record.missing).toEqual(['axis', 'speedMmPerS', 'face', 'ladder']);
    expect((await examine({}, {})).face).toBeUndefined();
    const high = await examine({}, { ...FITTING, layers: undefined, ...withFace({ heightMm: 80 }) });
    expect(high.record.problem ?? high.findings.map(({ code }) => code).join()).toMatch(/face/i);
  });

  test('a face of another axis must be told by its angle', async () => {
    const turned = { turnedDeg: 45 };
    expect((await inputErrorOf(() => examine(turned, { ...FITTING, axis: 'A' }))).code).toBe('usage');
    expect((await inputErrorOf(() => examine(turned))).message).toMatch(
      /no flat side that looks to 270° or 90°/,
    );
    const { face, findings } = await examine(turned, { ...FITTING, axis: 'A' }, { facingDeg: -45 });
    expect(face!.side.facingDeg).toBe(315);
    expect(findings).toEqual([]);
  });

  test('fields of a wrong type are no facts', async () => {
    const told = {
      ...FITTING,
      speedMmPerS: 'fast',
      layers: -3,
      face: 7,
      slots: 'none',
      accelerationLadder: 3,
    };
    const { record, findings } = await examine({}, told);
    expect(findings).toEqual([]);
    expect(record.fields).toMatchObject({ speedMmPerS: 'fast', face: 7 });
    expect(record.problem ?? record.missing.join()).not.toBe('');
  });
});
