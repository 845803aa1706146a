import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sha256Hex } from '../../src/core/sha256.js';
import { planWeave, type WeaveRequest } from '../../src/job/planWeave.js';
import { readJob } from '../../src/job/readJob.js';
import { weave } from '../../src/job/weave.js';
import type { PrintRecord } from '../../src/print/record.js';
import { expectClose } from '../helpers/closeTo.js';
import { inputErrorOf } from '../helpers/thrown.js';
import { writeJob, type JobTruth } from '../synth/job.js';

const bytesOf = (text: string) => new TextEncoder().encode(text);

/** The record of a written job. */
function recordOf(truth: JobTruth, more: Partial<PrintRecord> = {}): PrintRecord {
  return {
    schema: 'stillband/print-record@1',
    axis: 'Y',
    speedMmPerS: truth.speedMmPerS,
    layerHeightMm: truth.layerHeightMm,
    firstLayerHeightMm: truth.firstLayerHeightMm,
    layers: truth.layers,
    face: { leadingCorner: 'left' },
    shaper: { dampingRatio: 0.08 },
    ladder: { kind: 'linear', fromHz: 20, toHz: 60, firstLayer: 1, lastLayer: truth.layers - 1 },
    ...more,
  };
}

async function woven(bytes: Uint8Array, request: WeaveRequest, chunkBytes = 1000) {
  const plan = await planWeave([bytes], request);
  const chunks = Array.from({ length: Math.ceil(bytes.length / chunkBytes) }, (_, i) =>
    bytes.subarray(i * chunkBytes, (i + 1) * chunkBytes),
  );
  const pieces: Uint8Array[] = [];
  for await (const piece of weave(chunks, plan)) pieces.push(piece);
  return { plan, bytes: Buffer.concat(pieces) };
}

/** Takes the lines that are told out of a file, byte by byte; it knows nothing of how they were put in. */
function without(bytes: Buffer, lines: readonly string[], lineEnd: string): Buffer {
  const kept: Buffer[] = [];
  let next = 0;
  let from = 0;
  while (from < bytes.length) {
    const end = bytes.indexOf('\n', from);
    const to = end < 0 ? bytes.length : end + 1;
    const line = bytes.subarray(from, to);
    if (next < lines.length && line.equals(Buffer.from(lines[next]! + lineEnd))) next += 1;
    else kept.push(line);
    from = to;
  }
  expect(next).toBe(lines.length);
  return Buffer.concat(kept);
}

const LIMITS = { limitHz: { low: 10, high: 150 }, limitAcceleration: { low: 100, high: 9000 } };

const jobs: fc.Arbitrary<Partial<JobTruth>> = fc.record({
  layers: fc.integer({ min: 4, max: 25 }),
  layerHeightMm: fc.constantFrom(0.1, 0.2, 0.25),
  firstLayerHeightMm: fc.constantFrom(0.2, 0.25),
  pathXMm: fc.double({ min: 10, max: 90, noNaN: true }),
  pathYMm: fc.double({ min: 10, max: 90, noNaN: true }),
  start: fc.constantFrom<JobTruth['start'][]>(0, 2, 'front'),
  clockwise: fc.boolean(),
  extruder: fc.constantFrom('absolute', 'relative', 'none'),
  relativeMoves: fc.boolean(),
  inches: fc.boolean(),
  hop: fc.boolean(),
  spiral: fc.boolean(),
  eol: fc.constantFrom('\n', '\r\n'),
  lastEol: fc.boolean(),
  numbered: fc.boolean(),
  bom: fc.boolean(),
  purge: fc.boolean(),
});

