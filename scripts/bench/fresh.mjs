// One job in a fresh process, plain JavaScript so that nothing is loaded beside what is measured.
//
//   node scripts/bench/fresh.mjs JOB PHOTO RECORD    JOB is bare, decode or measure
//
// Prints { "firstMs", "peakBytes" }: the time of the job's first run, modules already loaded, and the largest
// memory that this process ever held.
import { readFileSync } from 'node:fs';
import process from 'node:process';

const [job, photoPath, recordPath] = process.argv.slice(2);

/** Loads what the job needs, and gives the job. */
const JOBS = {
  bare: async () => () => undefined,
  decode: async () => {
    const { default: sharp } = await import('sharp');
    return (bytes) => sharp(bytes).greyscale().raw().toBuffer();
  },
  measure: async () => {
    const { measurePhoto, parsePrintRecord } = await import('../../dist/index.js');
    const record = parsePrintRecord(readFileSync(recordPath, 'utf8'));
    return (bytes) => measurePhoto(bytes, record);
  },
};

/**
 * The kernel hands the peak of the parent on to a child in maxRSS; VmHWM is the child's own (proc_pid_status(5)).
 * Where there is no /proc, maxRSS in KiB is the best there is.
 */
function peakBytes() {
  try {
    return 1024 * Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync('/proc/self/status', 'utf8'))[1]);
  } catch {
    return 1024 * process.resourceUsage().maxRSS;
  }
}

const run = await JOBS[job]();
const bytes = readFileSync(photoPath);
const start = process.hrtime.bigint();
await run(bytes);
const firstMs = Number(process.hrtime.bigint() - start) / 1e6;
process.stdout.write(JSON.stringify({ firstMs, peakBytes: peakBytes() }));
