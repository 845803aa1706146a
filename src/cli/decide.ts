import type { Command } from 'commander';
import {
  decideReport,
  decideShapers,
  drawDecision,
  LIMIT_FIELDS,
  pictureOf,
  readLimits,
  type ShaperDecision,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { inColour, withErrors } from './outcome.js';
import { isEntry, readAll } from './readings.js';
import { checkTargets } from './targets.js';

interface Options {
  readonly logbook?: string;
  readonly all?: boolean;
  readonly svg?: string;
  readonly png?: string;
  readonly json?: boolean;
}

const EXAMPLE = `
Example:
  $ stillband measure testimages/white-card.jpg --print testimages/white-card.print.json --json > y.json
  $ stillband decide y.json --max-acceleration 5000 --max-rounding 0.1 --png decide.png

Exit codes: 0 decided, 3 nothing can be chosen, 64 usage, 65 bad input, 66 no such file, 70 internal,
73 cannot write.`;

/**
 * Adds `decide`'s arguments, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  addReadingsArgument(command)
    .option('--all', 'tell what the other shapers would do as well')
    .option('--svg <file>', 'write the cards as SVG (- is standard output)')
    .option('--png <file>', 'write the cards as PNG (- is standard output)')
    .option('--json', 'write the decision as JSON to standard output')
    .addHelpText('after', EXAMPLE);
  command.optionsGroup('Your limits:');
  for (const { flag, help } of LIMIT_FIELDS) command.option(flag, help);
  command.action(async (paths: readonly string[], options: Options) => {
    done(await withErrors(io, options.json ?? false, () => decide(paths, options, io)));
  });
}

/**
 * Adds what names the readings.
 * @param command - The command to fill.
 * @returns The command.
 */
export function addReadingsArgument(command: Command): Command {
  return command
    .argument('<readings...>', 'the reading of each axis: files that measure --json wrote')
    .option('--logbook <dir>', 'take numbers as entries of this logbook');
}

/**
 * Decides by stored readings.
 * @param paths - Files, or numbers of entries.
 * @param options - Logbook and limits, as typed, and what is written.
 * @returns The decision.
 * @throws {InputError} As `decideShapers`, or when a reading is not there.
 */
export async function decideBy(
  paths: readonly string[],
  options: {
    readonly logbook?: string;
    readonly svg?: string;
    readonly png?: string;
    readonly json?: boolean;
  },
): Promise<ShaperDecision> {
  const { logbook } = options;
  const limits = readLimits(options);
  await checkTargets(
    paths.filter((path) => !isEntry(path, logbook)),
    options,
  );
  return decideShapers(await readAll(paths, logbook), limits);
}

/**
 * The exit code of a decision.
 * @param decision - The decision.
 * @returns 3 where no axis has a shaper that holds.
 */
export function exitCodeOfDecision({ axes }: ShaperDecision): number {
  return axes.some((axis) => axis.state === 'chosen' && axis.choice.holds) ? EXIT.done : EXIT.refused;
}

async function decide(paths: readonly string[], options: Options, io: Io): Promise<number> {
  const decision = await decideBy(paths, options);
  const { svg, png, all = false } = options;
  const drawing = svg === undefined && png === undefined ? '' : drawDecision(decision, all);
  const results: Result[] = [];
  if (svg !== undefined) results.push({ path: svg, data: drawing });
  if (png !== undefined) results.push({ path: png, data: await pictureOf(drawing) });
  const json = options.json === true ? `${JSON.stringify(decision, null, 2)}\n` : undefined;
  await deliver(results, json ?? inColour(decideReport(decision, all), io), io);
  return exitCodeOfDecision(decision);
}
