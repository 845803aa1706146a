import type { Command } from 'commander';
import { afterReport, afterSteps, LIMIT_FIELDS } from '../index.js';
import { addReadingsArgument, decideBy, exitCodeOfDecision } from './decide.js';
import { deliver } from './deliver.js';
import type { Io } from './io.js';
import { inColour, withErrors } from './outcome.js';

interface Options {
  readonly logbook?: string;
  readonly json?: boolean;
}

const EXAMPLE = `
Example:
  $ stillband measure testimages/white-card.jpg --print testimages/white-card.print.json --json > y.json
  $ stillband after y.json --max-acceleration 5000

Exit codes: 0 told, 3 nothing can be chosen, 64 usage, 65 bad input, 66 no such file, 70 internal.`;

/**
 * Adds `after`'s arguments, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  addReadingsArgument(command)
    .option('--json', 'write decision and steps as JSON to standard output')
    .addHelpText('after', EXAMPLE);
  command.optionsGroup('Your limits:');
  for (const { flag, help } of LIMIT_FIELDS) command.option(flag, help);
  command.action(async (paths: readonly string[], options: Options) => {
    done(await withErrors(io, options.json ?? false, () => after(paths, options, io)));
  });
}

async function after(paths: readonly string[], options: Options, io: Io): Promise<number> {
  const steps = afterSteps(await decideBy(paths, options));
  const report =
    options.json === true ? `${JSON.stringify(steps, null, 2)}\n` : inColour(afterReport(steps), io);
  await deliver([], report, io);
  return exitCodeOfDecision(steps.decision);
}
