/**
 * Whether the check of a photo foretells what a measurement of it says, on drawn photographs.
 *
 *   npm run bench:check -- --scenes 10 [--seed 1]
 *
 * Draws N scenes of each kind, measures each as it is and spoilt in four ways, and counts where the check says that the
 * photo will not do though it is not refused for its own faults, or that it will do though it is; what "may do" may go
 * either way. Writes docs/check.json. All photographs are drawn: this says nothing of real ones.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import type { SceneKind } from '../test/synth/scene/kinds.js';
import { runInWorkers } from './bench/workerPool.js';
import { FAULTS, type CheckJob, type CheckOutcome } from './check/checkScene.js';

const WORKER = fileURLToPath(new URL('check/worker.ts', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/check.json', import.meta.url));
/** With a whole tower in them, with one that the frame cuts, and without. */
const KINDS: readonly SceneKind[] = ['plain', 'two-towers', 'cut-by-frame', 'no-tower'];

const { values } = parseArgs({
  options: { scenes: { type: 'string', default: '10' }, seed: { type: 'string', default: '1' } },
});
const [scenes, seed] = [Number(values.scenes), Number(values.seed)];
if (![scenes, seed].every((value) => Number.isInteger(value) && value >= 1)) {
  throw new RangeError(
    `Expected whole numbers of at least 1 for --scenes and --seed but received ${values.scenes} and ${values.seed}.`,
  );
}
const jobs = Array.from({ length: scenes }, (_, i) =>
  KINDS.flatMap((kind) => FAULTS.map((fault): CheckJob => ({ kind, seed: seed + i, fault }))),
).flat();
const outcomes = await runInWorkers<CheckOutcome>(WORKER, jobs, 20);
const share = (of: readonly CheckOutcome[]) => `${of.filter(({ agree }) => agree).length} of ${of.length}`;
const rows = [
  ...FAULTS.map((fault) => ({ of: fault, agree: share(outcomes.filter((one) => one.fault === fault)) })),
  ...KINDS.map((kind) => ({ of: kind, agree: share(outcomes.filter((one) => one.kind === kind)) })),
  { of: 'all', agree: share(outcomes) },
];
const times = outcomes.map(({ timeToDecode }) => timeToDecode).sort((a, b) => a - b);
const timeToDecode = times[Math.floor(times.length / 2)];
const differ = outcomes.filter(({ agree }) => !agree);
console.table(rows);
const may = outcomes.filter(({ check }) => check.startsWith('doubtful')).length;
console.log(`may do: ${may} of ${outcomes.length}; check ÷ decode, median: ${timeToDecode?.toFixed(2)}`);
for (const one of differ) {
  console.log(`${one.kind} ${one.seed} ${one.fault}: check ${one.check}, measurement ${one.reading}`);
}
const json = {
  about: 'Check of drawn photographs beside their measurement. Written by npm run bench:check.',
  scenesOfEachKind: scenes,
  firstSeed: seed,
  rows,
  mayDo: may,
  timeToDecode,
  differ,
};
const style = await resolveConfig(OUTPUT);
writeFileSync(OUTPUT, await format(JSON.stringify(json), { ...style, filepath: OUTPUT }));
