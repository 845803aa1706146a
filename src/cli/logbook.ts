import type { Command } from 'commander';
import {
  anyReadingOf,
  axisTrends,
  entryReport,
  exportArchive,
  exportedReport,
  formatHead,
  headLine,
  InputError,
  listEntries,
  logbookHead,
  logbookList,
  parseHead,
  readEntry,
  replayLogbook,
  replayReport,
  saveNote,
  savedReport,
  storedEntries,
  storedReport,
  trendReport,
  type HistoryEntry,
  verifyLogbook,
  verifyReport,
  withReplay,
} from '../index.js';
import { EXIT, type Io } from './io.js';
import { listOf, LOGBOOK } from './lists.js';
import { inColour, withErrors } from './measure.js';

interface Options {
  readonly logbook: string;
  readonly json?: boolean;
  readonly head?: readonly string[];
  readonly replay?: boolean;
  readonly about?: string;
  readonly changed?: string;
  readonly machine?: string;
  readonly axis?: string;
}

const NOTES = `
Examples:
  $ stillband logbook note "both belts tightened" --changed belt-tension
  $ stillband logbook list
  $ stillband logbook export logbook.zip

measure --save saves a reading and its photo. A head is the number of entries, the root hash over them and four check
letters. Keep it elsewhere: verify --head then notices every later change to those entries. Without one, a log that was
rewritten as a whole or cut at its end looks intact. No head shows when an entry was written, or that what was typed of
the print is true.

Exit codes: 0 done, or no difference found; 1 a difference was found; 64 usage, 65 bad input, 66 no such logbook or
entry, 70 internal, 73 cannot write.`;

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
    action: (options: Options, given: string) => Promise<number> | number,
  ): Command => {
    const [word = ''] = name.split(' ');
    const one = command.command(name).summary(summary).description(summary);
    one
      .option('--logbook <dir>', "the logbook's folder", LOGBOOK)
      .option('--json', 'write the result as JSON to standard output')
      .action(async (...args: readonly unknown[]) => {
        const given = word === name ? '' : String(args[0]);
        const options = one.opts<Options>();
        done(await withErrors(io, options.json ?? false, async () => action(options, given)));
      });
    return one;
  };
  const tell = (options: Options, text: () => string, data: unknown): number => {
    io.out(options.json === true ? `${JSON.stringify(data, null, 2)}\n` : text());
    return EXIT.done;
  };
  add('list', 'what the logbook holds, one line for each entry', (options) => {
    const entries = listEntries(options.logbook);
    return tell(options, () => logbookList(entries), entries);
  });
  add('show <number>', 'one entry with its reading', (options, given) => {
    const stored = readEntry(options.logbook, numberOf(given));
    const text = (): string => entryReport(stored.entry, stored.folder) + storedReport(stored);
    return tell(options, text, stored);
  });
  add('trend', 'frequency and damping of each axis over time, and where they moved', (options) => {
    const { history, passedOver } = historyOf(options.logbook);
    const { machine, axis } = options;
    const trends = axisTrends(history).filter(
      (trend) =>
        (machine === undefined || trend.machine === machine) && (axis === undefined || trend.axis === axis),
    );
    const note =
      passedOver.length === 0
        ? ''
        : `\nPassed over, being of another version: ${passedOver.join(', ')}. "logbook replay" measures their photos again.\n`;
    return tell(options, () => trendReport(trends) + note, { trends, passedOver });
  })
    .option('--machine <name>', 'of one machine alone')
    .option('--axis <name>', 'of one axis alone');
  add('head', 'the head of the logbook, to be kept elsewhere', (options) => {
    const head = logbookHead(options.logbook);
    return tell(options, () => headLine(head), { ...head, text: formatHead(head) });
  });
  add('verify', 'whether all is as it was saved, and what is not', async (options) => {
    const heads = (options.head ?? []).map(parseHead);
    const looked = await verifyLogbook(options.logbook, heads);
    const replay = options.replay === true ? await replayLogbook(options.logbook) : undefined;
    const verification = replay === undefined ? looked : withReplay(looked, replay);
    const text = (): string =>
      verifyReport(verification) + (replay === undefined ? '' : `\n${replayReport(replay)}`);
    tell(
      options,
      () => inColour(text(), io),
      replay === undefined ? verification : { ...verification, replay },
    );
    const isWhole = verification.findings.length === 0 && verification.verdicts.recomputed !== 'different';
    return isWhole ? EXIT.done : EXIT.difference;
  })
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
    async (options, given) => {
      const numbers = given
        .split(',')
        .filter((word) => word !== '')
        .map(numberOf);
      const replay = await replayLogbook(options.logbook, numbers.length === 0 ? undefined : numbers);
      tell(options, () => inColour(replayReport(replay), io), replay);
      return replay.entries.some(({ state }) => state === 'different') ? EXIT.difference : EXIT.done;
    },
  );
  add(
    'export <file>',
    'write the whole logbook into one ZIP file, which can be verified by itself',
    async (options, given) => {
      const head = await exportArchive(options.logbook, given);
      return tell(options, () => exportedReport(head, given), {
        file: given,
        ...head,
        text: formatHead(head),
      });
    },
  );
  add('note <text>', 'add a note: what is saved is never changed', async (options, given) => {
    const written = await saveNote(
      options.logbook,
      {
        note: given,
        ...(options.about === undefined ? {} : { about: numberOf(options.about) }),
        ...(options.changed === undefined ? {} : { changed: listOf(options.changed) }),
      },
      new Date(),
    );
    return tell(options, () => savedReport(written, options.logbook), written);
  })
    .option('--about <number>', 'the earlier entry that it is about')
    .option('--changed <what>', 'what was changed on the machine, several with commas: belt-tension,nozzle');
}

/** All that a logbook holds as a history; readings of another version's form are named. */
function historyOf(folder: string): {
  readonly history: readonly HistoryEntry[];
  readonly passedOver: readonly string[];
} {
  const history: HistoryEntry[] = [];
  const passedOver: string[] = [];
  for (const { entry, reading } of storedEntries(folder)) {
    const name = `entry ${String(entry.number)}`;
    const known = reading === undefined ? undefined : anyReadingOf(reading);
    if (reading !== undefined && known === undefined) passedOver.push(name);
    history.push({
      name,
      changes: entry.changed ?? [],
      ...(entry.machine === undefined ? {} : { machine: entry.machine }),
      ...(known === undefined ? {} : { reading: known }),
    });
  }
  return { history, passedOver };
}

function numberOf(text: string): number {
  if (/^\d{1,9}$/.test(text) && Number(text) > 0) return Number(text);
  throw new InputError(
    'usage',
    `"${text}" is no number of an entry.`,
    'See their numbers with "stillband logbook list".',
  );
}
