import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readJob, type JobOptions } from '../../src/job/readJob.js';
import { expectClose } from '../helpers/closeTo.js';
import { inputErrorOf } from '../helpers/thrown.js';
import { writeJob, type JobTruth } from '../synth/job.js';

const read = (text: string, options?: JobOptions) => readJob([new TextEncoder().encode(text)], options);
const readWritten = (given: Partial<JobTruth>, options?: JobOptions) => read(writeJob(given).text, options);
const WORDS = { abs: 0.0002, why: 'words of four decimals, both ends' };

/** What the four sides should be, by the angle to which they look: length, and the corner that is printed first. */
function sidesOf({ pathXMm, pathYMm, clockwise, turnedDeg }: JobTruth) {
  const leadingCorner = clockwise ? 'right' : 'left';
  return [0, 90, 180, 270]
    .map((quarter) => ({
      facingDeg: (quarter + turnedDeg) % 360,
      pathLengthMm: quarter % 180 === 0 ? pathYMm : pathXMm,
      leadingCorner,
    }))
    .sort((a, b) => a.facingDeg - b.facingDeg);
}

const jobs: fc.Arbitrary<Partial<JobTruth>> = fc.record({
  layers: fc.integer({ min: 8, max: 30 }),
  layerHeightMm: fc.constantFrom(0.12, 0.2, 0.28),
  firstLayerHeightMm: fc.constantFrom(0.2, 0.3),
  pathXMm: fc.double({ min: 20, max: 200, noNaN: true }),
  pathYMm: fc.double({ min: 20, max: 200, noNaN: true }),
  speedMmPerS: fc.integer({ min: 20, max: 300 }),
  start: fc.constantFrom<JobTruth['start'][]>(0, 1, 2, 3, 'front'),
  clockwise: fc.boolean(),
  extruder: fc.constantFrom('absolute', 'relative', 'none'),
  relativeMoves: fc.boolean(),
  inches: fc.boolean(),
  hop: fc.boolean(),
  spiral: fc.boolean(),
  innerWalls: fc.integer({ min: 0, max: 2 }),
  eol: fc.constantFrom('\n', '\r\n'),
  lastEol: fc.boolean(),
  numbered: fc.boolean(),
  bom: fc.boolean(),
  turnedDeg: fc.constantFrom(0, 0, 30, 45),
  purge: fc.boolean(),
});

