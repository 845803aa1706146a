/**
 * How long a job file of 200 MB takes to be read and woven, beside reading it line by line, and how much memory.
 *
 *   npm run bench:job -- [--megabytes 200] [--rounds 5]
 *
 * Each reading runs in a process of its own (scripts/job/run.mjs); ratios are of CPU time, within a round. Writes docs/job.json.
 */
import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync, statSync, writeFileSync, writeSync } from 'node:fs';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import { ratioSpread } from './bench/spread.js';

const RUN = fileURLToPath(new URL('job/run.mjs', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/job.json', import.meta.url));
const KINDS = ['lines', 'readline', 'job', 'pattern', 'weave'] as const;
type Kind = (typeof KINDS)[number];

interface Run {
  readonly ms: number;
  readonly peakMb: number;
  readonly result: Readonly<Record<string, number>>;
}

const { values } = parseArgs({
  options: { megabytes: { type: 'string', default: '200' }, rounds: { type: 'string', default: '5' } },
});
const [megabytes, rounds] = [Number(values.megabytes), Number(values.rounds)];
if (!(megabytes >= 1) || !(Number.isInteger(rounds) && rounds >= 1)) {
  throw new RangeError(
    `Expected --megabytes and --rounds of at least 1 but received ${values.megabytes} and ${values.rounds}.`,
  );
}

const LAYERS = 320;

/** A tower of 84 × 60 mm in 320 layers, filled with short moves as curved infill has them, and a comment now and then. */
function writeLargeJob(file: string): void {
  const target = openSync(file, 'w');
  const layerBytes = (megabytes * 1e6) / LAYERS;
  let e = 0;
  writeSync(target, '; a large job of our own\nG21\nG90\nG28\n');
  for (let layer = 0; layer < LAYERS; layer += 1) {
    const z = (0.2 * (layer + 1)).toFixed(2);
    const lines = [`; layer ${layer}`, `G0 Z${z} F1800`, 'G0 X100.000 Y90.000 F12000'];
    let [x, y] = [100, 90];
    let bytes = 0;
    const print = (toX: number, toY: number, more = '') => {
      e += 0.033 * Math.hypot(toX - x, toY - y);
      [x, y] = [toX, toY];
      const line = `G1 X${x.toFixed(3)} Y${y.toFixed(3)} E${e.toFixed(5)}${more}`;
      bytes += line.length + 1;
      lines.push(line);
    };
    print(183.6, 90, ' F6600');
    print(183.6, 149.6);
    print(100, 149.6);
    print(100, 90);
    for (let i = 0; bytes < layerBytes; i += 1) {
      const t = i * 0.021 + layer;
      print(
        141 + 38 * Math.cos(t) * Math.cos(0.31 * t),
        120 + 26 * Math.sin(1.7 * t),
        i === 0 ? ' F9000' : '',
      );
      if (i % 500 === 0) lines.push(`; part ${i}`);
    }
    writeSync(target, `${lines.join('\n')}\n`);
  }
  closeSync(target);
}

const folder = mkdtempSync(join(tmpdir(), 'stillband-bench-'));
try {
  const file = join(folder, 'large.job');
  writeLargeJob(file);
  const run = (kind: Kind): Run =>
    JSON.parse(
      execFileSync(process.execPath, [RUN, kind, file, join(folder, 'woven.job')], { encoding: 'utf8' }),
    ) as Run;
  run('lines'); // The file is in the system's memory from here on.
  const all = Array.from({ length: rounds }, (_, round) => {
    const one = Object.fromEntries(KINDS.map((kind) => [kind, run(kind)])) as Record<Kind, Run>;
    console.log(round, KINDS.map((kind) => `${kind} ${Math.round(one[kind].ms)} ms`).join(', '));
    return one;
  });
  const ms = (kind: Kind) => all.map((one) => one[kind].ms);
  const ratios = (unit: Kind) =>
    Object.fromEntries(
      KINDS.filter((kind) => kind !== unit).map((kind) => [kind, ratioSpread(ms(kind), ms(unit))]),
    );
  const json = {
    about: 'Reading and weaving a large job file. Written by npm run bench:job.',
    node: process.version,
    cpu: cpus()[0]?.model,
    megabytes: statSync(file).size / 1e6,
    lines: all[0]!.job.result['lines'],
    rounds,
    time: 'CPU time, user and system, of all threads',
    limits: { ratioToReadline: 3, peakMb: 150 },
    unit: 'readline: the line events of node:readline; lines: a plain loop that makes one text of each line and does nothing with it',
    ratioToLines: ratios('lines'),
    ratioToReadline: ratios('readline'),
    peakMb: Object.fromEntries(KINDS.map((kind) => [kind, Math.max(...all.map((one) => one[kind].peakMb))])),
  };
  console.log(json);
  const style = await resolveConfig(OUTPUT);
  writeFileSync(OUTPUT, await format(JSON.stringify(json), { ...style, filepath: OUTPUT }));
} finally {
  rmSync(folder, { recursive: true });
}
