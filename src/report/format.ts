/** U+2009: stands between a number and its unit. */
const THIN_SPACE = '\u2009';
/** Thin and no-break spaces look well in a picture; where text is searched for, nobody can type them. */
export const FINE_SPACES = /[\u00A0\u2009\u202F]/g;
/** U+2212: a hyphen is too short beside digits. */
const MINUS = '\u2212';

/** A value and its uncertainty as text, both to the same decimal. */
export interface UncertainText {
  readonly value: string;
  readonly sd: string;
}

/**
 * A number with a fixed count of decimals, a real minus sign, and no minus before a zero.
 * @param value - Any finite number.
 * @param digits - Decimals, an integer ≥ 0.
 * @returns The number as text.
 * @throws {RangeError} When `value` is not finite: a report never says NaN.
 */
export function decimals(value: number, digits: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`Expected a finite number but received ${value}`);
  const text = Math.abs(value).toFixed(digits);
  const isZero = !/[1-9]/.test(text);
  return value < 0 && !isZero ? MINUS + text : text;
}

/**
 * A number and its unit with a thin space between.
 * @param number - The number as text.
 * @param unit - The unit; empty for none.
 * @returns Both, or the bare number.
 */
export function withUnit(number: string, unit: string): string {
  return unit === '' ? number : number + THIN_SPACE + unit;
}

/**
 * A value and its uncertainty, cut to the digits that the uncertainty carries: by its three leading digits,
 * 100 to 354 two digits are kept, 355 to 949 one, and 950 to 999 are rounded up to 1000 and two kept.
 * @param estimate - Value and uncertainty of one unit; an exact value (`sd` 0) keeps six significant digits.
 * @returns Both as text.
 * @throws {RangeError} When a number is not finite or `sd` is negative.
 * @see Particle Data Group, Review of Particle Physics, introduction, "Rounding" (from memory).
 */
export function withUncertainty(estimate: { readonly value: number; readonly sd: number }): UncertainText {
  const { value, sd } = estimate;
  if (!(sd >= 0 && sd < Infinity))
    throw new RangeError(`Expected a finite uncertainty of at least 0 but received ${sd}`);
  if (sd === 0) {
    const digits = value === 0 ? 0 : Math.min(20, Math.max(0, 5 - Math.floor(Math.log10(Math.abs(value)))));
    const text = decimals(value, digits);
    return { value: digits === 0 ? text : text.replace(/\.?0+$/, ''), sd: '0' };
  }
  const [leading = '', exponent = ''] = sd.toExponential(2).split('e');
  const three = Math.round(100 * Number(leading));
  const digits = (three < 355 ? 1 : 0) - Number(exponent);
  return {
    value: rounded(value, digits),
    sd: rounded(three < 950 ? sd : 10 ** (Number(exponent) + 1), digits),
  };
}

/**
 * A value with its 95 % half-width, like "41.0 Hz ± 0.5"; the half-width carries the digits.
 * @param interval - Value and 95 % interval of one unit. When it is lopsided, the longer side is told.
 * @param unit - The unit; empty for none. @default ''
 * @returns Value, unit and half-width.
 * @throws {RangeError} When a number is not finite, or the value lies outside its interval.
 */
export function halfWidth95(
  interval: { readonly value: number; readonly low95: number; readonly high95: number },
  unit = '',
): string {
  const { value, low95, high95 } = interval;
  if (!(low95 <= value && value <= high95)) {
    throw new RangeError(`Expected a value between ${low95} and ${high95} but received ${value}`);
  }
  const text = withUncertainty({ value, sd: Math.max(high95 - value, value - low95) });
  return `${withUnit(text.value, unit)} ± ${text.sd}`;
}

/**
 * A share in whole percent.
 * @param share - 0 to 1.
 * @returns Like "5 %".
 * @throws {RangeError} When the share is not finite.
 */
export function percent(share: number): string {
  return withUnit(decimals(100 * share, 0), '%');
}

/** Rounds to decimals; a negative count rounds to tens, hundreds, … */
function rounded(value: number, digits: number): string {
  if (digits >= 0) return decimals(value, digits);
  const step = 10 ** -digits;
  return decimals(Math.round(value / step) * step, 0);
}
