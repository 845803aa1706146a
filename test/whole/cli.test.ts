import { execFile, execFileSync, spawnSync } from 'node:child_process';
import { lstatSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import { parseReading } from '../../src/reading/schema.js';
import { measurePhoto } from '../../src/measurePhoto.js';
import { measured, photoBytes, photoPath, photoRecord, recordAsTold } from '../helpers/measured.js';
import { BIN, runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const PHOTO = photoPath('white-card.jpg');
const RECORD = photoPath('white-card.print.json');

const at = tempFolder('test');

/** What a library that knows nothing of us reads from a picture. */
async function pictureSize(file: string) {
  const { format, width, height } = await sharp(readFileSync(file)).metadata();
  return { format, width, height };
}

describe('demo', () => {
  test('writes its picture and says where', async () => {
    const run = await runTool(['demo'], { cwd: at() });
    expect(run.exitCode).toBe(0);
    expect(run.stdout).toMatch(/^Axis Y {3}.*Hz ± /);
    expect(readdirSync(at())).toEqual(['stillband-demo.png']);
    expect(run.stderr).toMatch(/picture is in stillband-demo\.png/);
    // The photo is no photograph of a real print, and the demo does not pass it off as one.
    expect(run.stderr).toMatch(/made by calculation/);
    const { format, width, height } = await pictureSize(at('stillband-demo.png'));
    expect(format).toBe('png');
    expect(Math.min(width, height)).toBeGreaterThan(500);
  });

  test('or where it is told to', async () => {
    const run = await runTool(['demo', '--out', at('elsewhere.png')]);
    expect(run.exitCode).toBe(0);
    expect(run.stderr).toContain(at('elsewhere.png'));
    expect(readdirSync(at())).toEqual(['elsewhere.png']);
  });
});

describe('measure', () => {
  test('writes reading, table and pictures, each whole and valid', async () => {
    const files = ['--csv', at('h.csv'), '--svg', at('p.svg'), '--png', at('p.png')];
    const run = await runTool(['measure', PHOTO, '--print', RECORD, '--json', ...files]);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode: 0, stderr: '' });
    const reading = await measurePhoto(photoBytes('white-card'), recordAsTold('white-card'));
    // The built command and the source measure the same.
    expect(parseReading(run.stdout)).toEqual(reading);
    expect(readdirSync(at()).sort()).toEqual(['h.csv', 'p.png', 'p.svg']);
    const rows = readFileSync(at('h.csv'), 'utf8').split('\r\n');
    expect(rows).toHaveLength(reading.heights.length + 2);
    const svg = await pictureSize(at('p.svg'));
    expect(svg.format).toBe('svg');
    // Source: librsvg through sharp reads the SVG's own size; the PNG is drawn in that size.
    expect(await pictureSize(at('p.png'))).toEqual({ ...svg, format: 'png' });
  });

  test('a refusal writes its pictures too, and ends in 3', async () => {
    const [photo, record] = [photoPath('blue-markers.jpg'), photoPath('blue-markers.print.json')];
    const run = await runTool([
      'measure',
      photo,
      '--print',
      record,
      '--png',
      at('p.png'),
      '--csv',
      at('h.csv'),
    ]);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode: 3, stderr: '' });
    expect((await pictureSize(at('p.png'))).format).toBe('png');
    expect(readFileSync(at('h.csv'), 'utf8')).toMatch(/^height_mm,/);
  });

  test('a record given by flags alone is the record given by file', async () => {
    const { face, shaper, ladder, facePx, ...rest } = photoRecord('white-card');
    if (ladder.kind !== 'linear') throw new Error('white-card has a linear ladder');
    const flags: Readonly<Record<string, unknown>> = {
      '--title': rest.title,
      '--axis': rest.axis,
      '--speed': rest.speedMmPerS,
      '--acceleration': rest.accelerationMmPerS2,
      '--corner-speed': rest.cornerSpeedMmPerS,
      '--layer-height': rest.layerHeightMm,
      '--layers': rest.layers,
      '--face-width': face.widthMm,
      '--face-height': face.heightMm,
      '--leading-corner': face.leadingCorner,
      '--shaper': shaper!.family,
      '--damping': shaper!.dampingRatio,
      '--hz-means': shaper!.hzMeans,
      '--along-wall': shaper!.alongWall,
      '--ladder': ladder.kind,
      '--from-hz': ladder.fromHz,
      '--to-hz': ladder.toHz,
      '--first-layer': ladder.firstLayer,
      '--last-layer': ladder.lastLayer,
      '--reference': 'id1-card',
      '--behind-face': 0,
      '--face': facePx.map((corner) => corner.join(',')).join(' '),
    };
    const args = Object.entries(flags).flatMap(([flag, value]) => [flag, String(value)]);
    const byFlags = await runTool(['measure', PHOTO, ...args, '--json']);
    expect(byFlags.stderr).toBe('');
    expect(parseReading(byFlags.stdout)).toEqual((await measured('white-card')).reading);
  });

  test('a text for a pipe holds no colour, also where the surroundings ask for it', async () => {
    const asked = { CI: 'true', FORCE_COLOR: '1' };
    const run = await runTool(['measure', PHOTO, '--print', RECORD], { env: asked });
    expect(run.exitCode).toBe(0);
    expect(run.stdout).not.toContain('\u001B');
  });

  test('writes through links and into pipes', async () => {
    symlinkSync('table.csv', at('link.csv'));
    execFileSync('mkfifo', [at('pipe.png')]);
    const arrived = readFile(at('pipe.png'));
    const files = ['--csv', at('link.csv'), '--png', at('pipe.png')];
    expect((await runTool(['measure', PHOTO, '--print', RECORD, ...files])).exitCode).toBe(0);
    expect((await sharp(await arrived).metadata()).format).toBe('png');
    expect(readFileSync(at('table.csv'), 'utf8')).toMatch(/^height_mm,/);
    expect(lstatSync(at('link.csv')).isSymbolicLink()).toBe(true);
    expect(lstatSync(at('pipe.png')).isFIFO()).toBe(true);
    expect(readdirSync(at()).sort()).toEqual(['link.csv', 'pipe.png', 'table.csv']);
  });

  test('standard output under the name of its device is taken for what it is', async () => {
    const run = await runTool(['measure', PHOTO, '--print', RECORD, '--csv', '/dev/stdout']);
    expect(run.exitCode).toBe(0);
    expect(run.stdout).toMatch(/^height_mm,/);
    expect(run.stdout).not.toContain('Axis');
  });

  test('standard output that takes nothing is told without a stack trace', () => {
    // Linux's device that is always full.
    const script = '"$0" "$1" measure "$2" --print "$3" > /dev/full';
    const run = spawnSync('bash', ['-c', script, process.execPath, BIN, PHOTO, RECORD], { encoding: 'utf8' });
    expect(run.status).toBe(73);
    expect(run.stderr).toMatch(/^stillband: The result cannot be written to standard output \(ENOSPC\)\.\n/);
    expect(run.stderr).toMatch(/\(cannot-write\)\n$/);
    expect(run.stderr).not.toMatch(/^\s+at /m);
  });

  test('an error of the inside is told without a stack trace, as JSON when that was asked for', async () => {
    // Breaks something that the measuring stands on.
    writeFileSync(at('break.mjs'), "Float64Array.from = () => { throw new TypeError('planted\\nbelow'); };");
    const broken = { nodeArgs: ['--import', at('break.mjs')] };
    const args = ['measure', PHOTO, '--print', RECORD];
    const told = await runTool(args, broken);
    expect({ exitCode: told.exitCode, stdout: told.stdout }).toEqual({ exitCode: 70, stdout: '' });
    const lines = told.stderr.split('\n');
    expect(lines).toHaveLength(4);
    expect(lines[0]).toBe('stillband: Something went wrong inside: planted.');
    expect(lines[1]).toMatch(/report it/);
    expect(lines[2]).toBe('(internal)');
    const json = await runTool([...args, '--json'], broken);
    expect({ exitCode: json.exitCode, stderr: json.stderr }).toEqual({ exitCode: 70, stderr: '' });
    expect(JSON.parse(json.stdout)).toEqual({
      error: { code: 'internal', message: 'Something went wrong inside: planted.', advice: lines[1] },
    });
  });

  test('a pipe that is closed early is no error', async () => {
    // `head` in a shell: the reader leaves after the first line.
    const script = '"$0" "$@" --json | head -n 1; exit "${PIPESTATUS[0]}"';
    const args = ['-c', script, process.execPath, BIN, 'measure', PHOTO, '--print', RECORD];
    const run = await new Promise<{ code: unknown; stdout: string; stderr: string }>((resolve) => {
      execFile('bash', args, (error, stdout, stderr) => {
        resolve({ code: error?.code ?? 0, stdout, stderr });
      });
    });
    expect(run).toEqual({ code: 0, stdout: '{\n', stderr: '' });
  });
});

