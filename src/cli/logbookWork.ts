import {
  drawTrends,
  entryReport,
  expectOutside,
  exportArchive,
  exportedReport,
  formatHead,
  InputError,
  logbookTrends,
  MOST_TRENDS,
  pairEntries,
  pairReport,
  parseHead,
  pictureOf,
  readEntry,
  readPair,
  replayLogbook,
  replayReport,
  savedReport,
  saveNote,
  sheetOfEntry,
  sheetReport,
  storedReport,
  trendReport,
  verifyLogbook,
  verifyReport,
  withReplay,
  type Replay,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { isThere } from './files.js';
import { EXIT, type Io } from './io.js';
import { listOf } from './lists.js';
import { sheetFile, sheetTarget } from './sheet.js';
import { checkTargets } from './targets.js';
import { inColour } from './outcome.js';

/** Options of all commands of a logbook. */
export interface LogbookOptions {
  readonly logbook: string;
  readonly json?: boolean;
  readonly head?: readonly string[];
  readonly replay?: boolean;
  readonly about?: string;
  readonly changed?: string;
  readonly note?: string;
  readonly machine?: string;
  readonly axis?: string;
  readonly svg?: string;
  readonly png?: string;
  readonly sheet?: string;
  readonly paper?: string;
}

/** Words that were given to a command, in their order. */
type Given = readonly string[];

/**
 * One entry with its reading, or its two.
 * @param options - What was asked for.
 * @param given - Words that were given: number.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `readEntry` and `readPair`.
 */
export function show(options: LogbookOptions, given: Given, io: Io): number {
  const { logbook, json } = options;
  const [number = ''] = given;
  const stored = readEntry(logbook, entryNumber(number));
  const { pair } = stored.entry;
  const text = (): string =>
    [stored, ...(pair === undefined ? [] : readPair(logbook, pair))]
      .map((one) => entryReport(one.entry, one.folder) + storedReport(one))
      .join('\n');
  return tell(io, json, text, stored);
}

/**
 * The sheet of an entry.
 * @param options - What was asked for.
 * @param given - Words that were given: number or none.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `sheetOfEntry`; `usage` or `cannot-write`.
 */
export async function sheet(options: LogbookOptions, given: Given, io: Io): Promise<number> {
  const [number] = given;
  const { logbook, json } = options;
  // What cannot be made is told before anything is measured.
  sheetTarget({ ...options, sheet: options.sheet ?? 'entry.pdf' });
  await checkPlaces(options);
  const { sheet: drawn, ...told } = await sheetOfEntry(
    logbook,
    number === undefined ? undefined : entryNumber(number),
  );
  const file = options.sheet ?? `entry-${String(told.number)}.pdf`;
  const written = { file, replaced: await isThere(file) };
  const result = await sheetFile(sheetTarget({ ...options, sheet: file }), drawn);
  const data = { ...written, ...told };
  await deliver(
    [result],
    json === true ? `${JSON.stringify(data, null, 2)}\n` : sheetReport(told, written),
    io,
  );
  return EXIT.done;
}

/**
 * Two readings joined in an entry, and perhaps their sheet.
 * @param options - What was asked for.
 * @param given - Words that were given: numbers of both.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `pairEntries` and `sheetOfEntry`; `usage` or `cannot-write`.
 */
export async function pair(options: LogbookOptions, given: Given, io: Io): Promise<number> {
  const [a = '', b = ''] = given;
  const { logbook, json, note: text } = options;
  const target = sheetTarget(options);
  await checkPlaces(options);
  const numbers = [entryNumber(a), entryNumber(b)] as const;
  const written = await pairEntries(
    logbook,
    { numbers, ...(text === undefined ? {} : { note: text }) },
    new Date(),
  );
  const told = json === true ? `${JSON.stringify(written, null, 2)}\n` : pairReport(written, logbook);
  if (target === undefined) {
    io.out(told);
    return EXIT.done;
  }
  try {
    const { sheet: drawn } = await sheetOfEntry(logbook, written.entry.number);
    await deliver([await sheetFile(target, drawn)], told, io);
  } catch (error) {
    // What is saved is saved: saving it again would make two of it.
    io.err(savedReport(written, logbook));
    throw error;
  }
  return EXIT.done;
}

/**
 * The history of each axis.
 * @param options - What was asked for.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `logbookTrends`; `usage` or `cannot-write`.
 */
export async function trend(options: LogbookOptions, io: Io): Promise<number> {
  const { logbook, json, machine, axis, svg, png } = options;
  await checkPlaces(options);
  const { trends, passedOver, damaged } = logbookTrends(logbook, {
    ...(machine === undefined ? {} : { machine }),
    ...(axis === undefined ? {} : { axis }),
  });
  const unused = damaged.map((text) => `\nNot used: ${text} See "stillband logbook verify".\n`).join('');
  const note =
    unused +
    (passedOver.length === 0
      ? ''
      : `\nPassed over, being of another version: ${passedOver.join(', ')}. "logbook replay" measures their photos again.\n`);
  const results: Result[] = [];
  if (trends.length > MOST_TRENDS && (svg !== undefined || png !== undefined)) {
    throw new InputError(
      'usage',
      `One chart has room for ${String(MOST_TRENDS)} axes, and there are ${String(trends.length)}.`,
      'Choose one machine with --machine.',
    );
  }
  if (svg !== undefined || png !== undefined) {
    const drawing = drawTrends(trends);
    if (svg !== undefined) results.push({ path: svg, data: drawing });
    if (png !== undefined) results.push({ path: png, data: await pictureOf(drawing) });
  }
  const data = JSON.stringify({ trends, passedOver, damaged }, null, 2);
  await deliver(results, json === true ? `${data}\n` : trendReport(trends) + note, io);
  return damaged.length === 0 ? EXIT.done : EXIT.difference;
}

/**
 * Whether all is as it was saved.
 * @param options - What was asked for.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `verifyLogbook`; `head-mistyped`.
 */
export async function verify(options: LogbookOptions, io: Io): Promise<number> {
  const heads = (options.head ?? []).map(parseHead);
  const looked = await verifyLogbook(options.logbook, heads);
  const again = options.replay === true ? await replayLogbook(options.logbook) : undefined;
  const verification = again === undefined ? looked : withReplay(looked, again);
  const text = (): string =>
    inColour(verifyReport(verification) + (again === undefined ? '' : `\n${replayReport(again)}`), io);
  tell(io, options.json, text, again === undefined ? verification : { ...verification, replay: again });
  const isWhole = verification.findings.length === 0 && (again === undefined || isEqual(again));
  return isWhole ? EXIT.done : EXIT.difference;
}

/**
 * Whether the same comes out once more.
 * @param options - What was asked for.
 * @param given - Words that were given: numbers.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `replayLogbook`.
 */
export async function replay(options: LogbookOptions, given: Given, io: Io): Promise<number> {
  const { logbook, json } = options;
  const numbers = given.map(entryNumber);
  const again = await replayLogbook(logbook, numbers.length === 0 ? undefined : numbers);
  tell(io, json, () => inColour(replayReport(again), io), again);
  return isEqual(again) ? EXIT.done : EXIT.difference;
}

/**
 * The whole logbook as one file.
 * @param options - What was asked for.
 * @param given - Words that were given: the file.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `exportArchive`.
 */
export async function exportTo(options: LogbookOptions, given: Given, io: Io): Promise<number> {
  const { logbook, json } = options;
  const [file = ''] = given;
  const written = { file, replaced: await isThere(file) };
  const head = await exportArchive(logbook, file);
  return tell(io, json, () => exportedReport(head, written), { ...written, ...head, text: formatHead(head) });
}

/**
 * A note on its own.
 * @param options - What was asked for.
 * @param given - Words that were given: its text.
 * @param io - The outside world.
 * @returns The exit code.
 * @throws {InputError} As `saveNote`.
 */
export async function note(options: LogbookOptions, given: Given, io: Io): Promise<number> {
  const [text = ''] = given;
  const { logbook, json, about, changed } = options;
  const written = await saveNote(
    logbook,
    {
      note: text,
      ...(about === undefined ? {} : { about: entryNumber(about) }),
      ...(changed === undefined ? {} : { changed: listOf(changed) }),
    },
    new Date(),
  );
  return tell(io, json, () => savedReport(written, logbook), written);
}

function tell(io: Io, json: boolean | undefined, text: () => string, data: unknown): number {
  io.out(json === true ? `${JSON.stringify(data, null, 2)}\n` : text());
  return EXIT.done;
}

/** A photo that is gone or changed has not shown that it gives the same numbers. */
function isEqual({ entries }: Replay): boolean {
  return entries.every(({ state }) => state === 'equal');
}

async function checkPlaces(options: LogbookOptions): Promise<void> {
  await checkTargets([], options);
  for (const path of [options.sheet, options.svg, options.png])
    if (path !== undefined) expectOutside(options.logbook, path);
}

function entryNumber(text: string): number {
  if (/^\d{1,9}$/.test(text) && Number(text) > 0) return Number(text);
  throw new InputError(
    'usage',
    `"${text}" is no number of an entry.`,
    'See their numbers with "stillband logbook list".',
  );
}