describe('readJob', () => {
  // Source: the file's own recipe; the writer shares no code with the reader.
  test('finds what was written, however it is written', async () => {
    await fc.assert(
      fc.asyncProperty(jobs, async (given) => {
        // A spiral is one wall.
        const { text, truth } = writeJob(given.spiral === true ? { ...given, innerWalls: 0 } : given);
        const job = await read(text, { turnedDeg: truth.turnedDeg });
        const { layers, sides } = job;
        expect(job).toMatchObject({
          extruder: truth.extruder,
          inches: truth.inches,
          numbered: truth.numbered,
        });
        expect(layers).toMatchObject({ count: truth.layers, even: true, spiral: truth.spiral });
        expectClose(
          [layers.heightMm, layers.firstHeightMm],
          [truth.layerHeightMm, truth.firstLayerHeightMm],
          WORDS,
        );
        expectClose(layers.topMm, truth.firstLayerHeightMm + (truth.layers - 1) * truth.layerHeightMm, WORDS);
        const expected = sidesOf(truth);
        expect(sides.map(({ facingDeg, leadingCorner }) => ({ facingDeg, leadingCorner }))).toEqual(
          expected.map(({ facingDeg, leadingCorner }) => ({ facingDeg, leadingCorner })),
        );
        expectClose(
          sides.map(({ pathLengthMm }) => pathLengthMm),
          expected.map(({ pathLengthMm }) => pathLengthMm),
          WORDS,
        );
        for (const side of sides) {
          expect(side).toMatchObject({ direction: 'same', slots: [] });
          // A spiral's turns begin at a corner, also where its wall began amid the front: the last one is cut short.
          expect(side.sameLengthShare).toBeGreaterThanOrEqual(
            truth.spiral && truth.start === 'front' ? (truth.layers - 1) / (truth.layers + 1) : 1,
          );
          expect(side.cornerDeg ?? 90).toBe(90);
          expect(side.speeds).toHaveLength(2);
          expectClose(
            side.speeds.map(({ speedMmPerS }) => speedMmPerS),
            [truth.firstLayerSpeedMmPerS, truth.speedMmPerS],
            { rel: 1e-6, why: 'words of many decimals; told to a millionth' },
          );
        }
        // Layers start at one corner, or amid the front; a spiral starts once.
        const seams = sides.map(({ seam }) => seam).filter((seam) => seam !== 'other-face');
        expect(seams).toEqual(truth.spiral ? [] : [truth.start === 'front' ? 'this-face' : 'leading-corner']);
      }),
      { numRuns: 150, seed: 11 },
    );
  });

  test('says on which side layers start', async () => {
    const { sides } = await readWritten({ start: 2 });
    // Counterclockwise, the back begins at its corner at the right end of the front, as seen from the front.
    expect(sides.find(({ seam }) => seam === 'leading-corner')?.facingDeg).toBe(90);
    const amid = await readWritten({ start: 'front' });
    expect(amid.sides.find(({ seam }) => seam === 'this-face')?.facingDeg).toBe(270);
  });

  test('finds slots, from the corner that is printed first', async () => {
    for (const clockwise of [false, true]) {
      const { sides } = await readWritten({ slotCentreMm: 30, slotWidthMm: 3, clockwise });
      const front = sides.find(({ facingDeg }) => facingDeg === 270)!;
      expect(front.slots).toHaveLength(1);
      expectClose(front.slots[0]!.centreFromLeadingMm, clockwise ? 53.6 : 30, WORDS);
      expectClose(front.slots[0]!.pathWidthMm, 3, WORDS);
      expect(sides.filter(({ slots }) => slots.length > 0)).toHaveLength(1);
    }
  });

  test('notices layers that are printed in alternating directions', async () => {
    const { sides } = await readWritten({ alternates: true, layers: 40 });
    expect(sides.map(({ direction }) => direction)).toEqual(Array(4).fill('alternates'));
  });

  test('a line that cleans the nozzle is no layer', async () => {
    const { layers, sides } = await readWritten({ purge: true, layers: 10 });
    expect(layers).toMatchObject({ count: 10, heightMm: 0.2, firstHeightMm: 0.2 });
    expect(sides).toHaveLength(4);
  });

  // Source: elementary kinematics, added up by hand for the one case.
  test('adds up how long it takes', async () => {
    const text = 'G0 Z0.2 F600\nG1 X100 Y0 E1 F6000\nG1 X100 Y100 E2\nG1 X0 Y100 E3\n';
    const { time } = await read(text, { machine: { accelerationMmPerS2: 1000, cornerSpeedMmPerS: 0 } });
    expectClose(time.leastS, 0.02 + 3, { abs: 1e-12, why: 'sums of doubles' });
    // From rest to rest v/a is added for each side; 0.2 mm from rest take 2√(s/a) at 14 of 10 mm/s: s/v + v/a.
    expectClose(time.rampedS!, 0.02 + 0.01 + 3 * (1 + 0.1), { abs: 1e-12, why: 'sums of doubles' });
    expect((await read(text)).time.rampedS).toBeUndefined();
  });

  describe('the ladder', () => {
    const pattern = 'CALM (?<axis>\\w+) (?<hz>[0-9.]+)';
    const written = (hz: (layer: number) => string | undefined, more: Partial<JobTruth> = {}) =>
      readWritten(
        {
          layers: 40,
          beforeLayer: (layer) => (hz(layer) === undefined ? '; nothing' : `CALM Y ${hz(layer)!}`),
          ...more,
        },
        { frequencyLine: pattern, axis: 'y' },
      );

    test.each([
      [
        'linear',
        (k: number) => (k < 4 ? undefined : (20 + (k - 4) * (30 / 35)).toFixed(3)),
        { kind: 'linear', fromHz: 20, toHz: 50, firstLayer: 4, lastLayer: 39 },
      ],
      ['fixed', () => '41.5', { kind: 'fixed', hz: 41.5 }],
      [
        'stepped',
        (k: number) => String(30 + Math.floor(k / 10)),
        {
          kind: 'stepped',
          bands: [
            { fromMm: 0, toMm: 2, hz: 30 },
            { fromMm: 2, toMm: 4, hz: 31 },
            { fromMm: 4, toMm: 6, hz: 32 },
            { fromMm: 6, toMm: 8, hz: 33 },
          ],
        },
      ],
      [
        'bent',
        (k: number) => (k <= 20 ? 30 + k : 50 + 2 * (k - 20)).toFixed(2),
        {
          kind: 'table',
          points: [
            { mm: 0.1, hz: 30 },
            { mm: 4.1, hz: 50 },
            { mm: 7.9, hz: 88 },
          ],
        },
      ],
    ] as const)('%s', async (_, hz, expected) => {
      const { frequencies } = await written(hz);
      expect(frequencies!.ladder).toEqual(expected);
      expect(frequencies).toMatchObject({ otherAxis: 0, withinLayers: 0 });
    });

    test('set by steps of few decimals, a slow ladder is told by its steps', async () => {
      const { frequencies } = await written((k) => (30 + k / 10).toFixed(0));
      expect(frequencies!.ladder!.kind).toBe('stepped');
    });

    test('lines of another axis do not count', async () => {
      const { frequencies } = await readWritten(
        { layers: 10, beforeLayer: (k) => `CALM ${k % 2 === 0 ? 'X' : 'Y'} ${String(30 + k)}` },
        { frequencyLine: pattern, axis: 'X' },
      );
      expect(frequencies).toMatchObject({ lines: 10, otherAxis: 5 });
      expect(frequencies!.layers.map(({ hz }) => hz)).toEqual([30, 32, 34, 36, 38]);
    });

    test('what is set before a line that cleans the nozzle holds for the tower', async () => {
      const { text } = writeJob({ layers: 5, purge: true });
      const { frequencies } = await read(`CALM Y 40\n${text}`, { frequencyLine: pattern });
      expect(frequencies!.ladder).toEqual({ kind: 'fixed', hz: 40 });
    });

    test('a frequency that is set amid a layer is told', async () => {
      const { text } = writeJob({ layers: 5 });
      const amid = text.replace(/(G1 X100\.0000 [^\n]*\n)/g, '$1CALM Y 33\n');
      const { frequencies } = await read(amid, { frequencyLine: pattern });
      expect(frequencies!.withinLayers).toBeGreaterThan(0);
    });

    test.each([
      ['((', 'cannot be used'],
      ['(?=x)(1)', 'cannot be used'],
      ['CALM', 'no group'],
      ['x'.repeat(1001), 'longer than'],
      ['(?P<axis>CALM)', 'no group'],
    ])('the pattern %s is a named error', async (bad, what) => {
      const error = await inputErrorOf(() => readWritten({}, { frequencyLine: bad }));
      expect(error.code).toBe('pattern-invalid');
      expect(error.message).toContain(what);
    });

    test('a pattern that finds something else than a frequency is a named error', async () => {
      const { text } = writeJob({ layers: 2 });
      for (const found of ['fast', '0.2', '501', '1e2']) {
        const error = await inputErrorOf(() =>
          read(`CALM ${found}\n${text}`, { frequencyLine: 'CALM (.+)' }),
        );
        expect(error.code).toBe('pattern-invalid');
        expect(error.message).toContain(`"${found}"`);
      }
    });

    // Source: linear time is the engine's own promise (RE2); nested repeats take a backtracking one 2^n steps.
    test('no pattern takes more than linear time', async () => {
      const text = `; ${'a'.repeat(60_000)}!\n`.repeat(20) + writeJob({ layers: 3 }).text;
      const job = await read(text, { frequencyLine: '(a+)+(\\d+)$' });
      expect(job.frequencies).toMatchObject({ lines: 0, layers: [], ladder: undefined });
    });
  });

  test.each([
    ['no moves', '; nothing\nM30\n', 'job-no-layers'],
    ['travelling moves only', 'G0 X1 Y1 Z1\nG0 X5\n', 'job-no-layers'],
    ['no height', 'G1 X10 E1 F600\nG1 X20 E2\n', 'job-no-layers'],
    ['two towers, one after the other', twice(), 'job-unclear'],
    ['E words that mean nothing', scrambled(), 'job-unclear'],
    ['E words after thousands of moves', `${'G1 X1\nG1 X2\n'.repeat(3000)}G1 Z1\nG1 X1 E1\n`, 'job-unclear'],
  ])('%s: a named error', async (_, text, code) => {
    const error = await inputErrorOf(() => read(text));
    expect(error.code).toBe(code);
    expect(error.advice).toMatch(/\.$/);
  });
});

function twice(): string {
  const { text } = writeJob({ layers: 10 });
  return text + text;
}

/** Positions to begin with, lengths of moves later on: told either way, half of it is wrong. */
function scrambled(): string {
  const up = writeJob({ layers: 70 }).text.replace(/M30\n/, '');
  const more = Array.from({ length: 600 }, (_, i) => `G1 X${String(100 + (i % 2))} E0.033`);
  return `${up}${more.join('\n')}\n`;
}
