import { InputError } from '../index.js';

/** What a flag's number may be. */
interface Allowed {
  readonly low: number;
  readonly high: number;
  readonly example: string;
}

const NUMBER = String.raw`[+-]?(?:\d+\.?\d*|\.\d+)`;
const ONE = new RegExp(`^${NUMBER}$`);
const RANGE = new RegExp(`^(${NUMBER})-(${NUMBER})$`);

/**
 * A flag's number.
 * @param flag - The flag.
 * @param text - Its argument; undefined where it is not given.
 * @param allowed - From and to which number, and an example.
 * @returns The number, or undefined.
 * @throws {InputError} `usage`.
 */
export function numberOf(flag: string, text: string | undefined, allowed: Allowed): number | undefined {
  if (text === undefined) return undefined;
  const { low, high, example } = allowed;
  const value = ONE.test(text.trim()) ? Number(text) : Number.NaN;
  if (value >= low && value <= high) return value;
  throw new InputError(
    'usage',
    `${flag} is given as "${text}".`,
    `Give a number from ${String(low)} to ${String(high)}, like ${flag} ${example}.`,
  );
}

/**
 * A flag's range of positive numbers.
 * @param flag - The flag.
 * @param text - Its argument, like 10-150; undefined where it is not given.
 * @param example - An argument that is understood.
 * @returns Both ends, or undefined.
 * @throws {InputError} `usage`.
 */
export function rangeOf(
  flag: string,
  text: string | undefined,
  example: string,
): { readonly low: number; readonly high: number } | undefined {
  if (text === undefined) return undefined;
  const [, lowText = '', highText = ''] = RANGE.exec(text.trim()) ?? [];
  const [low, high] = [Number(lowText), Number(highText)];
  if (lowText !== '' && low >= 0 && high > low && high < 1e9) return { low, high };
  throw new InputError(
    'usage',
    `${flag} is given as "${text}".`,
    `Give the least and the most that you allow, like ${flag} ${example}.`,
  );
}
