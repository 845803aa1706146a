import type { EarlierHz } from '../band/sinceThen.js';
import { InputError } from '../core/errors.js';

const NUMBER = String.raw`\d+(?:\.\d+)?|\.\d+`;
/** As a report prints it, or as it is typed without its signs: 41.0, 41.0+-0.4, "41.0 Hz ± 0.4". */
const EARLIER = new RegExp(
  String.raw`^\s*(${NUMBER})\s*(?:Hz)?\s*(?:(?:±|\+-|\+/-)\s*(${NUMBER})\s*(?:Hz)?\s*)?$`,
  'i',
);

/**
 * Reads an earlier frequency.
 * @param text - What follows `--was`, or undefined when it is not given.
 * @param spacingOnly - Whether the frequency by spacing is asked for, which it is held against.
 * @returns The frequency with its 95 % half-width, or undefined when none is given.
 * @throws {InputError} `usage`.
 */
export function readWas(text: string | undefined, spacingOnly: boolean): EarlierHz | undefined {
  if (text === undefined) return undefined;
  if (!spacingOnly) {
    throw new InputError(
      'usage',
      '--was is given without --spacing-only, which alone holds a frequency against an earlier one.',
      'Add --spacing-only, or leave --was away.',
    );
  }
  const match = EARLIER.exec(text);
  const hz = Number(match?.[1]);
  if (match === null || !(hz > 0)) {
    throw new InputError(
      'usage',
      `--was is given as "${text}", which cannot be read.`,
      'Write it like --was 41.0, or with the ± of the earlier report like --was 41.0+-0.4, in Hz.',
    );
  }
  return { hz, ...(match[2] === undefined ? {} : { plusMinusHz: Number(match[2]) }) };
}
