import { InputError } from '../core/errors.js';
import type { ExamineOptions } from '../job/examineJob.js';
import type { Limit, WeaveRequest } from '../job/planWeave.js';
import type { Placeholder } from '../job/template.js';
import { applyOverrides, type RawObject } from '../print/overrides.js';
import { parsePrintRecord, parseRecordJson, type PrintRecord } from '../print/record.js';
import { isObject } from '../print/recordProblem.js';

/** One thing that is told of a job file beside the print record: a flag of a command, a field of the page. */
export interface JobField {
  /** Option name. */
  readonly name: string;
  /** Flag with its argument, as the command's help shows it. */
  readonly flag: string;
  readonly help: string;
  /** What it is called on a page, with its unit. */
  readonly label: string;
  /** An argument that is understood. */
  readonly example: string;
  /** What it may be, the first where nothing is told. */
  readonly choices?: readonly string[];
}

/** What is told for reading a job. */
export const READ_FIELDS = [
  {
    name: 'frequencyLine',
    flag: '--frequency-line <pattern>',
    help: 'pattern of the line that sets the frequency',
    label: 'Pattern of the line that sets the frequency',
    example: String.raw`CALM (?<axis>\w+) (?<hz>[0-9.]+)`,
  },
  {
    name: 'facing',
    flag: '--facing <degrees>',
    help: 'where the photographed face looks to, from X, counterclockwise seen from above',
    label: 'Where the face looks to, degrees from X',
    example: '270',
  },
  {
    name: 'lineWidth',
    flag: '--line-width <mm>',
    help: 'width of a printed line, by which the face is wider than the way along it',
    label: 'Width of a printed line, mm',
    example: '0.45',
  },
] as const satisfies readonly JobField[];

/** What is told for weaving, beside the template. */
export const WEAVE_FIELDS = [
  {
    name: 'limitHz',
    flag: '--limit-hz <low-high>',
    help: 'least and most frequency that you allow, Hz',
    label: 'Least and most frequency that you allow, Hz',
    example: '10-150',
  },
  {
    name: 'limitAcceleration',
    flag: '--limit-acceleration <low-high>',
    help: 'least and most acceleration that you allow, mm/s²',
    label: 'Least and most acceleration that you allow, mm/s²',
    example: '500-8000',
  },
  {
    name: 'every',
    flag: '--every <what>',
    help: 'a line in each layer, or in each band of one frequency and acceleration',
    label: 'A line in each layer, or in each band of one frequency and acceleration',
    example: 'band',
    choices: ['layer', 'band'],
  },
] as const satisfies readonly JobField[];

/** What is put in for each placeholder of a template. */
export const PLACEHOLDER_HELP: Readonly<Record<Placeholder, string>> = {
  hz: "the ladder's frequency at the middle of the layer, 3 decimals",
  axis: "the print record's axis, as it is called there",
  damping: "the shaper's damping ratio, 4 decimals",
  layer: 'the layer, counted from 0',
  height_mm: 'height of its middle above the bed, 3 decimals',
  acceleration: 'acceleration of the layer, mm/s², 1 decimal',
};

/** What was typed, by option name; absent: not told. */
export type JobTexts = Readonly<Record<string, string>>;

/**
 * What a job is read with, from what was typed.
 * @param texts - By the names of `READ_FIELDS`; other names are passed over.
 * @returns What `examineJob` takes.
 * @throws {InputError} `usage`, with the field that it is about.
 */
export function readOptions(texts: JobTexts): ExamineOptions {
  const facingDeg = numberOf('facing', texts, { low: -360, high: 360 });
  const lineWidthMm = numberOf('lineWidth', texts, { low: 0.05, high: 3 });
  const frequencyLine = texts['frequencyLine'];
  return {
    ...(facingDeg === undefined ? {} : { facingDeg }),
    ...(lineWidthMm === undefined ? {} : { lineWidthMm }),
    ...(frequencyLine === undefined ? {} : { frequencyLine }),
  };
}

