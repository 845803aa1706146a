import { InputError } from '../core/errors.js';
import type { EntryLine } from './entryLine.js';
import { entryLines, missing } from './logFile.js';
import { isSameAxis } from './savedBefore.js';
import { timeOf } from './saveReading.js';
import { writeEntry, type Written } from './writeEntry.js';

/** Two readings of one machine that belong together. */
export interface PairToSave {
  /** Numbers of their entries, in any order. */
  readonly numbers: readonly [number, number];
  readonly note?: string;
  /** Both fit the machine's history better the other way round. @default false */
  readonly exchanged?: boolean;
}

/**
 * Joins the readings of two axes of a machine in an entry of its own, which names both by number and hash.
 * @param folder - The logbook's folder.
 * @param what - The two.
 * @param now - The time to write down.
 * @returns The entry and the logbook's new head.
 * @throws {InputError} `entry-missing`; `readings-differ` where the two are no pair; and as `writeEntry`.
 */
export async function savePair(folder: string, what: PairToSave, now: Date): Promise<Written> {
  const { numbers, note, exchanged = false } = what;
  return writeEntry(
    folder,
    (size) => {
      const lines = linesOf(folder, numbers, size);
      const axes = axesOf(lines);
      const machine = lines[0].machine ?? lines[1].machine;
      return {
        kind: 'pair',
        savedAt: timeOf(now),
        ...(machine === undefined ? {} : { machine }),
        ...(note === undefined ? {} : { note }),
        pair: { axes, exchanged },
      };
    },
    [],
  );
}

type Two<T> = [T, T];

function linesOf(folder: string, [a, b]: readonly [number, number], size: number): Two<EntryLine> {
  const found = new Map<number, EntryLine>();
  for (const line of entryLines(folder))
    if (line.number === a || line.number === b) found.set(line.number, line);
  const lineAt = (number: number): EntryLine => {
    const line = found.get(number);
    if (line === undefined) throw missing(number, size);
    return line;
  };
  return [lineAt(a), lineAt(b)];
}

function axesOf(lines: Two<EntryLine>): Two<{
  axis: string;
  number: number;
  leaf: string;
  result: NonNullable<EntryLine['result']>;
}> {
  const [one, other] = lines.map(({ number, leaf, kind, axis, result }) => {
    if (axis === undefined || result === undefined || kind === 'note' || kind === 'pair')
      throw noPair(`entry ${String(number)} is a ${kind}`, 'Give the numbers of two readings.');
    if (result.state !== 'proposed' && result.state !== 'spacing-only')
      throw noPair(
        `entry ${String(number)} has no frequency, it is ${result.state === 'refused' ? 'a refusal' : `a ${result.state}`}`,
        'Measure that axis again with a ladder, and join what finds its frequency.',
      );
    return { axis, number, leaf, result };
  });
  if (one === undefined || other === undefined) throw new RangeError('Expected two lines but received fewer');
  if (isSameAxis(one.axis, other.axis))
    throw noPair(
      one.axis === other.axis
        ? `both are of axis ${one.axis}`
        : `${one.axis} and ${other.axis} are one axis, spelt in two ways`,
      'Give readings of two axes of one machine.',
    );
  const machines = new Set(lines.flatMap(({ machine }) => machine ?? []));
  if (machines.size > 1)
    throw noPair(
      `they belong to the machines ${[...machines].join(' and ')}`,
      'Give readings of two axes of one machine.',
    );
  return one.axis < other.axis ? [one, other] : [other, one];
}

function noPair(why: string, advice: string): InputError {
  return new InputError(
    'readings-differ',
    `The two entries are no pair: ${why}.`,
    `${advice} "stillband logbook list" shows them.`,
  );
}
