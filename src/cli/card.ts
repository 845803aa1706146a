import type { Command } from 'commander';
import {
  CARD_SIZES,
  cardPdf,
  cardReport,
  cardSvg,
  InputError,
  makeCard,
  parsePrintRecord,
} from '../index.js';
import { EXIT, type Io } from './io.js';
import { deliver } from './deliver.js';
import { isThere } from './files.js';
import { read } from './measure.js';
import { checkTargets, formatByName, oneOf } from './targets.js';
import { withErrors } from './outcome.js';

interface Options {
  readonly out: string;
  readonly print?: string;
  readonly machine?: string;
  readonly size: string;
  readonly checkLength?: string;
}

const NOTES = `
Examples:
  $ stillband card --out card.pdf
  $ stillband card --out card.svg --print testimages/blue-markers.print.json --machine "north bench 3"

With --print or --machine the card carries a QR code. A photo with the whole card in it then needs no --print: measure
reads the record from the card. Flags, or a record that is given, win over it.

Print at 100 %, measure the check length with calipers, and hold the card flush with the face.

Exit codes: 0 written, 64 usage, 65 bad input, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `card`'s options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .requiredOption('--out <file>', 'where to write the card: a name that ends in .pdf or .svg')
    .option('--print <file>', 'print record, a JSON file: what the code on the card tells of the print')
    .option('--machine <name>', 'the machine, by your own name; wins over the record')
    .option('--size <page>', 'a4, letter, or card for the card alone', 'a4')
    .option(
      '--check-length <mm>',
      'what the check length of an earlier print measured: this card is drawn larger or smaller by as much',
    )
    .addHelpText('after', NOTES)
    .action(async (options: Options) => {
      done(await withErrors(io, false, () => card(options, io)));
    });
}

async function card(options: Options, io: Io): Promise<number> {
  const { out, print, machine } = options;
  const format = formatByName(out, ['pdf', 'svg'], { what: 'card', flag: '--out' });
  await checkTargets(print === undefined ? [] : [print], { out });
  const record =
    print === undefined
      ? undefined
      : parsePrintRecord(new TextDecoder().decode(await read(print, 'print record')));
  const made = makeCard({
    size: oneOf('--size', options.size, CARD_SIZES),
    ...(record === undefined ? {} : { record }),
    ...(machine === undefined ? {} : { machine }),
    ...(options.checkLength === undefined ? {} : { checkLengthMm: lengthOf(options.checkLength) }),
  });
  const data = format === 'pdf' ? await cardPdf(made, new Date()) : cardSvg(made);
  const written = { file: out, replaced: await isThere(out) };
  await deliver([{ path: out, data }], cardReport(made, written), io);
  return EXIT.done;
}

function lengthOf(text: string): number {
  const value = Number(text);
  if (Number.isFinite(value)) return value;
  throw new InputError(
    'usage',
    `--check-length ${text} is no number.`,
    'Give what the check length measures in mm, with a decimal point, like --check-length 89.6.',
  );
}
