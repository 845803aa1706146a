import { parseLine } from './entryLine.js';

/** The lines of a log, and what is wrong with their order. */
export interface LineSurvey {
  /** How many entries the log tells of. */
  readonly count: number;
  /** Whether every line is whole and in its place, so that they can be read one after the other. */
  readonly isInOrder: boolean;
  /** Where they are not: lines by their number. */
  readonly byNumber: ReadonlyMap<number, string>;
  /** Numbers of lines that stand elsewhere. */
  readonly moved: readonly number[];
  /** Places, from 1, of lines that are none. */
  readonly unclear: readonly number[];
  /** Numbers that stand there twice. */
  readonly twice: readonly number[];
  /** What follows the last whole line. */
  readonly hasRest: boolean;
}

/**
 * Looks at the order of a log's lines.
 * @param lines - The lines, with their ends; asked for a second time where the first look finds something.
 * @param highest - Highest number of an entry's folder: a line's own number is believed up to here.
 * @returns What was found.
 */
export function surveyLines(lines: () => Iterable<Buffer>, highest: number): LineSurvey {
  let count = 0;
  let hasRest = false;
  let isInOrder = true;
  for (const bytes of lines()) {
    const text = wholeLine(bytes);
    if (text === undefined) hasRest = true;
    else {
      count += 1;
      isInOrder &&= parseLine(text)?.number === count;
    }
  }
  const nothing = { byNumber: new Map<number, string>(), moved: [], unclear: [], twice: [] };
  if (isInOrder) return { count, isInOrder, hasRest, ...nothing };

  const byNumber = new Map<number, string>();
  const unclear: number[] = [];
  const twice: number[] = [];
  const numbers: number[] = [];
  const most = Math.max(count, highest);
  let place = 0;
  for (const bytes of lines()) {
    const text = wholeLine(bytes);
    place += 1;
    if (text === undefined) continue;
    const number = parseLine(text)?.number;
    if (number === undefined || !Number.isInteger(number) || number < 1 || number > most) unclear.push(place);
    else if (byNumber.has(number)) twice.push(number);
    else {
      byNumber.set(number, text);
      numbers.push(number);
    }
  }
  const inOrder = longestRising(numbers);
  const moved = numbers.filter((number) => !inOrder.has(number));
  return { count: Math.max(0, ...numbers), isInOrder, byNumber, moved, unclear, twice, hasRest };
}

/**
 * A line without its end.
 * @param bytes - As it was read.
 * @returns Its text, or undefined when it has no end.
 */
export function wholeLine(bytes: Buffer): string | undefined {
  return bytes.at(-1) === 10 ? bytes.subarray(0, -1).toString('utf8') : undefined;
}

/**
 * The most numbers that stand in rising order: the others are those that were moved.
 * Patience sorting; Schensted 1961 (from memory).
 */
function longestRising(numbers: readonly number[]): ReadonlySet<number> {
  /** For each length, where the rising run of that length with the lowest end ends. */
  const ends: number[] = [];
  const before: number[] = [];
  for (const [i, number] of numbers.entries()) {
    let low = 0;
    let high = ends.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((numbers[ends[middle] ?? 0] ?? 0) < number) low = middle + 1;
      else high = middle;
    }
    before.push(low === 0 ? -1 : (ends[low - 1] ?? -1));
    ends[low] = i;
  }
  const rising = new Set<number>();
  for (let i = ends.at(-1) ?? -1; i >= 0; i = before[i] ?? -1) rising.add(numbers[i] ?? 0);
  return rising;
}
