import type { Command } from 'commander';
import { examineJob, jobReport, READ_FIELDS, readOptions, RECORD_FLAGS, recordToFill } from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { openJob, typedOf } from './jobFile.js';
import { givenFields, readText } from './measure.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets } from './targets.js';

interface Options {
  readonly print?: string;
  readonly out?: string;
  readonly json?: boolean;
}

const NOTES = `
Examples:
  $ stillband job examples/short-tower.job --axis Y --acceleration 6000 --corner-speed 6
  $ stillband job examples/short-tower.job --print examples/short-tower.print.json --line-width 0.45 --out filled.print.json

Every field of the print record can be given by a flag, which wins over the file. What is told stays as it is; what is
not is filled in from the job where the job tells it.

--frequency-line is a regular expression (RE2 syntax, linear time) for the line that sets the shaper's frequency in your
job. Its group hz, or its first one, is the number; a group axis, where there is one, must name the axis.

Exit codes: 0 read, 64 usage, 65 bad input, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `job`'s argument, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .argument('<job>', 'the job file: what your machine prints, in words after ISO 6983')
    .option('--print <file>', 'print record, a JSON file; it may lack what the job tells')
    .option('--out <file>', 'write the filled print record (- is standard output)')
    .option('--json', 'write what was read as JSON to standard output')
    .addHelpText('after', NOTES);
  for (const { flag, help } of READ_FIELDS) command.option(flag, help);
  command.optionsGroup('Print record:');
  for (const { flag, help } of RECORD_FLAGS) command.option(flag, help);
  command.action(async (path: string, options: Options & Readonly<Record<string, unknown>>) => {
    done(await withErrors(io, options.json ?? false, () => job(path, options, io)));
  });
}

async function job(
  path: string,
  options: Options & Readonly<Record<string, unknown>>,
  io: Io,
): Promise<number> {
  const { print, out } = options;
  await checkTargets([path, ...(print === undefined ? [] : [print])], {
    json: options.json ?? false,
    ...(out === undefined ? {} : { out }),
  });
  const asked = readOptions(typedOf(options, READ_FIELDS));
  const text = print === undefined ? undefined : await readText(print);
  const told = recordToFill(text, givenFields(options));
  const chunks = await openJob(path);
  const reading = await examineJob(chunks(), told, asked);
  const results: Result[] =
    out === undefined ? [] : [{ path: out, data: `${JSON.stringify(reading.record.fields, null, 2)}\n` }];
  const json = options.json === true ? `${JSON.stringify(reading, null, 2)}\n` : undefined;
  await deliver(results, json ?? inColour(jobReport(reading), io), io);
  return EXIT.done;
}
