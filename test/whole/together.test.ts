import { writeFileSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { jointReadingSchema } from '../../src/reading/jointSchema.js';
import { photoPath } from '../helpers/measured.js';
import { RECIPE } from '../helpers/drawn.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { truthOf } from '../synth/truth.js';

const at = tempFolder('test');
const PRINT = photoPath('lamps/lamps.print.json');
const PHOTOS = ['left', 'right', 'far'].map((name) => photoPath(`lamps/${name}.jpg`));
// Source: the drawing's own axis, 37 Hz and damping ratio 0.07 under a ZV shaper set for 0.1: scripts/makeLampPhotos.ts.
const AXIS = { naturalHz: 37, dampingRatio: 0.07, ladder: { fromHz: 18, toHz: 62, dampingRatio: 0.1 } };
const { nullHz } = truthOf({ ...RECIPE, ...AXIS });

describe('several photos on the command line', () => {
  it('are told one by one and together, and the truth lies inside', async () => {
    const { stdout, exitCode } = await runTool(['measure', ...PHOTOS, '--print', PRINT, '--json']);
    expect(exitCode).toBe(0);
    const joint = jointReadingSchema.parse(JSON.parse(stdout));
    expect(joint.photos.map(({ use }) => use)).toEqual(['used', 'used', 'used']);
    if (joint.proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    const { low95, high95 } = joint.proposal.combined;
    expect(nullHz).toBeGreaterThan(low95);
    expect(nullHz).toBeLessThan(high95);
    const alone = joint.photos.map(({ reading: { proposal } }) =>
      proposal.state === 'proposed' ? proposal.fromNull.sd : Infinity,
    );
    expect(joint.proposal.fromNull.sd).toBeLessThan(Math.min(...alone));
  });

  it('the report says of each what it is to the result', async () => {
    const { stdout, exitCode } = await runTool(['measure', ...PHOTOS, '--print', PRINT]);
    expect(exitCode).toBe(0);
    expect(stdout).toMatch(/^Axis Y {3}3[67]\.\d Hz ± /);
    expect(stdout).toContain('3 of 3 fitted together');
    for (const name of ['left', 'right', 'far']) expect(stdout).toMatch(new RegExp(`${name}\\.jpg: 3[67]`));
  });

  it('with the camera still, the moved lamp makes the ripples stand out more', async () => {
    const run = await runTool(['measure', ...PHOTOS, '--print', PRINT, '--camera-still', '--json']);
    expect(run.exitCode).toBe(0);
    const { lamps, proposal, photos } = jointReadingSchema.parse(JSON.parse(run.stdout));
    // left, right, far: the second lamp stands on the other side.
    expect(lamps!.gains.map(Math.sign)).toEqual([1, -1, 1]);
    expect(lamps!.signalToNoise.together).toBeGreaterThan(lamps!.signalToNoise.alone);
    if (proposal.state !== 'proposed') throw new Error('Expected a proposal.');
    expect(nullHz).toBeGreaterThan(proposal.combined.low95);
    expect(nullHz).toBeLessThan(proposal.combined.high95);
    // All are flattened by the first one's corners.
    const [first, ...others] = photos.map(({ reading }) => reading.face!.cornersPx);
    for (const corners of others) expect(corners).toEqual(first);
  });

  it('one in which nothing is seen is left out, and one with another record is refused', async () => {
    const dark = at('dark.jpg');
    writeFileSync(dark, await sharp(PHOTOS[2]).linear(0.02, 0).jpeg().toBuffer());
    const run = await runTool(['measure', PHOTOS[0]!, PHOTOS[1]!, dark, '--print', PRINT]);
    expect(run.exitCode).toBe(0);
    expect(run.stdout).toContain('2 of 3 fitted together');
    expect(run.stdout).toMatch(/dark\.jpg: refused, too-dark .*; left out/);
    const record = JSON.parse(await readFile(PRINT, 'utf8')) as Record<string, unknown>;
    const other = at('other.print.json');
    writeFileSync(other, JSON.stringify({ ...record, axis: 'X' }));
    const differ = await runTool(['measure', PHOTOS[0]!, PHOTOS[1]!, '--print', PRINT, '--print', other]);
    expect(differ).toMatchObject({ exitCode: 65, stdout: '' });
    expect(differ.stderr).toMatch(/axis: Y and X.*photos-differ/s);
    const ladder = { ...(record['ladder'] as object), toHz: 61 };
    writeFileSync(other, JSON.stringify({ ...record, ladder }));
    const climbs = await runTool(['measure', PHOTOS[0]!, PHOTOS[1]!, '--print', PRINT, '--print', other]);
    expect(climbs.stderr).toMatch(/differ in ladder\.toHz: 62 and 61\.\n/);
  });

  it.each([
    [['--csv', 'h.csv'], 'one photo'],
    [['--spacing-only'], 'one photo'],
    [['--print', PRINT], 'print records are given for'],
  ])('%j is a mistake of use', async (more, says) => {
    const run = await runTool(['measure', ...PHOTOS, '--print', PRINT, ...more], { cwd: at() });
    expect(run).toMatchObject({ exitCode: 64, stdout: '' });
    expect(run.stderr).toContain(says);
  });

  it('the same file twice is told', async () => {
    const run = await runTool(['measure', PHOTOS[0]!, PHOTOS[0]!, '--print', PRINT]);
    expect(run).toMatchObject({ exitCode: 65, stdout: '' });
    expect(run.stderr).toContain('same file');
  });
});
