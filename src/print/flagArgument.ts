import { writeLadders } from './ladderList.js';
import { isObject } from './recordProblem.js';

/** The one list whose entries are of several forms. */
const LADDERS = 'ladder.ladders';

/**
 * A field's value as its flag is given it. Numbers of a list are joined by what the flag of that list has between them.
 * @param path - The field's path in the print record.
 * @param value - What stands there; references and corners have forms of their own, which are not written here.
 * @returns The flag's argument; undefined where there is none.
 */
export function flagArgument(path: string, value: unknown): string | undefined {
  if (typeof value === 'string') return value;
  if (typeof value === 'number') return String(value);
  if (!Array.isArray(value)) return isObject(value) ? listed(value) : undefined;
  return path === LADDERS ? writeLadders(value, listed) : value.map(listed).join(',');
}

/** One entry of a list, or an object's values, which are written alike. */
function listed(value: unknown): string {
  if (typeof value === 'number') return withoutExponent(value);
  if (!isObject(value)) return String(value);
  const { fromMm, toMm, ...rest } = value;
  const others = Object.values(rest).map(listed);
  if (fromMm !== undefined) return `${listed(fromMm)}-${listed(toMm)}:${others.join(':')}`;
  return others.join(value['family'] === undefined ? ':' : ',');
}

/** Lists know no exponents. */
function withoutExponent(value: number): string {
  const text = String(value);
  return text.includes('e') ? value.toFixed(20).replace(/\.?0+$/, '') : text;
}
