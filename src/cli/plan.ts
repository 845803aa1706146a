import { extname } from 'node:path';
import type { Command } from 'commander';
import {
  drawChecklist,
  earlierAxis,
  makePlan,
  PAPERS,
  parseAnyReading,
  PLAN_FIELDS,
  planNeeds,
  planReport,
  sheetHtml,
  sheetPdf,
  type Plan,
  type PlanTexts,
} from '../index.js';
import { deliver, type Result } from './deliver.js';
import { EXIT, type Io } from './io.js';
import { readText } from './measure.js';
import { inColour, withErrors } from './outcome.js';
import { checkTargets, formatByName, isStandardOutput, oneOf } from './targets.js';

type Options = PlanTexts & {
  readonly refine?: readonly string[];
  readonly out?: string;
  readonly checklist?: string;
  readonly paper?: string;
  readonly json?: boolean;
};

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
  for (const field of PLAN_FIELDS) {
    command.option(field.flag, field.help, 'preset' in field ? field.preset : undefined);
  }
  command
    .option('--refine <reading...>', 'readings of a first tower (measure --json): a narrower ladder')
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
  const needs = planNeeds(options);
  if (out !== undefined && !isStandardOutput(out)) {
    formatByName(out, ['json'], { what: 'print record', flag: '--out' });
  }
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
