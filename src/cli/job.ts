import type { Command } from 'commander';
import {
  applyOverrides,
  examineJob,
  InputError,
  jobReport,
  parseRecordJson,
  RECORD_FLAGS,
  type RawObject,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { openJob } from './jobFile.js';
import { givenFields, readText } from './measure.js';
import { numberOf } from './numbers.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets } from './targets.js';

interface Options {
  readonly print?: string;
  readonly frequencyLine?: string;
  readonly facing?: string;
  readonly lineWidth?: string;
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
    .option('--frequency-line <pattern>', 'pattern of the line that sets the frequency')
    .option(
      '--facing <degrees>',
      'where the photographed face looks to, from X, counterclockwise seen from above',
    )
    .option('--line-width <mm>', 'width of a printed line, by which the face is wider than the way along it')
    .option('--out <file>', 'write the filled print record (- is standard output)')
    .option('--json', 'write what was read as JSON to standard output')
    .addHelpText('after', NOTES);
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
  const { print, out, frequencyLine } = options;
  await checkTargets([path, ...(print === undefined ? [] : [print])], {
    json: options.json ?? false,
    ...(out === undefined ? {} : { out }),
  });
  const facingDeg = numberOf('--facing', options.facing, { low: -360, high: 360, example: '270' });
  const lineWidthMm = numberOf('--line-width', options.lineWidth, { low: 0.05, high: 3, example: '0.45' });
  const source = print === undefined ? undefined : parseRecordJson(await readText(print));
  const told = applyOverrides(source, givenFields(options));
  if (typeof told !== 'object' || told === null || Array.isArray(told)) {
    throw new InputError(
      'record-field',
      'The print record is no object with fields.',
      'Write it as { "schema": … }, or leave it away and use flags.',
    );
  }
  const chunks = await openJob(path);
  const reading = await examineJob(chunks(), told as RawObject, {
    ...(facingDeg === undefined ? {} : { facingDeg }),
    ...(lineWidthMm === undefined ? {} : { lineWidthMm }),
    ...(frequencyLine === undefined ? {} : { frequencyLine }),
  });
  const results: Result[] =
    out === undefined ? [] : [{ path: out, data: `${JSON.stringify(reading.record.fields, null, 2)}\n` }];
  const json = options.json === true ? `${JSON.stringify(reading, null, 2)}\n` : undefined;
  await deliver(results, json ?? inColour(jobReport(reading), io), io);
  return EXIT.done;
}
