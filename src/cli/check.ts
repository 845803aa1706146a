import type { Command } from 'commander';
import { checkPhoto, checkReport, readCard, RECORD_FLAGS, toldToCheck } from '../index.js';
import { EXIT, type Io } from './io.js';
import { givenFields, read, readText } from './measure.js';
import { inColour, withErrors } from './outcome.js';

type Options = Readonly<Record<string, unknown>> & { readonly print?: string; readonly json?: boolean };

const EXAMPLE = `
Example:
  $ stillband check testimages/white-card.jpg
  $ stillband check testimages/white-card.jpg --print testimages/white-card.print.json

Exit codes: 0 will do or may do, 3 will not do (a result), 64 usage, 65 bad input, 66 no such file, 70 internal.`;

/**
 * Adds `check`'s argument, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .argument('<photo>', 'the photo: JPEG, PNG, WebP, TIFF, AVIF or HEIC')
    .option(
      '--print <file>',
      'print record, a JSON file with what you know of the print; without one its size is guessed',
    )
    .option('--json', 'write the whole check as JSON to standard output')
    .addHelpText('after', EXAMPLE);
  command.optionsGroup('Print record:');
  for (const { flag, help } of RECORD_FLAGS) command.option(flag, help);
  command.action(async (photo: string, options: Options) => {
    done(await withErrors(io, options.json ?? false, () => check(photo, options, io)));
  });
}

async function check(photo: string, options: Options, io: Io): Promise<number> {
  const bytes = await read(photo, 'photo');
  const text = options.print === undefined ? undefined : await readText(options.print);
  const { record, ...told } = await toldToCheck({
    text,
    given: givenFields(options),
    card: () => readCard(bytes),
  });
  const result = await checkPhoto(bytes, record, told);
  io.out(
    options.json === true
      ? `${JSON.stringify(result, null, 2)}\n`
      : inColour(checkReport(result, told.guessed === true ? undefined : record), io),
  );
  return result.verdict.state === 'will-not-do' ? EXIT.refused : EXIT.done;
}
