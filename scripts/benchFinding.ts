/**
 * How well the face is found on drawn photographs with known truth.
 *
 *   npm run bench:finding -- --scenes 20 [--kind plain,no-tower] [--seed 1]
 *
 * Draws N scenes of each kind, lets the finder search them with the record's height ÷ width as its hint, and prints for
 * each kind how many faces were found right (every corner within 6 px of 12 megapixels), inexact (the told face with a corner
 * further off), found but off by far more than they are said to be unsure by, refused, or wrong with confidence. Without
 * `--kind` docs/finding.json is written. Seeds below 500000 are for tuning, those above for the figures that count. All
 * photographs are drawn: this says nothing of real ones.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import { SCENE_KINDS, type SceneKind } from '../test/synth/scene/kinds.js';
import { runInWorkers } from './bench/workerPool.js';
import { TOLERANCE_PX, type SceneJob, type SceneOutcome } from './finding/searchScene.js';
import { findingRows, findingText, timesText, timesToDecode, type FindingRow } from './finding/table.js';

const WORKER = fileURLToPath(new URL('finding/worker.ts', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/finding.json', import.meta.url));
/** Seeds from here on are never looked at while tuning. */
const FIRST_TEST_SEED = 500_000;

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      scenes: { type: 'string', default: '20' },
      kind: { type: 'string' },
      seed: { type: 'string', default: '1' },
    },
  });
  const [scenes, seed] = [Number(values.scenes), Number(values.seed)];
  if (![scenes, seed].every((value) => Number.isInteger(value) && value >= 1)) {
    throw new RangeError(
      `Expected whole numbers of at least 1 for --scenes and --seed but received ${values.scenes} and ${values.seed}.`,
    );
  }
  const kinds = values.kind?.split(',').map(kindOf) ?? SCENE_KINDS;
  const jobs = Array.from({ length: scenes }, (_, i) =>
    kinds.map((kind): SceneJob => ({ kind, seed: seed + i })),
  ).flat();
  const outcomes = await runInWorkers<SceneOutcome>(WORKER, jobs, 20);
  const rows = findingRows(outcomes);
  console.log(findingText(rows));
  const { found, refused } = timesToDecode(outcomes);
  if (found !== undefined) console.log(`\nsearch ÷ decode where a face was found: ${timesText(found)}`);
  if (refused !== undefined) console.log(`search ÷ decode where none was: ${timesText(refused)}`);
  console.log('\nWrong with confidence, inexact, and refused though there to be found:');
  for (const one of notable(outcomes)) console.log(`  ${describe(one)}`);
  if (values.kind === undefined) await writeJson(rows, outcomes, scenes, seed);
}

function kindOf(name: string): SceneKind {
  const kind = SCENE_KINDS.find((one) => one === name);
  if (kind === undefined) {
    throw new RangeError(`Expected --kind of ${SCENE_KINDS.join(', ')} but received ${name}.`);
  }
  return kind;
}

/** What somebody would look at next. */
function notable(outcomes: readonly SceneOutcome[]): readonly SceneOutcome[] {
  const rows = findingRows(outcomes);
  const mustFind = new Set(rows.filter((row) => row.expected === 'found').map((row) => row.kind));
  return [
    ...outcomes.filter((one) => one.verdict === 'wrong'),
    ...outcomes.filter((one) => one.verdict === 'inexact'),
    ...outcomes.filter((one) => one.verdict === 'refused' && mustFind.has(one.kind)),
  ];
}

function describe({ kind, seed, verdict, state, confidence, corners, cornerSdPx }: SceneOutcome): string {
  return [
    `${kind} ${seed}: ${verdict === 'refused' ? state : verdict}`,
    ...(confidence === undefined ? [] : [`confidence ${confidence.toFixed(3)}`]),
    ...(corners === undefined ? [] : [`corners off by up to ${corners.worstPx.toFixed(1)} px`]),
    ...(cornerSdPx === undefined ? [] : [`said to be unsure by ${cornerSdPx.toFixed(1)} px`]),
  ].join(', ');
}

async function writeJson(
  rows: readonly FindingRow[],
  outcomes: readonly SceneOutcome[],
  scenes: number,
  seed: number,
): Promise<void> {
  const tuning = seed < FIRST_TEST_SEED;
  const json = {
    about: `Faces found in drawn photographs with known truth, ${tuning ? 'seeds used for tuning' : 'seeds not used for tuning'}. Written by npm run bench:finding.`,
    scenesOfEachKind: scenes,
    firstSeed: seed,
    tolerancePx: TOLERANCE_PX,
    rows,
    timeToDecode: timesToDecode(outcomes),
    notable: notable(outcomes),
  };
  const style = await resolveConfig(OUTPUT);
  writeFileSync(OUTPUT, await format(JSON.stringify(json), { ...style, filepath: OUTPUT }));
}

await main();
