import type { Command } from 'commander';
import { formatHead, headLine, listEntries, logbookHead, logbookList } from '../logbookIndex.js';
import { EXIT, type Io } from './io.js';
import { LOGBOOK } from './lists.js';
import type { LogbookOptions } from './logbookWork.js';
import { withErrors } from './outcome.js';

const NOTES = `
Examples:
  $ stillband logbook note "both belts tightened" --changed belt-tension
  $ stillband logbook list
  $ stillband logbook export logbook.zip

measure --save saves a reading and its photo. A head is the number of entries, the root hash over them and four check
letters. Keep it elsewhere: verify --head then notices every later change to those entries. Without one, a log that was
rewritten as a whole or cut at its end looks intact. No head shows when an entry was written, or that what was typed of
the print is true.

Exit codes: 0 done, or no difference found; 1 a difference was found, or a photo could not be measured again; 64 usage,
65 bad input, 66 no such logbook or entry, 70 internal, 73 cannot write.`;

/** What only some commands need is loaded only for them: a list is to be quick. */
const work = () => import('./logbookWork.js');

/**
 * Adds `logbook`'s commands.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command.addHelpText('after', NOTES);
  const add = (
    name: string,
    summary: string,
    action: (options: LogbookOptions, given: readonly string[]) => Promise<number> | number,
  ): Command => {
    const words = name.split(' ').length - 1;
    const one = command.command(name).summary(summary).description(summary);
    one
      .option('--logbook <dir>', "the logbook's folder", LOGBOOK)
      .option('--json', 'write the result as JSON to standard output')
      .action(async (...args: readonly unknown[]) => {
        // An argument that was left away is undefined, one of several words a list.
        const given = args
          .slice(0, words)
          .flatMap((arg) => (arg === undefined ? [] : (arg as string | string[])));
        const options = one.opts<LogbookOptions>();
        done(await withErrors(io, options.json ?? false, async () => action(options, given)));
      });
    return one;
  };
  const tell = (options: LogbookOptions, text: () => string, data: unknown): number => {
    io.out(options.json === true ? `${JSON.stringify(data, null, 2)}\n` : text());
    return EXIT.done;
  };
  add('list', 'what the logbook holds, one line for each entry', (options) => {
    const entries = listEntries(options.logbook);
    return tell(options, () => logbookList(entries), entries);
  });
  add('show <number>', 'one entry with its reading', async (options, given) =>
    (await work()).show(options, given, io),
  );
  addPaper(
    add(
      'sheet [number]',
      'one page of evidence of an entry, the last one unless another is named; its numbers are those that were saved',
      async (options, given) => (await work()).sheet(options, given, io),
    ).option(
      '--sheet <file>',
      'where to write it: a name that ends in .html or .pdf (default: entry-NUMBER.pdf)',
    ),
  );
  addPaper(
    add(
      'pair <entry> <other>',
      'join the readings of two axes of a machine, like X and Y, in one entry and one sheet',
      async (options, given) => (await work()).pair(options, given, io),
    )
      .option('--sheet <file>', 'write their sheet as well: a name that ends in .html or .pdf')
      .option('--note <text>', 'a note'),
  );
  add('trend', 'frequency and damping of each axis over time, and where they moved', async (options) =>
    (await work()).trend(options, io),
  )
    .option('--machine <name>', 'of one machine alone')
    .option('--axis <name>', 'of one axis alone')
    .option('--svg <file>', 'write the chart as SVG')
    .option('--png <file>', 'write the chart as PNG');
  add('head', 'the head of the logbook, to be kept elsewhere', (options) => {
    const head = logbookHead(options.logbook);
    return tell(options, () => headLine(head), { ...head, text: formatHead(head) });
  });
  add('verify', 'whether all is as it was saved, and what is not', async (options) =>
    (await work()).verify(options, io),
  )
    .option('--replay', 'measure the stored photos again as well, which takes some seconds for each')
    .option(
      '--head <head>',
      'a head that was kept elsewhere; several may be given, and narrow down where a log was rewritten',
      (head: string, before: readonly string[]) => [...before, head],
      [],
    );
  add(
    'replay [numbers...]',
    'measure the stored photos again and compare; all, or the entries named',
    async (options, given) => (await work()).replay(options, given, io),
  );
  add(
    'export <file>',
    'write the whole logbook into one ZIP file, which can be verified by itself',
    async (options, given) => (await work()).exportTo(options, given, io),
  );
  add('note <text>', 'add a note: what is saved is never changed', async (options, given) =>
    (await work()).note(options, given, io),
  )
    .option('--about <number>', 'the earlier entry that it is about')
    .option('--changed <what>', 'what was changed on the machine, several with commas: belt-tension,nozzle');
}

function addPaper(command: Command): void {
  command.option('--paper <name>', 'of the sheet: a4 or letter (default: a4)');
}
