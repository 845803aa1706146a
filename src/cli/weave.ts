import type { Command } from 'commander';
import { parsePrintRecord, planWeave, weave, weaveReport } from '../index.js';
import { deliver } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { openJob } from './jobFile.js';
import { readText } from './measure.js';
import { rangeOf } from './numbers.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets, oneOf } from './targets.js';

interface Options {
  readonly print: string;
  readonly template: string;
  readonly out: string;
  readonly limitHz?: string;
  readonly limitAcceleration?: string;
  readonly every: string;
  readonly json?: boolean;
}

const NOTES = `
Example:
  $ stillband weave examples/short-tower.job --print examples/short-tower.print.json --template "CALM {axis} {hz}" --limit-hz 10-150 --out woven.job

The template is a line of your own machine: stillband writes no command of its own. Placeholders, as plain decimals:
  {hz}            the ladder's frequency at the middle of the layer, 3 decimals
  {axis}          the print record's axis, as it is called there
  {damping}       the shaper's damping ratio, 4 decimals
  {layer}         the layer, counted from 0
  {height_mm}     height of its middle above the bed, 3 decimals
  {acceleration}  acceleration of the layer, mm/s², 1 decimal

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
    .option('--limit-hz <low-high>', 'least and most frequency that you allow, Hz')
    .option('--limit-acceleration <low-high>', 'least and most acceleration that you allow, mm/s²')
    .option(
      '--every <what>',
      'a line in each layer, or in each band of one frequency and acceleration',
      'layer',
    )
    .option('--json', 'write what was put where as JSON to standard output')
    .addHelpText('after', NOTES)
    .action(async (path: string, options: Options) => {
      done(await withErrors(io, options.json ?? false, () => weaveJob(path, options, io)));
    });
}

async function weaveJob(path: string, options: Options, io: Io): Promise<number> {
  const { print, template, out } = options;
  const every = oneOf('--every', options.every, ['layer', 'band']);
  const limitHz = rangeOf('--limit-hz', options.limitHz, '10-150');
  const limitAcceleration = rangeOf('--limit-acceleration', options.limitAcceleration, '500-8000');
  await checkTargets([path, print], { out });
  const record = parsePrintRecord(await readText(print));
  const chunks = await openJob(path);
  const plan = await planWeave(chunks(), {
    record,
    template,
    every,
    ...(limitHz === undefined ? {} : { limitHz }),
    ...(limitAcceleration === undefined ? {} : { limitAcceleration }),
  });
  const report =
    options.json === true ? `${JSON.stringify(plan, null, 2)}\n` : inColour(weaveReport(plan, out), io);
  await deliver([{ path: out, data: weave(chunks(), plan) }], report, io);
  return EXIT.done;
}
