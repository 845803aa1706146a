import { AssertionError } from 'node:assert';

/** How far a value may be off, and why just so far. */
export interface Allowance {
  /** Largest absolute difference, unit of the values. */
  readonly abs?: number;
  /** Largest difference as a share of the expected value's size; added to `abs`. */
  readonly rel?: number;
  /** The reason for this number, printed when the check fails. */
  readonly why: string;
}

type Values = number | ArrayLike<number>;

/**
 * Checks numbers against expected ones: |actual − expected| ≤ abs + rel · |expected|, for each element.
 * A NaN on either side fails.
 * @param actual - One number, or numbers of shape (n,).
 * @param expected - The same shape; not empty, so that the check cannot pass on nothing.
 * @param allowance - `abs`, `rel` or both, and why.
 * @throws {AssertionError} Names the worst element: its index, both values, the difference and what is allowed.
 * @throws {RangeError} When the allowance says neither `abs` nor `rel`, or says a negative one.
 */
export function expectClose(actual: Values, expected: Values, allowance: Allowance): void {
  const { abs = 0, rel = 0, why } = allowance;
  if (allowance.abs === undefined && allowance.rel === undefined) {
    throw new RangeError('expected an allowance with abs or rel but received neither');
  }
  if (!(abs >= 0 && rel >= 0)) {
    throw new RangeError(`expected abs and rel of at least 0 but received ${abs} and ${rel}`);
  }
  if ((typeof actual === 'number') !== (typeof expected === 'number')) {
    fail('one side is a number, the other a list', actual, expected);
  }
  const found = listOf(actual);
  const wanted = listOf(expected);
  if (wanted.length === 0) fail('nothing is expected: the list is empty', actual, expected);
  if (found.length !== wanted.length) {
    fail(`${wanted.length} values expected, ${found.length} received`, actual, expected);
  }
  const excesses = wanted.map((want, i) => excess(found[i]!, want, abs + rel * Math.abs(want)));
  const outside = excesses.filter((value) => value > 0).length;
  if (outside === 0) return;
  const index = excesses.reduce((worst, value, i) => (value > excesses[worst]! ? i : worst), 0);
  const want = wanted[index]!;
  const got = found[index]!;
  const where = typeof actual === 'number' ? '' : ` at index ${index}`;
  const count = wanted.length === 1 ? '' : `; ${outside} of ${wanted.length} are outside`;
  fail(
    `worst difference${where}: received ${got}, expected ${want}, off by ${Math.abs(got - want)}, ` +
      `allowed ${abs + rel * Math.abs(want)} (${why})${count}`,
    got,
    want,
  );
}

/** How far outside its allowance a value is; positive when it fails. What cannot be compared is infinitely far. */
function excess(got: number, want: number, allowed: number): number {
  if (got === want) return 0; // equal infinities, whose difference is NaN
  const difference = Math.abs(got - want) - allowed;
  return Number.isNaN(difference) ? Infinity : difference;
}

function listOf(values: Values): readonly number[] {
  return typeof values === 'number' ? [values] : Array.from(values);
}

function fail(message: string, actual: unknown, expected: unknown): never {
  throw new AssertionError({ message, actual, expected, stackStartFn: expectClose });
}
