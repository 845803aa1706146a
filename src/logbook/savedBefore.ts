import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { EntryPhoto } from './entry.js';
import type { EntryLine } from './entryLine.js';
import { NAMES } from './layout.js';
import { entryLines } from './logFile.js';

/**
 * Whether two names of axes are one axis: nobody means two by `y` and `Y`.
 * @param one - A name.
 * @param other - Another.
 * @returns True where they differ in case at most.
 */
export function isSameAxis(one: string, other: string): boolean {
  return one.toLowerCase() === other.toLowerCase();
}

/**
 * What a logbook holds already that somebody who saves a reading should know of.
 * @param folder - The logbook's folder.
 * @param what - Machine and axis of the reading, and its photos.
 * @returns Sentences: a photo that is saved once more, and an axis that the machine's earlier readings spell otherwise.
 * @throws {InputError} `logbook-damaged` or `logbook-unreadable`.
 */
export function savedBefore(
  folder: string,
  what: Pick<EntryLine, 'machine' | 'axis'> & { readonly photos: readonly EntryPhoto[] },
): readonly string[] {
  const { machine, axis, photos } = what;
  let spelt: EntryLine | undefined;
  const photoIn = new Map<string, number>();
  for (const line of entryLines(folder)) {
    if (line.kind === 'note' || line.kind === 'pair') continue;
    const isOther = line.axis !== axis && line.machine === machine;
    if (isOther && axis !== undefined && line.axis !== undefined && isSameAxis(line.axis, axis)) spelt = line;
    // A stored photo's name is its hash, so that no file need be read.
    for (const { file } of photos)
      if (existsSync(join(folder, NAMES.entries, line.folder, file))) photoIn.set(file, line.number);
  }
  const again = photos.flatMap(({ file }) => {
    const number = photoIn.get(file);
    return number === undefined
      ? []
      : [`The photo is in entry ${String(number)} as well: it is one measurement, not two.`];
  });
  if (spelt === undefined) return again;
  return [
    ...again,
    `Entry ${String(spelt.number)} has the axis ${spelt.axis ?? ''}, this one ${axis ?? ''}: a trend takes them for two. Spell them alike.`,
  ];
}
