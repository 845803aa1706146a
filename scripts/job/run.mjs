// One reading of a job file in a process of its own, with what was built: node scripts/job/run.mjs KIND FILE OUT
// Prints milliseconds of CPU time, without the start of the process, and the peak of its memory: other work on the
// machine does not count.
import { Buffer } from 'node:buffer';
import { createReadStream, readFileSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import process from 'node:process';
import { createInterface } from 'node:readline';
import { openJob } from '../../dist/cli/jobFile.js';
import { examineJob, planWeave, weave } from '../../dist/index.js';

const [kind, file, out] = process.argv.slice(2);
const open = await openJob(file);
const record = {
  schema: 'stillband/print-record@1',
  axis: 'Y',
  speedMmPerS: 110,
  accelerationMmPerS2: 6000,
  cornerSpeedMmPerS: 6,
  layerHeightMm: 0.2,
  layers: 320,
  face: { leadingCorner: 'left' },
  ladder: { kind: 'linear', fromHz: 18, toHz: 66, firstLayer: 4, lastLayer: 319 },
};
const template = 'CALM {axis} {hz}';

const KINDS = {
  // The plain loop: one text for each line, and nothing done with it.
  lines: async () => {
    let rest = '';
    let lines = 0;
    let characters = 0;
    for await (const chunk of open()) {
      const text = rest + Buffer.from(chunk.buffer, 0, chunk.length).toString('latin1');
      let from = 0;
      for (;;) {
        const end = text.indexOf('\n', from);
        if (end < 0) break;
        const line = text.slice(from, end);
        lines += 1;
        characters += line.length;
        from = end + 1;
      }
      rest = text.slice(from);
    }
    return { lines, characters };
  },
  readline: async () => {
    let lines = 0;
    const reader = createInterface({ input: createReadStream(file), crlfDelay: Infinity });
    await new Promise((resolve) => {
      reader.on('line', () => (lines += 1));
      reader.on('close', resolve);
    });
    return { lines };
  },
  job: async () => {
    const { job, findings } = await examineJob(open(), record);
    return { lines: job.lines, layers: job.layers.count, findings: findings.length };
  },
  pattern: async () => {
    const { job } = await examineJob(open(), record, { frequencyLine: 'CALM (?<axis>\\w+) (?<hz>[0-9.]+)' });
    return { lines: job.lines, layers: job.layers.count };
  },
  weave: async () => {
    const plan = await planWeave(open(), { record, template, limitHz: { low: 10, high: 150 } });
    await writeFile(out, weave(open(), plan));
    return { layers: plan.layers, insertions: plan.insertions.length };
  },
};
const begun = process.cpuUsage();
const result = await KINDS[kind]();
const { user, system } = process.cpuUsage(begun);
const ms = (user + system) / 1000;
// The process's own peak: proc_pid_status(5); where there is no /proc, maxRSS in KiB is the best there is.
let kb = process.resourceUsage().maxRSS;
try {
  kb = Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync('/proc/self/status', 'utf8'))[1]);
} catch {
  // No /proc.
}
process.stdout.write(JSON.stringify({ ms, peakMb: kb / 1024, result }));
