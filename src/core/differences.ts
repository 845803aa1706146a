/** A number, word or part in which two values of plain data differ. */
export interface Difference {
  /** Where it stands, like `ringing.frequencyHz.value` or `points[3].hz`. */
  readonly path: string;
  /** In the first one; absent where there is nothing. */
  readonly was?: unknown;
  /** In the second one; absent where there is nothing. */
  readonly now?: unknown;
}

/** By how much two numbers may differ and still be the same. */
export interface Tolerance {
  /** Share of the larger of the two. */
  readonly relative: number;
  /** In the number's own unit. */
  readonly absolute: number;
}

type Loose = Readonly<Record<string, unknown>>;

/**
 * Whether a value is an object with fields, not a list.
 * @param value - Plain data.
 * @returns True for an object.
 */
export function isPlainObject(value: unknown): value is Loose {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/**
 * The innermost parts in which two values of plain data differ.
 * @param was - The first one.
 * @param now - The second one.
 * @param tolerance - What numbers may differ by. @default nothing
 * @param path - What the values are called; empty for nothing.
 * @returns The differences in the order of the fields; a field that is undefined counts as absent.
 */
export function differencesBetween(
  was: unknown,
  now: unknown,
  tolerance: Tolerance = { relative: 0, absolute: 0 },
  path = '',
): readonly Difference[] {
  const found: Difference[] = [];
  compare(path, was, now, tolerance, found);
  return found;
}

function compare(path: string, was: unknown, now: unknown, tolerance: Tolerance, found: Difference[]): void {
  if (was === now) return;
  if (typeof was === 'number' && typeof now === 'number') {
    const { relative, absolute } = tolerance;
    if (Math.abs(was - now) <= relative * Math.max(Math.abs(was), Math.abs(now)) + absolute) return;
  } else if (Array.isArray(was) && Array.isArray(now)) {
    for (let i = 0; i < Math.max(was.length, now.length); i += 1)
      compare(`${path}[${String(i)}]`, was[i], now[i], tolerance, found);
    return;
  } else if (isPlainObject(was) && isPlainObject(now)) {
    for (const key of new Set([...Object.keys(was), ...Object.keys(now)])) {
      compare(path === '' ? key : `${path}.${key}`, was[key], now[key], tolerance, found);
    }
    return;
  }
  found.push({ path, ...(was === undefined ? {} : { was }), ...(now === undefined ? {} : { now }) });
}
