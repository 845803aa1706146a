/**
 * Bad files: measures mutations of whole files in every format, each of which must end in a verdict or a declared error
 * (`npm run bench:files -- --files 2000`). Prints what came of them and writes docs/files.json; exit code 1 when one
 * ended otherwise, did not end, took too much memory, or gave a wrong frequency with confidence.
 *
 * Seeds below 500000 are for tuning (`--from`); figures to quote come from others.
 */
import { fork, type ChildProcess } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { format, resolveConfig } from 'prettier';
import sharp from 'sharp';
import { MUTATION_KINDS } from './files/mutate.js';
import type { MutationOutcome } from './files/worker.js';

const OUTPUT = fileURLToPath(new URL('../docs/files.json', import.meta.url));
const WORKER = fileURLToPath(new URL('files/worker.ts', import.meta.url));
/** A file that takes longer than this hangs: a whole one takes under a second on an idle machine. */
const HANGS_AFTER_MS = 120_000;
/** Most memory of a process that has measured hundreds of them, MB. */
const MOST_MB = 1000;
/** Of testimages/white-card.jpg (its truth file), and how far off a proposal may be. */
const TRUTH_HZ = 41.02;
const MOST_OFF_HZ = 3;

type Ending =
  MutationOutcome | { readonly seed: number; readonly came: 'crash' | 'hang'; readonly what: string };

const { values } = parseArgs({
  options: {
    files: { type: 'string', default: '2000' },
    from: { type: 'string', default: '500000' },
    minutes: { type: 'string', default: 'Infinity' },
    out: { type: 'boolean', default: true },
  },
  allowNegative: true,
});
const count = Number(values.files);
const from = Number(values.from);
/** No file is begun after this. */
const endAt = Date.now() + 60_000 * Number(values.minutes);

async function main(): Promise<void> {
  const endings = await runAll(Array.from({ length: count }, (_, i) => from + i));
  const outcomes = endings.filter((one): one is MutationOutcome => 'kind' in one);
  const bad = endings.filter(({ came }) => came !== 'verdict' && came !== 'error');
  const wrong = outcomes.filter(({ hz }) => hz !== undefined && Math.abs(hz - TRUTH_HZ) > MOST_OFF_HZ);
  const peakMb = Math.max(...outcomes.map((one) => one.peakMb));
  const report = {
    about:
      'Mutations of whole files in every format, measured with the corners of the face told. Each must end in a verdict or a declared error. Written by npm run bench:files.',
    versions: { node: process.versions.node, sharp: sharp.versions.sharp, libvips: sharp.versions.vips },
    platform: `${process.platform} ${process.arch}`,
    seeds: { from, count: endings.length },
    came: counted(endings.map(({ came }) => came)),
    verdicts: counted(outcomes.filter(({ came }) => came === 'verdict').map(({ what }) => what)),
    errors: counted(outcomes.filter(({ came }) => came === 'error').map(({ what }) => what)),
    proposedOver3HzOff: wrong.length,
    peakMb,
    byKind: Object.fromEntries(
      MUTATION_KINDS.map((kind) => [
        kind,
        counted(outcomes.filter((one) => one.kind === kind).map(({ came }) => came)),
      ]),
    ),
    byFile: Object.fromEntries(
      [...new Set(outcomes.map(({ file }) => file))]
        .sort()
        .map((file) => [file, counted(outcomes.filter((one) => one.file === file).map(({ came }) => came))]),
    ),
  };
  const rounded = JSON.stringify(report, (_, value: unknown) =>
    typeof value === 'number' ? Number(value.toPrecision(4)) : value,
  );
  // Seeds have more digits than figures.
  const text = JSON.stringify({ ...(JSON.parse(rounded) as object), seeds: report.seeds });
  const style = await resolveConfig(OUTPUT);
  const written = await format(text, { ...style, parser: 'json' });
  console.log(written);
  for (const one of [...bad, ...wrong]) console.log(JSON.stringify(one));
  if (values.out) writeFileSync(OUTPUT, written);
  if (bad.length + wrong.length > 0 || peakMb > MOST_MB) process.exitCode = 1;
}

function counted(all: readonly string[]): Readonly<Record<string, number>> {
  const counts: Record<string, number> = {};
  for (const one of [...all].sort()) counts[one] = (counts[one] ?? 0) + 1;
  return counts;
}

/** All seeds, on all cores; a process that ends or hangs is replaced. */
async function runAll(seeds: readonly number[]): Promise<readonly Ending[]> {
  const endings: Ending[] = [];
  const left = [...seeds];
  const work = async (): Promise<void> => {
    let child: ChildProcess | undefined;
    for (let seed = left.shift(); seed !== undefined && Date.now() < endAt; seed = left.shift()) {
      child ??= await started();
      const ending = await endingOf(child, seed);
      endings.push(ending);
      if (endings.length % 100 === 0) process.stderr.write(`${endings.length} of ${seeds.length}\n`);
      if (ending.came === 'crash' || ending.came === 'hang') {
        child.kill('SIGKILL');
        child = undefined;
      }
    }
    child?.kill();
  };
  await Promise.all(Array.from({ length: availableParallelism() }, work));
  return endings.sort((a, b) => a.seed - b.seed);
}

async function started(): Promise<ChildProcess> {
  const child = fork(WORKER, { execArgv: ['--import', 'tsx'] });
  await new Promise((resolve, reject) => {
    child.once('message', resolve).once('exit', reject);
  });
  child.removeAllListeners();
  return child;
}

function endingOf(child: ChildProcess, seed: number): Promise<Ending> {
  return new Promise((resolve) => {
    const done = (ending: Ending) => {
      clearTimeout(timer);
      child.removeAllListeners();
      resolve(ending);
    };
    const timer = setTimeout(() => {
      done({ seed, came: 'hang', what: `over ${HANGS_AFTER_MS} ms` });
    }, HANGS_AFTER_MS);
    child.once('message', (outcome: MutationOutcome) => {
      done(outcome);
    });
    child.once('exit', (code, signal) => {
      done({ seed, came: 'crash', what: `${code} ${signal}` });
    });
    child.send(seed);
  });
}

await main();
