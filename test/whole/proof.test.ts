import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { parseReading, type Reading } from '../../src/reading/schema.js';
import { expectClose } from '../helpers/closeTo.js';
import { photoPath } from '../helpers/measured.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { cornerResponse, rateAtCorner } from '../synth/motion.js';
import type { SceneTruth } from '../synth/scene/drawScene.js';
import { shaperOf } from '../synth/shapers.js';

const PHOTO = photoPath('proof/rising-acceleration.jpg');
const RECORD = photoPath('proof/rising-acceleration.print.json');
const { face } = JSON.parse(
  readFileSync(photoPath('proof/rising-acceleration.truth.json'), 'utf8'),
) as SceneTruth;
const recipe = face!.recipe;
const at = tempFolder('file');

type Proof = Extract<Reading['proposal'], { state: 'proof' }>;

describe('a photograph of a proof print', () => {
  let reading: Reading;
  let proof: Proof;
  let table = '';

  beforeAll(async () => {
    const run = await runTool(['measure', PHOTO, '--print', RECORD, '--json', '--csv', at('h.csv')]);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode: 0, stderr: '' });
    table = readFileSync(at('h.csv'), 'utf8');
    reading = parseReading(run.stdout);
    expect(reading.proposal.state).toBe('proof');
    proof = reading.proposal as Proof;
  }, 60_000);

  // Source: what was drawn; f_d = f √(1 − ζ²), elementary.
  test('the axis swings where it was drawn', () => {
    if (proof.at.state !== 'measured') throw new Error('ripples stand out at the highest accelerations');
    const { dampedHz, dampingRatio } = proof.at;
    expectClose(dampedHz.value, recipe.naturalHz * Math.sqrt(1 - recipe.dampingRatio ** 2), {
      abs: 1.5 * dampedHz.sd,
      why: 'one and a half standard uncertainties; the print speed is told exactly here',
    });
    expectClose(dampingRatio.value, recipe.dampingRatio, { abs: 2 * dampingRatio.sd, why: 'two' });
  });

  // Source: integration step by step (test/synth/motion.ts). What contrast a slope makes is the light's, so one factor is free.
  test('amplitudes follow what each corner excited', () => {
    const { fromHz, dampingRatio } = recipe.ladder!;
    const shaper = shaperOf('ZV', fromHz, dampingRatio);
    const swings = proof.steps.map(({ mmPerS2 }) => {
      const corner = { ...recipe, accelerationMmPerS2: mmPerS2 };
      return rateAtCorner(cornerResponse(corner, recipe, 0.2), recipe, shaper) / recipe.speedMmPerS;
    });
    const sizes = proof.steps.map(({ amplitude }) => amplitude!);
    const weighed = (of: (i: number) => number) => sizes.reduce((sum, { sd }, i) => sum + of(i) / sd ** 2, 0);
    const factor = weighed((i) => swings[i]! * sizes[i]!.value) / weighed((i) => swings[i]! ** 2);
    sizes.forEach(({ value, sd }, i) => {
      expectClose(value, factor * swings[i]!, {
        abs: 3 * sd,
        rel: 0.1,
        why: 'three standard uncertainties; the light drifts over the height by some percent',
      });
    });
    expect(proof.steps.at(-1)!.significant).toBe(true);
    expect(proof.growth?.verdict).toBe('grows');
    // Nothing that is called quiet rings as strongly as what would have been seen.
    for (const { mmPerS2, significant } of proof.steps) {
      if (mmPerS2 <= proof.quietUpTo!.mmPerS2) expect(significant).toBe(false);
    }
  });

  test('the table has the acceleration of each height, but of those where it changes', () => {
    const [header, ...rows] = table
      .trim()
      .split('\r\n')
      .map((line) => line.split(','));
    const column = header!.indexOf('acceleration_mm_per_s2');
    const told = rows.map((row) => row[column]!);
    expect([...new Set(told.filter((cell) => cell !== ''))].map(Number)).toEqual(
      proof.steps.map(({ mmPerS2 }) => mmPerS2),
    );
    expect(told.filter((cell) => cell === '').length).toBeLessThan(proof.steps.length + 2);
  });

  test('asked for the spacing only, it tells whether the frequency has moved', async () => {
    const told = ['--spacing-only', '--json', '--was'];
    const since = async (was: string) => {
      const run = await runTool(['measure', PHOTO, '--print', RECORD, ...told, was]);
      const { proposal } = parseReading(run.stdout);
      if (proposal.state !== 'spacing-only') throw new Error(`it is ${proposal.state}`);
      return proposal.since!;
    };
    // Source: what was drawn, 40.93 Hz damped.
    expect(await since('41.0+-0.4')).toMatchObject({ moved: false, wasExact: false });
    expect(await since('46.5')).toMatchObject({ moved: true, wasExact: true });
  });
});
