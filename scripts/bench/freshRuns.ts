import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import type { Photo } from './photos.js';
import { ratioSpread, spreadOf, type Spread } from './spread.js';

const FRESH = fileURLToPath(new URL('fresh.mjs', import.meta.url));
const BIN = fileURLToPath(new URL('../../dist/cli/bin.js', import.meta.url));

type Job = 'bare' | 'decode' | 'measure';

/** Largest memory of a process, MB of 10⁶ bytes: the highest of all its runs. */
export type PeakMb = number;

/** First calls, each in a process of its own. */
export interface FreshRuns {
  /** First measurement ÷ first decode, modules loaded, nothing warm. */
  readonly coldRatio: Spread;
  readonly peakMb: { readonly bareNode: PeakMb; readonly decode: PeakMb; readonly measure: PeakMb };
}

/** `stillband --help` ÷ `node -e 0`, whole processes. */
export interface HelpRuns extends Spread {
  readonly ratioOfMedians: number;
}

/**
 * Runs bare node, the decode and the measurement in turn, each in a fresh process.
 * @param photo - The photo.
 * @param runs - How often.
 * @throws {Error} When a process fails.
 */
export function freshRuns(photo: Photo, runs: number): FreshRuns {
  const all: Record<Job, FreshRun[]> = { bare: [], decode: [], measure: [] };
  for (let run = 0; run < runs; run += 1) {
    for (const job of ['bare', 'decode', 'measure'] as const) all[job].push(freshRun(job, photo));
  }
  const firstMs = (job: Job) => all[job].map((run) => run.firstMs);
  const peakMb = (job: Job) => Math.max(...all[job].map((run) => run.peakBytes)) / 1e6;
  return {
    coldRatio: ratioSpread(firstMs('measure'), firstMs('decode')),
    peakMb: { bareNode: peakMb('bare'), decode: peakMb('decode'), measure: peakMb('measure') },
  };
}

/**
 * Times `stillband --help` and `node -e 0` in turn.
 * @param runs - How often each.
 * @throws {Error} When a process fails.
 */
export function helpRuns(runs: number): HelpRuns {
  const help: number[] = [];
  const bare: number[] = [];
  for (let run = 0; run < runs; run += 1) {
    bare.push(processMs(['-e', '0']));
    help.push(processMs([BIN, '--help']));
  }
  const ratioOfMedians = spreadOf(help).median / spreadOf(bare).median;
  return { ratioOfMedians, ...ratioSpread(help, bare) };
}

interface FreshRun {
  readonly firstMs: number;
  readonly peakBytes: number;
}

function freshRun(job: Job, photo: Photo): FreshRun {
  return JSON.parse(node([FRESH, job, photo.path, photo.recordPath])) as FreshRun;
}

function processMs(args: readonly string[]): number {
  const start = performance.now();
  node(args);
  return performance.now() - start;
}

/** Runs node without the loader of TypeScript that this process was started with. */
function node(args: readonly string[]): string {
  const env = { ...process.env };
  delete env['NODE_OPTIONS'];
  const { status, stdout, stderr } = spawnSync(process.execPath, args, { encoding: 'utf8', env });
  if (status !== 0) throw new Error(`node ${args.join(' ')} failed: ${stderr}`);
  return stdout;
}
