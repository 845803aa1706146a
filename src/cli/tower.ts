import type { Command } from 'commander';
import { makeTower, parsePrintRecord, towerOf, towerReport } from '../index.js';
import { deliver } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { readText } from './measure.js';
import { withErrors } from './outcome.js';
import { checkTargets, formatByName } from './targets.js';

const NOTES = `
Example:
  $ stillband tower --print testimages/white-card.print.json --out tower.stl

The tower is as wide and as high as the face of the record, with its slots. One tower tells two axes: both records that
plan writes make the same one. It stands unturned on the bed, as one wall or a spiral, and needs no supports.

Exit codes: 0 written, 64 usage, 65 bad input, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `tower`'s options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .requiredOption(
      '--print <file>',
      'print record, a JSON file: the size of the face, its leading corner, slots',
    )
    .requiredOption('--out <file>', 'where to write the tower: a name that ends in .stl, or -')
    .addHelpText('after', NOTES)
    .action(async (options: { readonly print: string; readonly out: string }) => {
      done(await withErrors(io, false, () => tower(options.print, options.out, io)));
    });
}

async function tower(print: string, out: string, io: Io): Promise<number> {
  if (out !== '-') formatByName(out, ['stl'], { what: 'tower', flag: '--out' });
  await checkTargets([print], { out });
  const made = makeTower(towerOf(parsePrintRecord(await readText(print), { spacingOnly: true })));
  await deliver([{ path: out, data: made.stl }], towerReport(made, out), io);
  return EXIT.done;
}
