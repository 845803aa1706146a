import { writeFileSync } from 'node:fs';
import { beforeEach, describe, expect, test } from 'vitest';
import { readingOf } from '../decide/fixtures.js';
import { runTool } from '../helpers/runTool.js';
import { tempFolder } from '../helpers/tempFolder.js';
import { bareRefusal } from '../report/fixtures.js';

// The command as it is installed; readings are invented, since nothing that is measured is checked here.

const at = tempFolder('test');

beforeEach(() => {
  writeFileSync(at('y.json'), JSON.stringify(readingOf()));
  writeFileSync(at('x.json'), JSON.stringify(readingOf({ axis: 'X', hz: 52.3 })));
  writeFileSync(at('refused.json'), JSON.stringify(bareRefusal()));
});

describe('decide and after as processes', () => {
  test('tell both axes, and the same in text and JSON', async () => {
    const args = ['y.json', 'x.json', '--max-acceleration', '5000', '--max-rounding', '0.15'];
    const text = await runTool(['decide', ...args], { cwd: at() });
    expect([text.exitCode, text.stderr]).toEqual([0, '']);
    const json = await runTool(['decide', ...args, '--json', '--png', 'cards.png'], { cwd: at() });
    const { axes } = JSON.parse(json.stdout) as {
      axes: { axis: string; choice: { family: string; enterHz: number; dampingRatio: number } }[];
    };
    for (const { axis, choice } of axes) {
      expect(text.stdout).toContain(
        `Axis ${axis}   enter ${choice.family}, ${choice.enterHz.toFixed(1)} Hz, damping ratio ${choice.dampingRatio.toFixed(3)}`,
      );
    }
    const after = await runTool(['after', ...args], { cwd: at() });
    expect(after.exitCode).toBe(0);
    for (const { axis, choice } of axes) {
      expect(after.stdout).toContain(`axis ${axis}: ${choice.family}, ${choice.enterHz.toFixed(1)} Hz`);
    }
  });

  test('a refusal is a result', async () => {
    for (const command of ['decide', 'after']) {
      const run = await runTool([command, 'refused.json'], { cwd: at() });
      expect([run.exitCode, run.stderr]).toEqual([3, '']);
    }
  });

  test('a damaged reading is told', async () => {
    writeFileSync(at('cut.json'), JSON.stringify(readingOf()).slice(0, 500));
    const run = await runTool(['decide', 'cut.json', '--json'], { cwd: at() });
    expect(run.exitCode).toBe(65);
    expect(JSON.parse(run.stdout)).toMatchObject({ error: { code: 'record-not-json' } });
  });
});
