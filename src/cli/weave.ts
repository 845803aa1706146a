import type { Command } from 'commander';
import {
  parsePrintRecord,
  PLACEHOLDER_HELP,
  planWeave,
  weave,
  WEAVE_FIELDS,
  weaveOptions,
  weaveReport,
  type JobField,
} from '../index.js';
import { deliver } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { openJob, typedOf } from './jobFile.js';
import { readText } from './measure.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets } from './targets.js';

interface Options extends Readonly<Record<string, unknown>> {
  readonly print: string;
  readonly template: string;
  readonly out: string;
  readonly json?: boolean;
}

const NOTES = `
Example:
  $ stillband weave examples/short-tower.job --print examples/short-tower.print.json --template "CALM {axis} {hz}" --limit-hz 10-150 --out woven.job

The template is a line of your own machine: stillband writes no command of its own. Placeholders, as plain decimals:
${Object.entries(PLACEHOLDER_HELP)
  .map(([name, help]) => `  ${`{${name}}`.padEnd(16)}${help}`)
  .join('\n')}

{hz} needs --limit-hz, {acceleration} needs --limit-acceleration: what you and your machine's maker allow.

Nothing else is changed, and the job itself is never written. Stay beside the machine while it prints: parts move and are
hot, and a setting that changes while it moves may shake it.

Exit codes: 0 written, 64 usage, 65 bad input, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `weave`'s argument, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .argument('<job>', 'the job file: what your machine prints, in words after ISO 6983')
    .requiredOption('--print <file>', 'print record, a JSON file, with the ladder and the layers')
    .requiredOption('--template <line>', 'the line that your machine takes, with placeholders')
    .requiredOption('--out <file>', 'where to write the copy (- is standard output)')
    .option('--json', 'write what was put where as JSON to standard output')
    .addHelpText('after', NOTES);
  const fields: readonly JobField[] = WEAVE_FIELDS;
  for (const { flag, help, choices } of fields) command.option(flag, help, choices?.[0]);
  command.action(async (path: string, options: Options) => {
    done(await withErrors(io, options.json ?? false, () => weaveJob(path, options, io)));
  });
}

async function weaveJob(path: string, options: Options, io: Io): Promise<number> {
  const { print, template, out } = options;
  const told = weaveOptions(typedOf(options, WEAVE_FIELDS));
  await checkTargets([path, print], { json: options.json ?? false, out });
  const record = parsePrintRecord(await readText(print));
  const chunks = await openJob(path);
  const plan = await planWeave(chunks(), { record, template, ...told });
  const report =
    options.json === true ? `${JSON.stringify(plan, null, 2)}\n` : inColour(weaveReport(plan, out), io);
  await deliver([{ path: out, data: weave(chunks(), plan) }], report, io);
  return EXIT.done;
}
