import { RE2JS, RE2JSException } from 're2js';
import { InputError } from '../core/errors.js';
import type { Hz } from '../core/units.js';

/** What a line that sets the shaper's frequency says. */
export interface FrequencySet {
  readonly hz: Hz;
  /** Digits behind its decimal point. */
  readonly decimals: number;
  /** The axis it names; undefined where the pattern has no group for one. */
  readonly axis: string | undefined;
}

/** Reads a line's text; undefined where it sets no frequency. */
export type FrequencyLine = (text: string) => FrequencySet | undefined;

const LONGEST_PATTERN = 1000;
const ADVICE =
  'Give a regular expression (RE2 syntax) whose group hz, or whose first group, is the number, like "CALM (?<axis>\\w+) (?<hz>[0-9.]+)".';

/**
 * Makes a reader of the lines that set the frequency from the user's own pattern. Its time grows with the line's length
 * only, whatever the pattern (RE2), so that none can stop the tool.
 * @param pattern - A regular expression in RE2 syntax. Its group `hz`, or its first one, is the frequency; its group
 * `axis` the axis.
 * @returns The reader. A line that matches with something else than a number from 1 to 500 as its frequency throws.
 * @throws {InputError} `pattern-invalid`.
 * @see R. Cox, "Regular Expression Matching Can Be Simple And Fast", 2007 (from memory).
 */
export function frequencyLine(pattern: string): FrequencyLine {
  if (pattern.length > LONGEST_PATTERN) {
    throw invalid(`is longer than ${String(LONGEST_PATTERN)} characters`);
  }
  const compiled = compile(pattern);
  const names = compiled.namedGroups();
  const hzGroup = names['hz'] ?? firstUnnamed(compiled.groupCount(), Object.values(names));
  if (hzGroup === undefined) throw invalid('has no group for the frequency');
  const axisGroup = names['axis'];
  return (text) => {
    const match = compiled.matcher(text);
    if (!match.find()) return undefined;
    const found = match.group(hzGroup) ?? '';
    const hz = /^\d{1,9}(?:\.\d{1,15})?$/.test(found) ? Number(found) : Number.NaN;
    if (!(hz >= 1 && hz <= 500)) {
      throw new InputError(
        'pattern-invalid',
        `The pattern of the frequency's line finds "${found.slice(0, 40)}" where a frequency from 1 to 500 Hz should stand.`,
        ADVICE,
      );
    }
    const axis = axisGroup === undefined ? undefined : (match.group(axisGroup) ?? '');
    return { hz, decimals: found.split('.')[1]?.length ?? 0, axis };
  };
}

/**
 * Makes a test of whether a line is one of a form with numbers in it.
 * @param parts - What stands between the numbers, in order: one more than there are numbers.
 * @returns The test; spaces at the ends of a line do not count.
 */
export function numberedForm(parts: readonly string[]): (text: string) => boolean {
  const compiled = compile(`^\\s*${parts.map((part) => RE2JS.quote(part)).join('[-+0-9.]+')}\\s*$`);
  return (text) => compiled.matcher(text).find();
}

function compile(pattern: string): RE2JS {
  try {
    return RE2JS.compile(pattern);
  } catch (error) {
    if (!(error instanceof RE2JSException)) throw error;
    throw invalid(`cannot be used (${error.message.replace(/^error parsing regexp: /, '')})`);
  }
}

/** The first group that is not named otherwise. */
function firstUnnamed(groups: number, named: readonly number[]): number | undefined {
  for (let group = 1; group <= groups; group += 1) if (!named.includes(group)) return group;
  return undefined;
}

function invalid(what: string): InputError {
  return new InputError('pattern-invalid', `The pattern of the frequency's line ${what}.`, ADVICE);
}
