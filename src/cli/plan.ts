import { extname } from 'node:path';
import type { Command } from 'commander';
import {
  drawChecklist,
  earlierAxis,
  InputError,
  makePlan,
  PAPERS,
  parseAnyReading,
  planReport,
  sheetHtml,
  sheetPdf,
  type Plan,
  type PlanNeeds,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { listOf } from './lists.js';
import { readText } from './measure.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets, formatByName, oneOf } from './targets.js';

interface Options {
  readonly maxAcceleration?: string;
  readonly maxSpeed?: string;
  readonly layerHeight?: string;
  readonly nozzle?: string;
  readonly bed?: string;
  readonly axes: string;
  readonly machine?: string;
  readonly idea?: string;
  readonly refine?: readonly string[];
  readonly cornerSpeed?: string;
  readonly knownPitches?: string;
  readonly turns: string;
  readonly slot?: string;
  readonly photoPx?: string;
  readonly focalLength?: string;
  readonly out?: string;
  readonly checklist?: string;
  readonly paper?: string;
  readonly json?: boolean;
}

const NOTES = `
Example:
  $ stillband plan --max-acceleration 6000 --max-speed 200 --layer-height 0.2 --nozzle 0.4 --bed 220x220 --out tower.print.json --checklist tower.pdf
  $ stillband plan --max-acceleration 6000 --max-speed 200 --layer-height 0.2 --nozzle 0.4 --bed 220x220 --idea 42,36

The largest acceleration and speed that are safe on your machine are never guessed: the maker's limits come first.
With two axes --out writes one print record for each, with the axis in its name: tower.X.print.json and tower.Y.print.json.

Parts move and are hot: stay beside the machine while it prints fast, ready to stop it.

Exit codes: 0 planned, 64 usage, 65 bad input or no plan possible, 66 no such file, 70 internal, 73 cannot write.`;

/**
 * Adds `plan`'s options and action.
 * @param command - The command to fill.
 * @param io - The outside world.
 * @param done - Takes the exit code.
 */
export function define(command: Command, io: Io, done: (exitCode: number) => void): void {
  command
    .option('--max-acceleration <mm/s²>', 'the largest acceleration that is safe on this machine')
    .option('--max-speed <mm/s>', 'the largest print speed that is safe on this machine')
    .option('--layer-height <mm>', 'layer height')
    .option('--nozzle <mm>', 'width of the nozzle')
    .option('--bed <WxD>', 'width and depth of the bed, mm, like 220x220')
    .option('--axes <names>', 'the axes that one tower is to tell, right face first', 'X,Y')
    .option('--machine <name>', 'the machine, by your own name')
    .option('--idea <hz>', 'about where it rings: one frequency for all axes, or one for each with a comma')
    .option('--refine <reading...>', 'readings of a first tower (measure --json): a narrower ladder')
    .option('--corner-speed <mm/s>', 'speed that is kept through a corner')
    .option('--known-pitches <mm>', 'pitches of the drive, such as belt teeth, with commas')
    .option('--turns <way>', 'which way round the outline is printed, seen from above', 'counterclockwise')
    .option('--slot <mm>', 'put a slot of this width into each face')
    .option('--photo-px <px>', "longer side of the camera's photos, px (4000 unless told)")
    .option('--focal-length <mm>', "the camera's focal length on 35-mm film (26 unless told)")
    .option('--out <file>', 'write the print record, or one for each axis')
    .option('--checklist <file>', 'write a page to take to the machine: a name that ends in .html or .pdf')
    .option('--paper <paper>', 'paper of the checklist: a4 or letter (a4 unless told)')
    .option('--json', 'write the plan as JSON to standard output')
    .addHelpText('after', NOTES)
    .action(async (options: Options) => {
      done(await withErrors(io, options.json ?? false, () => plan(options, io)));
    });
}

async function plan(options: Options, io: Io): Promise<number> {
  const { out, checklist, refine = [], json = false } = options;
  const paper = oneOf('--paper', options.paper ?? 'a4', PAPERS);
  const format =
    checklist === undefined
      ? undefined
      : formatByName(checklist, ['html', 'pdf'], { what: 'checklist', flag: '--checklist' });
  const needs = needsOf(options);
  const names = out === undefined ? [] : recordNames(out, needs.axes);
  for (const name of names) {
    await checkTargets(refine, { json, out: name, ...(checklist === undefined ? {} : { sheet: checklist }) });
  }
  if (checklist !== undefined) await checkTargets(refine, { json, sheet: checklist });
  const earlier = [];
  for (const path of refine) earlier.push(earlierAxis(parseAnyReading(await readText(path))));
  const made = makePlan({ ...needs, ...(earlier.length === 0 ? {} : { earlier }) });
  const results: Result[] = names.map((path, i) => ({ path, data: jsonText(made.records[i]) }));
  if (checklist !== undefined && format !== undefined) {
    results.push({ path: checklist, data: await checklistData(made, format, paper) });
  }
  await deliver(results, json ? jsonText(made) : inColour(planReport(made), io), io);
  return EXIT.done;
}

function jsonText(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}

async function checklistData(
  made: Plan,
  format: 'html' | 'pdf',
  paper: (typeof PAPERS)[number],
): Promise<string | Uint8Array> {
  const sheet = drawChecklist(made);
  return format === 'html' ? sheetHtml(sheet, paper) : await sheetPdf(sheet, paper, new Date());
}

/** tower.print.json of axes X and Y: tower.X.print.json and tower.Y.print.json. */
function recordNames(out: string, axes: readonly string[]): readonly string[] {
  if (axes.length < 2) return [out];
  const ending = out.endsWith('.print.json') ? '.print.json' : extname(out);
  const stem = out.slice(0, out.length - ending.length);
  // A name may hold what a path may not.
  return axes.map((axis) => `${stem}.${axis.replaceAll(/[^\p{L}\p{N}_-]/gu, '-')}${ending}`);
}

/** Asked for, never guessed. */
const NEEDED = [
  ['maxAcceleration', '--max-acceleration', 'the largest acceleration that is safe, mm/s²'],
  ['maxSpeed', '--max-speed', 'the largest print speed that is safe, mm/s'],
  ['layerHeight', '--layer-height', 'the layer height, mm'],
  ['nozzle', '--nozzle', 'the width of the nozzle, mm'],
  ['bed', '--bed', 'the size of the bed, mm'],
] as const;

function needsOf(options: Options): PlanNeeds {
  const missing = NEEDED.filter(([name]) => options[name] === undefined);
  if (missing.length > 0) {
    throw new InputError(
      'usage',
      `A plan needs ${missing.map(([, flag, what]) => `${what} (${flag})`).join('; ')}.`,
      "Look up the machine's limits in its maker's papers, and give them by these flags; they are not guessed.",
    );
  }
  const { machine, idea, cornerSpeed, knownPitches, slot, photoPx, focalLength } = options;
  const number = (flag: string) => (text: string) => numberOf(flag, text);
  const numbers = (flag: string) => (text: string) => numbersOf(flag, text);
  return {
    axes: listOf(options.axes),
    maxAccelerationMmPerS2: numberOf('--max-acceleration', options.maxAcceleration),
    maxSpeedMmPerS: numberOf('--max-speed', options.maxSpeed),
    layerHeightMm: numberOf('--layer-height', options.layerHeight),
    nozzleMm: numberOf('--nozzle', options.nozzle),
    bedMm: bedOf(options.bed ?? ''),
    turns: oneOf('--turns', options.turns, ['counterclockwise', 'clockwise'] as const),
    ...(machine === undefined ? {} : { machine }),
    ...given('ideaHz', idea, numbers('--idea')),
    ...given('cornerSpeedMmPerS', cornerSpeed, number('--corner-speed')),
    ...given('knownPitchesMm', knownPitches, numbers('--known-pitches')),
    ...given('slotMm', slot, number('--slot')),
    ...given('photoPx', photoPx, number('--photo-px')),
    ...given('focalLength35Mm', focalLength, number('--focal-length')),
  };
}

/** A field that is there only where it was typed. */
function given<Name extends string, Value>(
  name: Name,
  text: string | undefined,
  read: (text: string) => Value,
): Readonly<Partial<Record<Name, Value>>> {
  return (text === undefined ? {} : { [name]: read(text) }) as Readonly<Partial<Record<Name, Value>>>;
}

function numbersOf(flag: string, text: string): readonly number[] {
  return listOf(text).map((word) => numberOf(flag, word));
}

function numberOf(flag: string, text = ''): number {
  const value = Number(text);
  if (text.trim() !== '' && Number.isFinite(value)) return value;
  throw new InputError(
    'usage',
    `${flag} is given as "${text}", which is no number.`,
    'Give a number with a decimal point and without its unit.',
  );
}

function bedOf(text: string): readonly [number, number] {
  const [width, depth, more] = text.split(/[x×]/i);
  if (width !== undefined && depth !== undefined && more === undefined) {
    return [numberOf('--bed', width), numberOf('--bed', depth)];
  }
  throw new InputError('usage', `--bed is given as "${text}".`, 'Give width and depth in mm, like 220x220.');
}
