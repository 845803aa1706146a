import type { Command } from 'commander';
import {
  compareReadings,
  compareReport,
  drawComparison,
  expectAlike,
  InputError,
  pictureOf,
  singleReadings,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { checkTargets } from './targets.js';
import { inColour, withErrors } from './outcome.js';
import { isEntry, readAll } from './readings.js';

interface Options {
  readonly before?: readonly string[];
  readonly after?: readonly string[];
  readonly sameLight?: boolean;
  readonly logbook?: string;
  readonly level?: string;
  readonly svg?: string;
  readonly png?: string;
  readonly json?: boolean;
}

const EXAMPLE = `
Example:
  $ stillband measure testimages/lamps/left.jpg --print testimages/lamps/lamps.print.json --json > left.json
  $ stillband measure testimages/lamps/right.jpg --print testimages/lamps/lamps.print.json --json > right.json
  $ stillband compare left.json right.json --png change.png

Exit codes: 0 compared, 64 usage, 65 bad input, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `compare`'s arguments, options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .argument('[before]', 'the reading before the change: the file that measure --json wrote')
    .argument('[after]', 'the reading after it')
    .option('--before <file...>', 'several readings before the change, instead of one')
    .option('--after <file...>', 'several readings after it')
    .option('--logbook <dir>', 'take numbers as entries of this logbook')
    .option('--same-light', 'lamp, camera and filament were the same in all photos')
    .option('--level <percent>', 'ripple contrast that is tolerated in proof prints, percent')
    .option('--svg <file>', 'write the picture of the comparison as SVG')
    .option('--png <file>', 'write the picture of the comparison as PNG')
    .option('--json', 'write the comparison as JSON to standard output')
    .addHelpText('after', EXAMPLE);
  command.action(async (before: string | undefined, after: string | undefined, options: Options) => {
    done(await withErrors(io, options.json ?? false, () => compare(before, after, options, io)));
  });
}

async function compare(
  first: string | undefined,
  second: string | undefined,
  options: Options,
  io: Io,
): Promise<number> {
  const paths = {
    before: options.before ?? (first === undefined ? [] : [first]),
    after: options.after ?? (second === undefined ? [] : [second]),
  };
  if (paths.before.length === 0 || paths.after.length === 0 || (options.before && first !== undefined)) {
    throw new InputError(
      'usage',
      'A comparison needs readings of both sides.',
      'Give two files, or --before and --after with one or more files each.',
    );
  }
  const level = levelOf(options.level);
  const { logbook } = options;
  const files = [...paths.before, ...paths.after].filter((path) => !isEntry(path, logbook));
  await checkTargets(files, options);
  const before = await readAll(paths.before, logbook);
  const after = await readAll(paths.after, logbook);
  expectAlike(before, after);
  const comparison = compareReadings(before, after, {
    sameLight: options.sameLight ?? false,
    ...(level === undefined ? {} : { level }),
  });
  const [one] = before.flatMap(singleReadings);
  const [other] = after.flatMap(singleReadings);
  const { svg, png } = options;
  const wanted = svg !== undefined || png !== undefined;
  const drawing =
    wanted && one !== undefined && other !== undefined ? drawComparison(comparison, one, other) : '';
  const results: Result[] = [];
  if (svg !== undefined) results.push({ path: svg, data: drawing });
  if (png !== undefined) results.push({ path: png, data: await pictureOf(drawing) });
  const json = options.json === true ? `${JSON.stringify(comparison, null, 2)}\n` : undefined;
  await deliver(results, json ?? inColour(compareReport(comparison), io), io);
  return EXIT.done;
}

function levelOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const percent = Number(text);
  if (percent > 0 && percent < 100) return percent / 100;
  throw new InputError(
    'usage',
    `--level is given as "${text}", which is no share in percent.`,
    'Write it like --level 1.5: the ripple contrast that is tolerated, in percent.',
  );
}
