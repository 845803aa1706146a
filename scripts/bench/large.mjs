// One job on one large photo in a fresh process, plain JavaScript so that nothing is loaded beside what is measured.
//
//   node scripts/bench/large.mjs JOB PHOTO RECORD    JOB is ratio, decode, check or measure
//
// Prints { "peakMb" }, and for ratio { "checkToDecode" }: CPU times of the check ÷ those of the decode, in turn.
import { readFileSync } from 'node:fs';
import process from 'node:process';
import sharp from 'sharp';
import { checkPhoto, measurePhoto, parsePrintRecord } from '../../dist/index.js';

const WARM_UP = 2;
const ROUNDS = 9;

const [job, photoPath, recordPath] = process.argv.slice(2);
// A decode that comes out of a cache is no unit.
sharp.cache(false);
const bytes = readFileSync(photoPath);
// The corners are those of the photo as it was: the face is to be found.
const record = { ...parsePrintRecord(readFileSync(recordPath, 'utf8')), facePx: undefined };
delete record.facePx;

const JOBS = {
  decode: () => sharp(bytes).greyscale().raw().toBuffer(),
  check: () => checkPhoto(bytes, record),
  measure: () => measurePhoto(bytes, record),
};

async function cpuOf(run) {
  const before = process.cpuUsage();
  await run();
  const { user, system } = process.cpuUsage(before);
  return user + system;
}

const told = {};
if (job === 'ratio') {
  told.checkToDecode = [];
  for (let round = -WARM_UP; round < ROUNDS; round += 1) {
    const ratio = (await cpuOf(JOBS.check)) / (await cpuOf(JOBS.decode));
    if (round >= 0) told.checkToDecode.push(ratio);
  }
} else await JOBS[job]();
// The process's own peak: proc_pid_status(5); where there is no /proc, maxRSS in KiB is the best there is.
let kb = process.resourceUsage().maxRSS;
try {
  kb = Number(/VmHWM:\s+(\d+) kB/.exec(readFileSync('/proc/self/status', 'utf8'))[1]);
} catch {
  // There is none.
}
process.stdout.write(JSON.stringify({ ...told, peakMb: (1024 * kb) / 1e6 }));
