import { basename } from 'node:path';
import type { Command } from 'commander';
import {
  aboutPhoto,
  drawReading,
  heightsCsv,
  jointReport,
  InputError,
  measureForPicture,
  measureTogetherForPicture,
  optionName,
  pictureOf,
  readCard,
  readWas,
  RECORD_FLAGS,
  textReport,
  toldToMeasure,
  type JointReading,
  type Measurement,
  type PhotoToJoin,
  type RecordUse,
  type ToldToMeasure,
} from '../index.js';
import { readWhole } from './files.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { addSaveOptions, checkSaveOptions, saved, type SaveOptions } from './save.js';
import { sheetFiles, sheetTarget, type SheetOptions, type SheetTarget } from './sheet.js';
import { checkTargets, type Outputs } from './targets.js';
import { inColour, withErrors } from './outcome.js';

/** The options of the command line: outputs, and the print record's fields by flag. */
type Options = Outputs &
  SaveOptions &
  SheetOptions & {
    readonly print?: readonly string[];
    readonly spacingOnly?: boolean;
    readonly cameraStill?: boolean;
    readonly was?: string;
  };

const EXAMPLE = `
Example:
  $ stillband measure testimages/white-card.jpg --print testimages/white-card.print.json
  $ stillband measure testimages/blue-markers.jpg --print testimages/blue-markers.print.json --spacing-only --was 38.3+-0.4
  $ stillband measure testimages/white-card.jpg --print testimages/white-card.print.json --sheet tower.pdf

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
    .argument(
      '<photos...>',
      'the photo: JPEG, PNG, WebP, TIFF, AVIF or HEIC; several of one axis are measured together',
    )
    .option(
      '--print <file>',
      'print record, a JSON file with what you know of the print; one for all photos, or one for each in their order; absent: read from the marker card in the photo',
      (file: string, before: readonly string[]) => [...before, file],
      [],
    )
    .option('--spacing-only', 'only the frequency by ripple spacing, as a quick re-check; needs no ladder')
    .option(
      '--was <Hz>',
      'with --spacing-only: the earlier frequency, like 41.0+-0.4; tells whether it has moved',
    )
    .option(
      '--camera-still',
      'of several photos: only the lamp was moved between them, neither tower nor camera',
    )
    .option('--json', 'write the whole reading as JSON to standard output')
    .option('--csv <file>', 'write one row per height (- is standard output)')
    .option('--svg <file>', 'write the picture as SVG (- is standard output)')
    .option('--png <file>', 'write the picture as PNG (- is standard output)')
    .option('--sheet <file>', 'write one page of evidence: a name that ends in .html or .pdf')
    .option('--paper <name>', 'with --sheet: a4 or letter (default: a4)')
    .addHelpText('after', EXAMPLE);
  command.optionsGroup('Logbook:');
  addSaveOptions(command);
  command.optionsGroup('Print record:');
  for (const { flag, help } of RECORD_FLAGS) command.option(flag, help);
  command.action(async (photos: readonly string[], options: Options & Readonly<Record<string, unknown>>) => {
    done(await withErrors(io, options.json ?? false, () => measure(photos, options, io)));
  });
}

/**
 * Writes what was asked for, the text report to standard output unless something else goes there.
 * @param measurement - Reading and view.
 * @param outputs - What was asked for.
 * @param io - The outside world.
 * @param more - Other files to write with them. @default none
 * @returns The exit code of the reading: 0, or 3 for a refusal.
 * @throws {InputError} `cannot-write`.
 */
export async function writeResults(
  measurement: Measurement,
  outputs: Outputs,
  io: Io,
  more: readonly Result[] = [],
): Promise<number> {
  const { reading } = measurement;
  const { csv, svg, png, json = false } = outputs;
  const drawing = svg === undefined && png === undefined ? '' : await drawReading(measurement);
  // All is made before anything is written, so that no part of a result is left behind when another fails.
  const results: Result[] = [...more];
  if (csv !== undefined) results.push({ path: csv, data: heightsCsv(reading) });
  if (svg !== undefined) results.push({ path: svg, data: drawing });
  if (png !== undefined) results.push({ path: png, data: await pictureOf(drawing) });
  const report = json ? `${JSON.stringify(reading, null, 2)}\n` : inColour(textReport(reading), io);
  await deliver(results, report, io);
  return reading.proposal.state === 'refused' ? EXIT.refused : EXIT.done;
}

type Given = Options & Readonly<Record<string, unknown>>;

async function measure(photos: readonly string[], options: Given, io: Io): Promise<number> {
  const use = { spacingOnly: options.spacingOnly ?? false };
  const was = readWas(options.was, use.spacingOnly);
  checkSaveOptions(options);
  const prints = options.print ?? [];
  const target = sheetTarget(options);
  await checkTargets([...photos, ...prints], options);
  const [photo, ...others] = photos;
  if (prints.length > 1 && prints.length !== photos.length) {
    throw new InputError(
      'usage',
      `${String(prints.length)} print records are given for ${String(photos.length)} photos.`,
      'Give one record for all photos, or one for each in their order.',
    );
  }
  if (photo === undefined || others.length > 0) return measureSeveral(photos, options, target, io);
  if (options.cameraStill === true) {
    throw new InputError(
      'usage',
      '--camera-still is for several photos, but one is given.',
      'Give all photos of the face, or leave the flag away.',
    );
  }
  const [print] = prints;
  const bytes = await read(photo, 'photo');
  const told = await toldOf(bytes, print === undefined ? undefined : await readText(print), options, use);
  const measurement = await measureForPicture(bytes, told.record, {
    ...use,
    recordFromCard: told.recordFromCard,
    ...(told.cardRead === undefined ? {} : { cardRead: told.cardRead }),
    ...(was === undefined ? {} : { was }),
  });
  const { reading } = measurement;
  const asked = { ...(use.spacingOnly ? use : {}), ...(was === undefined ? {} : { was }) };
  const what = { reading, photos: [{ bytes, name: basename(photo) }], asked };
  return saved(options, io, what, async (written) =>
    writeResults(
      measurement,
      options,
      io,
      await sheetFiles(target, { ...measurement, photoNames: [basename(photo)] }, written),
    ),
  );
}

async function measureSeveral(
  photos: readonly string[],
  options: Given,
  target: SheetTarget | undefined,
  io: Io,
): Promise<number> {
  const single = ['spacingOnly', 'csv', 'svg', 'png'] as const;
  const unfit = single.find((name) => options[name] !== undefined);
  if (unfit !== undefined) {
    const flag = unfit === 'spacingOnly' ? '--spacing-only' : `--${unfit}`;
    throw new InputError(
      'usage',
      `${flag} is for one photo, but ${String(photos.length)} are given.`,
      'Measure each photo by itself for that, or leave the flag away.',
    );
  }
  const prints = options.print ?? [];
  const texts: (string | undefined)[] = [];
  for (const print of prints) texts.push(await readText(print));
  const joined: PhotoToJoin[] = [];
  for (const [i, photo] of photos.entries()) {
    const bytes = await read(photo, 'photo');
    const name = basename(photo);
    const told = await aboutPhoto(name, () => toldOf(bytes, texts[texts.length > 1 ? i : 0], options, {}));
    joined.push({ bytes, name, ...told });
  }
  const cameraStill = options.cameraStill ?? false;
  const measured = await measureTogetherForPicture(joined, { cameraStill });
  const names = photos.map((path) => basename(path));
  const what = {
    reading: measured.reading,
    photos: joined.map(({ bytes }, i) => ({ bytes, name: names[i] ?? '' })),
    asked: cameraStill ? { cameraStill } : {},
  };
  return saved(options, io, what, async (written) => {
    const sheet = await sheetFiles(target, { ...measured, photoNames: names }, written);
    return tellJoint(measured.reading, names, options, sheet, io);
  });
}

async function tellJoint(
  joint: JointReading,
  names: readonly string[],
  options: Given,
  sheet: readonly Result[],
  io: Io,
): Promise<number> {
  const report =
    options.json === true ? `${JSON.stringify(joint, null, 2)}\n` : inColour(jointReport(joint, names), io);
  await deliver(sheet, report, io);
  return joint.proposal.state === 'refused' ? EXIT.refused : EXIT.done;
}

/** What is told of a photo's print: by a record that is given, else by the card in the photo, and by flags. */
function toldOf(
  bytes: Uint8Array,
  text: string | undefined,
  options: Given,
  use: RecordUse,
): Promise<ToldToMeasure> {
  return toldToMeasure({ text, given: givenFields(options), card: () => readCard(bytes) }, use);
}

/**
 * The fields of the print record that were given by flags.
 * @param options - All options of the command line.
 * @returns Their arguments by option name.
 */
export function givenFields(options: Readonly<Record<string, unknown>>): Record<string, string> {
  const given: Record<string, string> = {};
  for (const { flag } of RECORD_FLAGS) {
    const name = optionName(flag);
    const value = options[name];
    if (typeof value === 'string') given[name] = value;
  }
  return given;
}

/**
 * Reads a print record's file.
 * @param print - Its path.
 * @returns Its text.
 * @throws {InputError} `file-not-found` or `file-unreadable`.
 */
export async function readText(print: string): Promise<string> {
  return new TextDecoder().decode(await read(print, 'print record'));
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