describe('help', () => {
  test.each([
    [['--help'], 0],
    [['help'], 0],
    [['measure', '--help'], 0],
    [['help', 'measure'], 0],
    [['demo', '--help'], 0],
    [['--version'], 0],
  ])('%j ends in %d and says nothing on standard error', async (args, exitCode) => {
    const run = await runTool(args);
    expect({ exitCode: run.exitCode, stderr: run.stderr }).toEqual({ exitCode, stderr: '' });
    expect(run.stdout).toMatch(/\S/);
  });

  test('no arguments: told what to type, and ends in 64', async () => {
    const run = await runTool([]);
    expect({ exitCode: run.exitCode, stdout: run.stdout }).toEqual({ exitCode: 64, stdout: '' });
    expect(run.stderr).toMatch(/^stillband: No command is given\.\n.*--help.*\n\(usage\)\n$/);
  });

  /** Every module that node loads, by a hook that writes its address down. */
  async function modulesOf(args: readonly string[]): Promise<string> {
    const log = at('modules.txt');
    const hook = `
      import { appendFileSync } from 'node:fs';
      export async function load(url, context, next) {
        appendFileSync(${JSON.stringify(log)}, url + '\\n');
        return next(url, context);
      }`;
    writeFileSync(at('hook.mjs'), hook);
    const register = `import { register } from 'node:module'; register('./hook.mjs', import.meta.url);`;
    writeFileSync(at('register.mjs'), register);
    await runTool(args, { nodeArgs: ['--import', at('register.mjs')] });
    return readFileSync(log, 'utf8');
  }

  test('loads nothing heavy', async () => {
    const HEAVY = ['sharp', 'zod', 'resvg-js', 'ndarray', 'fft.js', 'exif-reader', 'jsonc-parser'];
    const loaded = (modules: string) => HEAVY.filter((name) => modules.includes(`/node_modules/${name}/`));
    const help = await modulesOf(['--help']);
    expect(help).toContain('/node_modules/commander/');
    expect(loaded(help)).toEqual([]);
    rmSync(at('modules.txt'));
    // The same hook sees them where they are needed.
    const measure = loaded(await modulesOf(['measure', 'none.jpg', '--axis', 'Y']));
    expect(measure).toEqual(expect.arrayContaining(['sharp', 'zod', 'ndarray']));
  });
});
