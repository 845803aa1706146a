import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';

const example = (name: string) => fileURLToPath(new URL(`../../examples/${name}`, import.meta.url));
const [JOB, RECORD] = [example('short-tower.job'), example('short-tower.print.json')];
const at = tempFolder('test');

describe('job and weave as processes', () => {
  test('what is woven in is read back, and nothing else has changed', async () => {
    const template = ['--template', 'CALM {axis} {hz}', '--limit-hz', '10-150'];
    const woven = await runTool(['weave', JOB, '--print', RECORD, ...template, '--out', at('woven.job')]);
    expect({ exitCode: woven.exitCode, stderr: woven.stderr }).toEqual({ exitCode: 0, stderr: '' });
    expect(woven.stdout).toMatch(/^56 lines of yours put into /);
    const copy = readFileSync(at('woven.job'), 'utf8');
    expect(copy.replaceAll(/CALM Y [\d.]+\n/g, '')).toBe(readFileSync(JOB, 'utf8'));
    expect(readdirSync(at())).toEqual(['woven.job']);
    const pattern = ['--frequency-line', 'CALM (?<axis>\\w+) (?<hz>[0-9.]+)'];
    const read = await runTool(['job', at('woven.job'), '--print', RECORD, ...pattern, '--json']);
    expect({ exitCode: read.exitCode, stderr: read.stderr }).toEqual({ exitCode: 0, stderr: '' });
    const { job, findings } = JSON.parse(read.stdout) as {
      readonly job: { readonly frequencies: { readonly ladder: unknown } };
      readonly findings: readonly unknown[];
    };
    const { ladder } = JSON.parse(readFileSync(RECORD, 'utf8')) as { readonly ladder: unknown };
    expect(job.frequencies.ladder).toEqual(ladder);
    expect(findings).toEqual([]);
  });

  test.each([
    ['a line of 10 MB', Buffer.alloc(10 * 2 ** 20, 'G'), 'job-line'],
    ['zero bytes', Buffer.alloc(1000), 'job-not-text'],
    ['UTF-16', Buffer.from('\uFEFFG1 X1 Y1 Z1\n', 'utf16le'), 'job-not-text'],
    ['an exponent', Buffer.from('G1 X1e999\n'), 'job-line'],
    ['no height', Buffer.from('G1 X1 E1 F600\nG1 X9 E2\n'), 'job-no-layers'],
    ['nothing', Buffer.alloc(0), 'file-empty'],
  ])('%s ends in a named error', async (_, bytes, code) => {
    writeFileSync(at('bad.job'), bytes);
    const run = await runTool(['job', at('bad.job'), '--axis', 'Y']);
    expect(run).toMatchObject({ exitCode: 65, stdout: '' });
    expect(run.stderr).toContain(`(${code})`);
    expect(run.stderr).not.toMatch(/\bat .*\.js:\d/);
  });
});
