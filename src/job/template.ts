import { InputError } from '../core/errors.js';
import { numberedForm } from './frequencyLine.js';
import { PrintedMoves } from './printedMoves.js';
import { readLines, type Motion } from './readLines.js';

/** The name of a placeholder. */
export type Placeholder = 'hz' | 'axis' | 'damping' | 'layer' | 'height_mm' | 'acceleration';

/** How many decimals a placeholder's number gets. */
const PLACEHOLDERS: Readonly<Record<Placeholder, number>> = {
  hz: 3,
  axis: 0,
  damping: 4,
  layer: 0,
  height_mm: 3,
  acceleration: 1,
};

/** What is put in for the placeholders of one line. */
export type TemplateValues = Readonly<Partial<Record<Placeholder, number | string>>>;

/** The user's own line with placeholders. */
export interface Template {
  /** Placeholders in their order, as often as they stand there. */
  readonly names: readonly Placeholder[];
  /** What stands before, between and behind them. */
  readonly parts: readonly string[];
}

const LONGEST_TEMPLATE = 500;
const KNOWN = Object.keys(PLACEHOLDERS)
  .map((name) => `{${name}}`)
  .join(', ');

/**
 * Reads the user's template.
 * @param text - One line of the user's own machine, with placeholders in braces.
 * @returns The template.
 * @throws {InputError} `template-invalid`.
 */
export function parseTemplate(text: string): Template {
  // Of control characters only the tab may stand in a line.
  if (text.trim() === '' || text.length > LONGEST_TEMPLATE || /[^\P{Cc}\t]|[\p{Zl}\p{Zp}]/u.test(text)) {
    throw invalid(
      `must be one line of 1 to ${String(LONGEST_TEMPLATE)} characters`,
      'Give the line that your machine takes for the frequency, with {hz} in place of the number.',
    );
  }
  const pieces = text.split(/\{([^{}]*)\}/);
  const names = pieces.filter((_, i) => i % 2 === 1);
  const parts = pieces.filter((_, i) => i % 2 === 0);
  const unknown = names.find((name) => !Object.hasOwn(PLACEHOLDERS, name));
  if (unknown !== undefined) {
    throw invalid(`has a placeholder {${unknown}} that is not known`, `Known are ${KNOWN}.`);
  }
  if (parts.some((part) => /[{}]/.test(part))) {
    throw invalid('has a brace without its other half', `Placeholders are written as ${KNOWN}.`);
  }
  if (names.length === 0) {
    throw invalid(
      'has no placeholder, so that each line would be the same',
      `Put in what changes: ${KNOWN}.`,
    );
  }
  return { names: names as Placeholder[], parts };
}

/**
 * Fills a template in.
 * @param template - The template.
 * @param values - A value for each of its placeholders; numbers are written as plain decimals.
 * @returns The line, without an end.
 * @throws {RangeError} When a value is missing or not finite.
 */
export function fillTemplate({ names, parts }: Template, values: TemplateValues): string {
  return parts
    .map((part, i) => {
      const name = names[i];
      return name === undefined ? part : part + written(name, values[name]);
    })
    .join('');
}

/**
 * A test for lines that a template has made, whatever numbers it was filled with.
 * @param template - The template.
 * @param axis - The axis, which stands there as it is.
 * @returns The test.
 */
export function madeBy({ names, parts }: Template, axis: string): (text: string) => boolean {
  const fixed: string[] = [parts[0] ?? ''];
  for (const [i, name] of names.entries()) {
    const behind = parts[i + 1] ?? '';
    if (name === 'axis') fixed.push(`${fixed.pop() ?? ''}${axis}${behind}`);
    else fixed.push(behind);
  }
  return numberedForm(fixed.map((part, i) => trimmed(part, i === 0, i === fixed.length - 1)));
}

/**
 * Checks that a line neither moves nor changes how the moves behind it are read: nothing else of the job may change.
 * @param line - A filled template.
 * @throws {InputError} `template-invalid`.
 */
export async function checkHarmless(line: string): Promise<void> {
  // Places that no line sets by chance.
  const before = 'G21\nG90\nG1 X1.2345 Y2.3456 Z3.4567 E1 F60\n';
  // The last line takes everything from what is in force: motion, units, positions and speed.
  const text = `${before}${line}\nX20 Y20 Z20 E2\n`;
  const seen: Motion[] = [];
  let sets = 0;
  const moves = new PrintedMoves((motion) => seen.push({ ...motion }));
  let spoilt = false;
  try {
    await readLines([new TextEncoder().encode(text)], {
      onMove: (motion) => {
        moves.move(motion);
      },
      onExtruderSet: () => {
        sets += 1;
      },
    });
    moves.end();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    spoilt = true;
  }
  const [, last] = seen;
  const same =
    last?.feed === true &&
    !last.arc &&
    last.speedMmPerS === 1 &&
    last.fromXMm === 1.2345 &&
    last.fromYMm === 2.3456 &&
    last.fromZMm === 3.4567 &&
    [last.toXMm, last.toYMm, last.toZMm].every((mm) => mm === 20);
  if (!spoilt && sets === 0 && seen.length === 2 && same) return;
  throw invalid(
    'would move the machine, or change how the moves behind it are read',
    'Give a line that only sets the frequency or the acceleration.',
  );
}

function written(name: Placeholder, value: number | string | undefined): string {
  if (name === 'axis' && typeof value === 'string') return value;
  if (typeof value !== 'number' || !Number.isFinite(value) || Math.abs(value) >= 1e15) {
    throw new RangeError(`Expected a number for {${name}} but received ${String(value)}.`);
  }
  return value.toFixed(PLACEHOLDERS[name]);
}

function trimmed(part: string, first: boolean, last: boolean): string {
  const left = first ? part.trimStart() : part;
  return last ? left.trimEnd() : left;
}

function invalid(what: string, advice: string): InputError {
  return new InputError('template-invalid', `The template ${what}.`, advice);
}
