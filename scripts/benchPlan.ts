/**
 * How well plans predict the uncertainty of a test tower that is not printed yet.
 *
 *   npx tsx scripts/benchPlan.ts [--plans 320] [--seed 500000]
 *
 * For each of N machines the tool plans a tower by what its user knows; its face is drawn as it would come out, printed and
 * photographed as advised, with the errors in record and picture that the budget expects, and measured. Writes
 * docs/plan.json. Seeds below 500000 are for tuning. All faces are drawn: this says nothing of real prints.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import { COVERAGE_95 } from '../src/core/estimate.js';
import { median } from '../src/signal/median.js';
import { runInWorkers } from './bench/workerPool.js';
import type { PlanOutcome } from './plan/measurePlan.js';

const WORKER = fileURLToPath(new URL('plan/worker.ts', import.meta.url));
const OUTPUT = fileURLToPath(new URL('../docs/plan.json', import.meta.url));

const { values } = parseArgs({
  options: {
    plans: { type: 'string', default: '320' },
    seed: { type: 'string', default: '500000' },
  },
});
const [plans, seed] = [Number(values.plans), Number(values.seed)];
if (![plans, seed].every((value) => Number.isInteger(value) && value >= 1)) {
  throw new RangeError(
    `Expected whole numbers of at least 1 for --plans and --seed but received ${values.plans} and ${values.seed}.`,
  );
}
const outcomes = await runInWorkers<PlanOutcome>(
  WORKER,
  Array.from({ length: plans }, (_, i) => ({ seed: seed + i })),
  20,
);
const read = outcomes.flatMap(({ measured }) => (measured === undefined ? [] : [measured]));
const rms = (list: readonly number[]) =>
  Math.sqrt(list.reduce((sum, value) => sum + value * value, 0) / list.length);
const refused = new Map<string, number>();
for (const { state } of outcomes) {
  if (state !== 'proposed') refused.set(state, (refused.get(state) ?? 0) + 1);
}
const route = (of: 'combined' | 'fromNull' | 'fromSpacing') => {
  const all = read.filter(({ predicted }) => predicted !== undefined);
  const predicted = all.map((one) => one.predicted![of]);
  const stated = all.map((one) => one.stated[of]);
  const errors = all.map((one) => one.errors[of]);
  return {
    predictedSdMedianHz: median(predicted),
    statedSdMedianHz: median(stated),
    ratioOfMedians: median(predicted) / median(stated),
    errorRmsHz: rms(errors),
    predictedRmsOverErrorRms: rms(predicted) / rms(errors),
    insidePredicted95: errors.filter((error, i) => Math.abs(error) <= COVERAGE_95 * predicted[i]!).length,
    of: all.length,
  };
};
const json = {
  about:
    'Towers planned by the tool, drawn as planned and measured by the tool. Written by scripts/benchPlan.ts.',
  plans,
  firstSeed: seed,
  proposed: read.length,
  refused: Object.fromEntries(refused),
  worstErrorHz: Math.max(...read.map(({ errors }) => Math.abs(errors.combined))),
  toldInTheMiddleSdMedianHz: median(outcomes.map(({ toldSdHz }) => toldSdHz)),
  combined: route('combined'),
  fromNull: route('fromNull'),
  fromSpacing: route('fromSpacing'),
};
console.log(json);
const style = await resolveConfig(OUTPUT);
writeFileSync(OUTPUT, await format(JSON.stringify(json), { ...style, filepath: OUTPUT }));
