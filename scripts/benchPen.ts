/**
 * How surely pen lines are found on drawn faces, how exactly, and what is taken for one.
 *
 *   npm run bench:pen -- --faces 200 [--seed 500000] [--measure 20]
 *
 * Draws N faces with lines and N with all that may be taken for one, and looks for lines on them; the first of each are
 * measured with and without their lines. Writes docs/pen.json. Seeds below 500000 are for tuning. All faces are drawn: this
 * says nothing of real ones.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import { runInWorkers } from './bench/workerPool.js';
import type { PenJob, PenOutcome } from './pen/findLines.js';

const WORKER = fileURLToPath(new URL('pen/worker.ts', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/pen.json', import.meta.url));

const { values } = parseArgs({
  options: {
    faces: { type: 'string', default: '200' },
    seed: { type: 'string', default: '500000' },
    measure: { type: 'string', default: '20' },
  },
});
const [faces, seed, measure] = [Number(values.faces), Number(values.seed), Number(values.measure)];
if (![faces, seed].every((value) => Number.isInteger(value) && value >= 1) || !(measure >= 0)) {
  throw new RangeError(
    `Expected whole numbers of at least 1 for --faces and --seed but received ${values.faces} and ${values.seed}.`,
  );
}
const jobs = Array.from({ length: faces }, (_, i): PenJob[] => [
  { kind: 'penned', seed: seed + i, measure: i < measure },
  { kind: 'unpenned', seed: seed + i, measure: false },
]).flat();
const outcomes = await runInWorkers<PenOutcome>(WORKER, jobs, 20);
const of = (kind: PenJob['kind']) => outcomes.filter((one) => one.kind === kind);
const sum = (list: readonly number[]) => list.reduce((total, value) => total + value, 0);
const rms = (list: readonly number[]) => Math.sqrt(sum(list.map((value) => value * value)) / list.length);
const share = (list: readonly boolean[]) => `${list.filter(Boolean).length} of ${list.length}`;
const off = of('penned').flatMap(({ offMm }) => offMm);
const sorted = off.map(Math.abs).sort((a, b) => a - b);
const changes = of('penned').flatMap(({ changeHz }) => (changeHz === undefined ? [] : [changeHz]));
const json = {
  about: 'Pen lines on drawn faces. Written by npm run bench:pen.',
  facesOfEachKind: faces,
  firstSeed: seed,
  linesDrawn: sum(of('penned').map(({ drawn }) => drawn)),
  linesFound: off.length,
  heightRmsMm: rms(off),
  heightP95Mm: sorted[Math.floor(0.95 * sorted.length)],
  heightWorstMm: sorted.at(-1),
  heightWithin95: share(of('penned').flatMap(({ offSds }) => offSds.map((sds) => Math.abs(sds) < 1.96))),
  boldestFirst: share(of('penned').flatMap(({ boldestFirst }) => boldestFirst ?? [])),
  untrueOnPenned: sum(of('penned').map(({ untrue }) => untrue)),
  untrueOnUnpenned: sum(of('unpenned').map(({ untrue }) => untrue)),
  measuredWithAndWithout: changes.length,
  changeRmsHz: rms(changes),
  changeWorstHz: Math.max(...changes.map(Math.abs)),
  changeRmsSds: rms(
    of('penned').flatMap(({ changeHz, sdHz }) => (sdHz === undefined ? [] : [changeHz! / sdHz])),
  ),
};
console.log(json);
const style = await resolveConfig(OUTPUT);
writeFileSync(OUTPUT, await format(JSON.stringify(json), { ...style, filepath: OUTPUT }));
