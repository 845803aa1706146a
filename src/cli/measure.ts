import type { Command } from 'commander';
import pc from 'picocolors';
import {
  drawReading,
  heightsCsv,
  InputError,
  measureForPicture,
  optionName,
  pictureOf,
  readPrintRecord,
  RECORD_FLAGS,
  textReport,
  type Measurement,
} from '../index.js';
import { readWhole, writeAll, type FileProblem } from './files.js';
import { EXIT, type Io } from './io.js';
import { tellProblem } from './problem.js';
import { readWas } from './was.js';
import { checkTargets, isStandardOutput, type Outputs } from './targets.js';

/** The options of the command line: outputs, and the print record's fields by flag. */
type Options = Outputs & {
  readonly print?: string;
  readonly spacingOnly?: boolean;
  readonly was?: string;
};

const EXAMPLE = `
Example:
  $ stillband measure testimages/white-card.jpg --print testimages/white-card.print.json
  $ stillband measure testimages/blue-markers.jpg --print testimages/blue-markers.print.json --spacing-only --was 38.3+-0.4

Every field of the print record can be given by a flag instead, which wins over the file.

Corners: --face begins at the top-left corner of the tower as printed and goes clockwise. Where the tower lies
on its side or stands upside down in the photo, begin at the tower's own top-left corner all the same.
--leading-corner is left or right as seen in the photo with the tower standing upright as printed.

Exit codes: 0 proposed, proof or frequency by spacing, 3 refused (a result), 64 usage, 65 bad input, 66 no such file, 70 internal,
73 cannot write.`;

/**
 * Adds `measure`'s argument, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .argument('<photo>', 'the photo: JPEG, PNG, WebP, TIFF or AVIF')
    .option('--print <file>', 'print record, a JSON file with what you know of the print')
    .option('--spacing-only', 'only the frequency by ripple spacing, as a quick re-check; needs no ladder')
    .option(
      '--was <Hz>',
      'with --spacing-only: the earlier frequency, like 41.0+-0.4; tells whether it has moved',
    )
    .option('--json', 'write the whole reading as JSON to standard output')
    .option('--csv <file>', 'write one row per height (- is standard output)')
    .option('--svg <file>', 'write the picture as SVG (- is standard output)')
    .option('--png <file>', 'write the picture as PNG (- is standard output)')
    .addHelpText('after', EXAMPLE);
  command.optionsGroup('Print record:');
  for (const { flag, help } of RECORD_FLAGS) command.option(flag, help);
  command.action(async (photo: string, options: Options & Readonly<Record<string, unknown>>) => {
    done(await withErrors(io, options.json ?? false, () => measure(photo, options, io)));
  });
}

/**
 * Runs an action and turns a user's mistake into its message and exit code.
 * @param io - The outside world.
 * @param json - Errors go to standard output as JSON.
 * @param action - What to do; returns the exit code.
 * @returns The exit code.
 */
export async function withErrors(io: Io, json: boolean, action: () => Promise<number>): Promise<number> {
  try {
    return await action();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    tellProblem(error, json, io);
    return exitCodeOf(error);
  }
}

/**
 * Writes what was asked for, the text report to standard output unless something else goes there.
 * @param measurement - Reading and view.
 * @param outputs - What was asked for.
 * @param io - The outside world.
 * @returns The exit code of the reading: 0, or 3 for a refusal.
 * @throws {InputError} `cannot-write`.
 */
export async function writeResults(measurement: Measurement, outputs: Outputs, io: Io): Promise<number> {
  const { reading } = measurement;
  const { csv, svg, png, json = false } = outputs;
  const drawing = svg === undefined && png === undefined ? '' : await drawReading(measurement);
  // All is made before anything is written, so that no part of a result is left behind when another fails.
  const results: { readonly path: string; readonly data: string | Uint8Array }[] = [];
  if (csv !== undefined) results.push({ path: csv, data: heightsCsv(reading) });
  if (svg !== undefined) results.push({ path: svg, data: drawing });
  if (png !== undefined) results.push({ path: png, data: await pictureOf(drawing) });
  const problem = await writeAll(results.filter(({ path }) => !isStandardOutput(path)));
  if (problem !== undefined) throw cannotWrite(problem);
  const toOut = results.find(({ path }) => isStandardOutput(path));
  if (toOut !== undefined) io.out(toOut.data);
  else io.out(json ? `${JSON.stringify(reading, null, 2)}\n` : inColour(textReport(reading), io));
  return reading.proposal.state === 'refused' ? EXIT.refused : EXIT.done;
}

async function measure(
  photo: string,
  options: Options & Readonly<Record<string, unknown>>,
  io: Io,
): Promise<number> {
  const use = { spacingOnly: options.spacingOnly ?? false };
  const was = readWas(options.was, use.spacingOnly);
  await checkTargets(options.print === undefined ? [photo] : [photo, options.print], options);
  const given: Record<string, string> = {};
  for (const { flag } of RECORD_FLAGS) {
    const name = optionName(flag);
    const value = options[name];
    if (typeof value === 'string') given[name] = value;
  }
  const text =
    options.print === undefined
      ? undefined
      : new TextDecoder().decode(await read(options.print, 'print record'));
  const bytes = await read(photo, 'photo');
  const measurement = await measureForPicture(bytes, readPrintRecord(text, given, use), {
    ...use,
    ...(was === undefined ? {} : { was }),
  });
  return writeResults(measurement, options, io);
}

/**
 * Reads a whole input file.
 * @param path - Its path.
 * @param what - What it is, for the message.
 * @returns Its bytes.
 * @throws {InputError} `file-not-found` or `file-unreadable`.
 */
export async function read(path: string, what: string): Promise<Uint8Array> {
  const content = await readWhole(path);
  if (content instanceof Uint8Array) return content;
  throw new InputError(
    content.kind === 'missing' ? 'file-not-found' : 'file-unreadable',
    `The ${what} ${path} cannot be used: ${content.detail}.`,
    `Give the path of the ${what}'s file.`,
  );
}

function cannotWrite({ path, detail }: FileProblem): InputError {
  return new InputError(
    'cannot-write',
    `The result cannot be written to ${path}: ${detail}.`,
    'Name a file in a folder that exists and that you may write to.',
  );
}

function exitCodeOf(error: InputError): number {
  switch (error.code) {
    case 'usage':
      return EXIT.usage;
    case 'file-not-found':
      return EXIT.noFile;
    case 'cannot-write':
      return EXIT.cannotWrite;
    default:
      return EXIT.badInput;
  }
}

/** The verdict in bold; the labels stay plain, so that the text reads the same without colour. */
function inColour(text: string, io: Io): string {
  const colours = pc.createColors(io.colour);
  const end = text.indexOf('\n');
  return colours.bold(text.slice(0, end)) + text.slice(end);
}