/**
 * What lines are put in by, from what was typed: limits that are not told are absent.
 * @param texts - By the names of `WEAVE_FIELDS`; other names are passed over.
 * @returns What `planWeave` takes beside record and template.
 * @throws {InputError} `usage`, with the field that it is about.
 */
export function weaveOptions(
  texts: JobTexts,
): Required<Pick<WeaveRequest, 'every'>> & Pick<WeaveRequest, 'limitHz' | 'limitAcceleration'> {
  const name = texts['every'] ?? 'layer';
  const every = (['layer', 'band'] as const).find((one) => one === name.toLowerCase());
  if (every === undefined) {
    throw new InputError('usage', `--every is given as "${name}".`, 'Give one of layer, band.', 'every');
  }
  const limitHz = rangeOf('limitHz', texts);
  const limitAcceleration = rangeOf('limitAcceleration', texts);
  return {
    every,
    ...(limitHz === undefined ? {} : { limitHz }),
    ...(limitAcceleration === undefined ? {} : { limitAcceleration }),
  };
}

/**
 * What is told of the print of a job that is to be read; it may lack what the job tells.
 * @param text - A print record as JSON text; absent: none is given.
 * @param given - Arguments of the record's flags by option name, which win over the text.
 * @returns The record's fields, not checked.
 * @throws {InputError} As `parseRecordJson`, `usage` for an argument, `record-field` where the record is no object.
 */
export function recordToFill(text: string | undefined, given: JobTexts): RawObject {
  const told = applyOverrides(text === undefined ? undefined : parseRecordJson(text), given);
  if (isObject(told)) return told;
  throw new InputError(
    'record-field',
    'The print record is no object with fields.',
    'Write it as { "schema": … }, or leave it away and use flags.',
  );
}

/**
 * The print record of a job that lines are put into.
 * @param text - A print record as JSON text; absent: none is given.
 * @param given - Arguments of the record's flags by option name, which win over the text.
 * @returns The record.
 * @throws {InputError} As `parsePrintRecord`, and `usage` for an argument or where nothing is told.
 */
export function recordToWeave(text: string | undefined, given: JobTexts): PrintRecord {
  if (Object.keys(given).length > 0) return parsePrintRecord(JSON.stringify(recordToFill(text, given)));
  if (text !== undefined) return parsePrintRecord(text);
  throw new InputError(
    'usage',
    'Nothing is told of the print: there is no print record, whose ladder and layers are needed.',
    'Give its print record.',
  );
}

const NUMBER = String.raw`[+-]?(?:\d+\.?\d*|\.\d+)`;
const ONE = new RegExp(`^${NUMBER}$`);
const RANGE = new RegExp(`^(${NUMBER})-(${NUMBER})$`);

function fieldOf(name: string): { readonly flag: string; readonly example: string } {
  const fields: readonly JobField[] = [...READ_FIELDS, ...WEAVE_FIELDS];
  const field = fields.find((one) => one.name === name);
  return { flag: field?.flag.split(' ')[0] ?? name, example: field?.example ?? '' };
}

function numberOf(name: string, texts: JobTexts, { low, high }: Limit): number | undefined {
  const text = texts[name];
  if (text === undefined) return undefined;
  const value = ONE.test(text.trim()) ? Number(text) : Number.NaN;
  if (value >= low && value <= high) return value;
  const { flag, example } = fieldOf(name);
  throw new InputError(
    'usage',
    `${flag} is given as "${text}".`,
    `Give a number from ${String(low)} to ${String(high)}, like ${flag} ${example}.`,
    name,
  );
}

function rangeOf(name: string, texts: JobTexts): Limit | undefined {
  const text = texts[name];
  if (text === undefined) return undefined;
  const [, lowText = '', highText = ''] = RANGE.exec(text.trim()) ?? [];
  const [low, high] = [Number(lowText), Number(highText)];
  if (lowText !== '' && low >= 0 && high > low && high < 1e9) return { low, high };
  const { flag, example } = fieldOf(name);
  throw new InputError(
    'usage',
    `${flag} is given as "${text}".`,
    `Give the least and the most that you allow, like ${flag} ${example}.`,
    name,
  );
}