describe('weave', () => {
  test('taken out again, the lines leave the identical file: 250 random ones', async () => {
    await fc.assert(
      fc.asyncProperty(
        jobs,
        fc.constantFrom('CALM {axis} {hz}', '; {layer}: {height_mm} mm {hz} d={damping}', 'é {hz}'),
        fc.constantFrom('layer', 'band'),
        fc.integer({ min: 1, max: 3000 }),
        async (given, template, every, chunkBytes) => {
          const { text, truth } = writeJob(given);
          const bytes = bytesOf(text);
          const record = recordOf(truth);
          const { plan, bytes: copy } = await woven(
            bytes,
            { record, template, every, ...LIMITS },
            chunkBytes,
          );
          expect(plan.insertions).toHaveLength(truth.layers - 1);
          expect(plan).toMatchObject({ layers: truth.layers, lineEnd: truth.eol, spiral: truth.spiral });
          expect(plan.sha256).toBe(sha256Hex(bytes));
          const lines = plan.insertions.map((one) => one.text);
          expect(sha256Hex(without(copy, lines, truth.eol))).toBe(plan.sha256);
        },
      ),
      { numRuns: 250, seed: 21 },
    );
  });

  test('each layer gets its own frequency: the reader finds the ladder again', async () => {
    for (const more of [{}, { hop: true, innerWalls: 1 }, { spiral: true }, { purge: true }]) {
      const { text, truth } = writeJob({ layers: 30, ...more });
      const record = recordOf(truth);
      const { bytes } = await woven(bytesOf(text), { record, template: 'CALM {axis} {hz}', ...LIMITS });
      const { frequencies } = await readJob([bytes], { frequencyLine: 'CALM Y ([0-9.]+)' });
      expect(frequencies!.ladder).toEqual(record.ladder);
      expect(frequencies!.withinLayers).toBe(0);
    }
  });

  // Source: common practice, no source (DESIGN 11): a ladder from 15 to 60 Hz over 60 mm of 0.2 mm layers puts 29.09 Hz at
  // 19 mm and 27.05 Hz at 16.3 mm, counted at the lower edges of the layers: f = 15 + (h − 0.4)/0.2·45/297.
  test('the frequencies of the trade stand at their heights', async () => {
    const { text, truth } = writeJob({ layers: 300 });
    const record = recordOf(truth, {
      ladder: { kind: 'linear', fromHz: 15, toHz: 60, firstLayer: 2, lastLayer: 299 },
    });
    const { bytes } = await woven(bytesOf(text), { record, template: 'CALM {axis} {hz}', ...LIMITS });
    const { frequencies } = await readJob([bytes], { frequencyLine: 'CALM Y ([0-9.]+)' });
    const at = (edgeMm: number) => {
      const layer = edgeMm / 0.2;
      const [below, above] = [Math.floor(layer + 1e-9), Math.ceil(layer - 1e-9)].map(
        (k) => frequencies!.layers.find((one) => one.layer === k)!.hz,
      );
      return below! + (above! - below!) * (layer - Math.floor(layer + 1e-9));
    };
    expectClose([at(19), at(16.3)], [29.09, 27.05], { abs: 0.0051, why: 'told with two decimals' });
  });

  test('each line stands in front of the change to its layer', async () => {
    const { text, truth } = writeJob({ layers: 3, extruder: 'relative' });
    const { bytes } = await woven(bytesOf(text), {
      record: recordOf(truth),
      template: 'CALM {axis} {hz} {damping} {layer} {height_mm}',
      ...LIMITS,
    });
    const lines = bytes.toString().split('\n');
    const [first, second] = lines.flatMap((line, i) => (line.startsWith('CALM') ? [i] : []));
    expect(lines[first!]).toBe('CALM Y 20.000 0.0800 1 0.300');
    expect(lines[first! + 1]).toBe('G0 Z0.4000 F1800');
    expect(lines[second!]).toBe('CALM Y 60.000 0.0800 2 0.500');
    expect(lines[second! + 1]).toBe('G0 Z0.6000 F1800');
  });

  test('the accelerations of a proof print, a line for each step', async () => {
    const { text, truth } = writeJob({ layers: 30 });
    const record = recordOf(truth, {
      ladder: { kind: 'fixed', hz: 41.5 },
      accelerationLadder: {
        bands: [
          { fromMm: 0, toMm: 2, mmPerS2: 1500 },
          { fromMm: 2, toMm: 4, mmPerS2: 2500 },
          { fromMm: 4, toMm: 6, mmPerS2: 3500.5 },
        ],
      },
    });
    const { plan } = await woven(bytesOf(text), {
      record,
      template: 'PUSH {acceleration}',
      every: 'band',
      ...LIMITS,
    });
    expect(plan.insertions.map(({ layer, text: line }) => [layer, line])).toEqual([
      [0, 'PUSH 1500.0'],
      [10, 'PUSH 2500.0'],
      [20, 'PUSH 3500.5'],
    ]);
  });

  test('layers without a frequency get no line, and are told', async () => {
    const { text, truth } = writeJob({ layers: 20 });
    const record = recordOf(truth, {
      ladder: {
        kind: 'stepped',
        bands: [
          { fromMm: 0.4, toMm: 1, hz: 30 },
          { fromMm: 2, toMm: 3, hz: 40 },
        ],
      },
    });
    const { plan } = await woven(bytesOf(text), { record, template: 'CALM {hz}', every: 'band', ...LIMITS });
    expect(plan.insertions.map(({ layer, hz }) => [layer, hz])).toEqual([
      [2, 30],
      [10, 40],
    ]);
    expect(plan.without).toEqual([
      { from: 0, to: 1 },
      { from: 5, to: 9 },
      { from: 15, to: 19 },
    ]);
  });

  describe('refuses', () => {
    const plain = writeJob({ layers: 20 });
    const plan = (request: Partial<WeaveRequest>, text = plain.text) =>
      inputErrorOf(() =>
        planWeave([bytesOf(text)], {
          record: recordOf(plain.truth),
          template: 'CALM {axis} {hz}',
          ...LIMITS,
          ...request,
        }),
      );

    test.each([
      ['', /one line/],
      ['  ', /one line/],
      ['CALM\n{hz}', /one line/],
      ['CALM\u2028{hz}', /one line/],
      [`{hz}${'x'.repeat(500)}`, /one line/],
      ['CALM', /no placeholder/],
      ['CALM {Hz}', /\{Hz\} that is not known/],
      ['CALM {frequency}', /\{frequency\} that is not known/],
      ['CALM {constructor}', /\{constructor\} that is not known/],
      ['CALM {hz', /brace/],
      ['CALM {{hz}}', /brace|not known/],
      ['G1 F{hz}', /move the machine/],
      ['X{layer}', /move the machine/],
      ['F{acceleration}', /move the machine/],
      ['G91 (layer {layer})', /move the machine/],
      ['G92 Z{height_mm}', /move the machine/],
      ['G92 X1 ; {hz}', /move the machine/],
      ['G20 ; {hz}', /move the machine/],
      ['G28 ; {hz}', /move the machine/],
    ])('the template "%s"', async (template, what) => {
      const record = recordOf(plain.truth, { accelerationMmPerS2: 3000 });
      const error = await plan({ template, record });
      expect(error.code).toBe('template-invalid');
      expect(error.message).toMatch(what);
    });

    test('values without limits, and values outside them', async () => {
      const { limitHz, limitAcceleration } = LIMITS;
      expect(
        (
          await inputErrorOf(() =>
            planWeave([bytesOf(plain.text)], {
              record: recordOf(plain.truth),
              template: 'CALM {hz}',
              limitAcceleration,
            }),
          )
        ).code,
      ).toBe('limit-missing');
      expect(
        (
          await inputErrorOf(() =>
            planWeave([bytesOf(plain.text)], {
              record: recordOf(plain.truth, { accelerationMmPerS2: 3000 }),
              template: 'PUSH {acceleration}',
              limitHz,
            }),
          )
        ).code,
      ).toBe('limit-missing');
      for (const limit of [
        { low: 10, high: 59.9 },
        { low: 20.1, high: 150 },
      ]) {
        expect(await plan({ limitHz: limit })).toMatchObject({ code: 'limit-exceeded' });
      }
      expect(
        await plan({
          template: 'PUSH {acceleration}',
          record: recordOf(plain.truth, { accelerationMmPerS2: 9001 }),
        }),
      ).toMatchObject({ code: 'limit-exceeded' });
    });

    test('what the record does not tell', async () => {
      const bare = recordOf(plain.truth);
      delete bare.shaper;
      expect((await plan({ record: bare, template: '{damping}' })).message).toMatch(/dampingRatio/);
      expect((await plan({ template: '{acceleration}' })).message).toMatch(/no acceleration/);
      const off = recordOf(plain.truth, { ladder: { kind: 'off' } });
      expect((await plan({ record: off })).message).toMatch(/off/);
      const high = recordOf(plain.truth, {
        layers: undefined as never,
        ladder: { kind: 'linear', fromHz: 20, toHz: 60, fromMm: 50, toMm: 90 },
      });
      expect((await plan({ record: high })).message).toMatch(/no value for any layer/);
    });

    test.each([
      ['other layers', { layers: 21 }, /prints 20 layers, and the print record tells 21/],
      ['a layer height that is off', { layerHeightMm: 0.21, firstLayerHeightMm: 0.21 }, /prints at|layer/],
      ['half the layer height', { layerHeightMm: 0.1, firstLayerHeightMm: 0.1 }, /layer/],
      ['a first layer that is off', { firstLayerHeightMm: 0.3 }, /prints at|layer/],
    ])('a record of %s', async (_, more, what) => {
      const error = await plan({ record: recordOf(plain.truth, more) });
      expect(error.code).toBe('job-differs');
      expect(error.message).toMatch(what);
    });

    test('a spiral of another pitch', async () => {
      const { text } = writeJob({ layers: 20, spiral: true });
      for (const layerHeightMm of [0.1, 0.4]) {
        const record = recordOf(plain.truth, { layerHeightMm });
        expect((await plan({ record }, text)).code).toBe('job-differs');
      }
    });

    test('what was woven before, by the same template with whatever numbers', async () => {
      for (const more of [{}, { spiral: true }, { hop: true }]) {
        const { text, truth } = writeJob({ layers: 10, ...more });
        for (const ladder of [recordOf(truth).ladder, { kind: 'fixed', hz: 40 } as const]) {
          for (const every of ['layer', 'band'] as const) {
            const record = recordOf(truth, { ladder });
            const request = { record, template: '  CALM {axis} {hz} ', every, ...LIMITS };
            const { bytes } = await woven(bytesOf(text), request);
            const other = { ...request, record: recordOf(truth), template: 'CALM {axis} {hz}' };
            expect(await inputErrorOf(() => planWeave([bytes], other))).toMatchObject({ code: 'job-woven' });
            // Another axis is another line.
            const next = { ...request, record: { ...record, axis: 'X' } };
            expect((await planWeave([bytes], next)).insertions.length).toBeGreaterThan(0);
          }
        }
      }
    });

    test('a setting in the opening of the job is no weaving', async () => {
      const text = plain.text.replace('G90 ; positions', 'G90 ; positions\nCALM Y 40');
      const made = await planWeave([bytesOf(text)], {
        record: recordOf(plain.truth),
        template: 'CALM {axis} {hz}',
        ...LIMITS,
      });
      expect(made.insertions).toHaveLength(19);
    });

    test('a file that changes between reading and writing', async () => {
      const bytes = bytesOf(plain.text);
      const made = await planWeave([bytes], {
        record: recordOf(plain.truth),
        template: 'CALM {hz}',
        ...LIMITS,
      });
      const changed = bytes.slice();
      changed[bytes.length - 2] = 0x31;
      const error = await inputErrorOf(async () => {
        for await (const piece of weave([changed], made)) expect(piece.length).toBeGreaterThan(0);
      });
      expect(error).toMatchObject({ code: 'job-differs' });
    });

    test('what is no job', async () => {
      expect((await plan({}, '; nothing\n')).code).toBe('job-no-layers');
      expect((await plan({}, 'G1 X1 E1\nG1 X2 E2\n')).code).toBe('job-no-layers');
      expect((await plan({}, plain.text + plain.text)).code).toBe('job-differs');
    });
  });
});
