import { entryLeaf, parseEntry, type Entry } from './entry.js';
import { folderOf, lineOf, parseLine } from './entryLine.js';
import type { LogbookFiles } from './files.js';
import { HashTree } from './hashTree.js';
import { formatHead, type Head } from './head.js';
import { NAMES, numberOf, PART, README } from './layout.js';
import { surveyLines, wholeLine, type LineSurvey } from './surveyLines.js';

/** Something that is not as it was written. */
export interface Finding {
  readonly what: 'changed' | 'missing' | 'added' | 'renamed' | 'reordered' | 'truncated' | 'rewritten';
  /** Which part of the logbook it is about: the photos, or the log with its readings. */
  readonly part: 'photos' | 'log';
  /** The entry it is about, where it is about one; of several the first. */
  readonly entry?: number;
  /** The file or folder, relative to the logbook. */
  readonly file: string;
  /** One sentence. */
  readonly text: string;
}

/** A head that was kept elsewhere, held against the log. */
export interface HeadVerdict {
  readonly head: string;
  /** `fits` up to the findings that are named; `log-shorter`: the log was cut, or the head is another log's. */
  readonly state: 'fits' | 'differs' | 'log-shorter';
}

/** What came of looking at a logbook. `unknown`: nothing contradicts it, but it was not looked at, or cannot be known. */
export interface Verification {
  readonly schema: 'stillband/verification@1';
  readonly verdicts: {
    /** The bytes of all stored photos are those that were saved. */
    readonly photos: 'intact' | 'changed';
    /** Entries, readings and their order are those that a given head covers; `unknown` without a head. */
    readonly log: 'intact' | 'changed' | 'unknown';
    /** Measured again, the photos give the same readings. */
    readonly recomputed: 'equal' | 'different' | 'unknown';
  };
  /** How many entries there are. */
  readonly size: number;
  /** How many of them, at the end, no given head covers. */
  readonly uncovered: number;
  /** Head of the log as it is now. */
  readonly head: string;
  readonly heads: readonly HeadVerdict[];
  readonly findings: readonly Finding[];
  /** What is no difference, but worth knowing. */
  readonly notes: readonly string[];
}

/** An entry as it lies there. */
interface Seen {
  readonly number: number;
  /** Its folder; undefined when there is none. */
  readonly folder: string | undefined;
  readonly entry: Entry | undefined;
  /** Hash of what lies there. */
  readonly leaf: string | undefined;
  readonly line: string | undefined;
  /** Hash that its line tells. */
  readonly lineLeaf: string | undefined;
}

/**
 * Looks at every byte of a logbook and names what is not as it was written.
 * @param files - The logbook.
 * @param heads - Heads that were kept elsewhere. Without one, a log that was rewritten as a whole or cut at its end
 * looks intact.
 * @returns Verdicts and findings; `recomputed` is unknown.
 * @throws {InputError} `logbook-unreadable`.
 */
export async function verifyFiles(files: LogbookFiles, heads: readonly Head[]): Promise<Verification> {
  const findings: Finding[] = [];
  const notes: string[] = [];
  const find = (finding: Finding): void => void findings.push(finding);

  // In this order, what is written meanwhile never looks like something missing or added.
  const highestBefore = highestOf(files.entries());
  const survey = surveyLines(() => files.lines(), highestBefore);
  const folders = sortFolders(files.entries(), find);
  const isLocked = files.isLocked();
  // The line of an entry that is being written, or whose writer was stopped, is still to come.
  const linesNow = files.countLines() + (isLocked ? 1 : 0);
  let reached = survey.count;
  while (folders.has(reached + 1)) reached += 1;
  const mostCovered = Math.max(0, ...heads.map(({ size }) => size));
  const isUnderWay = reached > survey.count && reached <= linesNow;
  const size = isUnderWay && mostCovered < reached ? survey.count : reached;
  if (isUnderWay)
    notes.push(
      `Entry ${String(reached)} is being written, or its writer was stopped; the next one completes its line.`,
    );

  await lookAtTop(files, isLocked, find, notes);
  for (const [number, names] of folders) {
    if (number <= Math.max(size, linesNow)) continue;
    for (const name of names) {
      find({
        what: 'added',
        part: 'log',
        entry: number,
        file: inEntries(name),
        text: 'Its number lies beyond the end of the log.',
      });
    }
  }
  tellLines(survey, size, isUnderWay || isLocked, find);

  const chain = new Chain(heads, find);
  const line = lineReader(files, survey);
  for (let number = 1; number <= size; number += 1) {
    const seen = await lookAtEntry(files, number, folders.get(number) ?? [], line(number), find);
    chain.add(seen);
  }
  const { head, verdicts } = chain.end();
  if (mostCovered > size) {
    find({
      what: 'truncated',
      part: 'log',
      entry: size + 1,
      file: NAMES.log,
      text: `A head covers ${String(mostCovered)} entries, and there are ${String(size)}: those from ${String(size + 1)} to ${String(mostCovered)} are missing.`,
    });
  }
  const changed = (part: Finding['part']): boolean => findings.some((finding) => finding.part === part);
  return {
    schema: 'stillband/verification@1',
    verdicts: {
      photos: changed('photos') ? 'changed' : 'intact',
      log: changed('log') ? 'changed' : heads.length === 0 ? 'unknown' : 'intact',
      recomputed: 'unknown',
    },
    size,
    uncovered: Math.max(0, size - mostCovered),
    head: formatHead(head),
    heads: verdicts,
    findings,
    notes,
  };
}

function inEntries(...names: readonly string[]): string {
  return [NAMES.entries, ...names].join('/');
}

function highestOf(names: readonly string[]): number {
  return names.reduce((highest, name) => Math.max(highest, numberOf(name) ?? 0), 0);
}

function sortFolders(
  names: readonly string[],
  find: (finding: Finding) => void,
): ReadonlyMap<number, readonly string[]> {
  const folders = new Map<number, readonly string[]>();
  for (const name of names) {
    const number = numberOf(name);
    if (number === undefined)
      find({ what: 'added', part: 'log', file: inEntries(name), text: 'No entry has such a name.' });
    else folders.set(number, [...(folders.get(number) ?? []), name]);
  }
  return folders;
}

async function lookAtTop(
  files: LogbookFiles,
  isLocked: boolean,
  find: (finding: Finding) => void,
  notes: string[],
): Promise<void> {
  const names = files.top();
  const own: readonly string[] = [NAMES.readme, NAMES.log, NAMES.entries];
  for (const name of names) {
    if (name.startsWith(PART))
      notes.push(`${name} does not count: it is being written, or its writer was stopped.`);
    else if (name !== NAMES.lock && !own.includes(name)) {
      find({ what: 'added', part: 'log', file: name, text: 'Nothing of that name belongs to a logbook.' });
    }
  }
  // Whoever is stopped while beginning a logbook leaves less than all of it.
  const isBeginning = isLocked && !names.includes(NAMES.log);
  for (const name of own) {
    if (names.includes(name) || isBeginning) continue;
    find({ what: 'missing', part: 'log', file: name, text: 'It is not there.' });
  }
  if (!names.includes(NAMES.readme)) return;
  const readme = await files.small(NAMES.readme);
  if (readme?.toString('utf8') === README) return;
  find({
    what: 'changed',
    part: 'log',
    file: NAMES.readme,
    text: 'It is not the text that stands in every logbook.',
  });
}

/** What is wrong with the lines of the log as such. */
function tellLines(
  survey: LineSurvey,
  size: number,
  isUnderWay: boolean,
  find: (finding: Finding) => void,
): void {
  const tell = (what: Finding['what'], text: string, entry?: number): void => {
    find({ what, part: 'log', ...(entry === undefined ? {} : { entry }), file: NAMES.log, text });
  };
  if (survey.count < size && !isUnderWay) {
    tell(
      'truncated',
      `It ends after line ${String(survey.count)}; lines ${String(survey.count + 1)} to ${String(size)} are missing.`,
      survey.count + 1,
    );
  } else if (survey.hasRest && !isUnderWay)
    tell('changed', `Something follows its last line, ${String(survey.count)}.`);
  if (survey.isInOrder) return;
  for (const number of survey.moved)
    tell('reordered', `The line of entry ${String(number)} stands elsewhere.`, number);
  for (const number of survey.twice) tell('added', `There are two lines of entry ${String(number)}.`, number);
  for (let number = 1; number <= survey.count; number += 1) {
    if (survey.byNumber.has(number)) continue;
    if (survey.unclear.includes(number))
      tell('changed', `The line of entry ${String(number)} is not as it was written.`, number);
    else tell('missing', `The line of entry ${String(number)} is not there.`, number);
  }
  for (const place of survey.unclear) {
    if (place > survey.count || survey.byNumber.has(place))
      tell('added', `Line ${String(place)} is none of the log's.`);
  }
}

/** Gives the line of each entry, asked for in order. */
function lineReader(files: LogbookFiles, survey: LineSurvey): (number: number) => string | undefined {
  if (!survey.isInOrder) return (number) => survey.byNumber.get(number);
  const lines = files.lines()[Symbol.iterator]();
  return (number) => {
    if (number > survey.count) return undefined;
    const next = lines.next();
    return next.done === true ? undefined : wholeLine(next.value);
  };
}

async function lookAtEntry(
  files: LogbookFiles,
  number: number,
  names: readonly string[],
  line: string | undefined,
  find: (finding: Finding) => void,
): Promise<Seen> {
  const told = line === undefined ? undefined : parseLine(line);
  const tell = (what: Finding['what'], file: string, text: string): void => {
    find({ what, part: 'log', entry: number, file: inEntries(file), text });
  };
  let seen: Seen = {
    number,
    folder: undefined,
    entry: undefined,
    leaf: undefined,
    line,
    lineLeaf: told?.leaf,
  };
  for (const folder of names) {
    const data = await files.small(inEntries(folder, NAMES.entry));
    const one = { ...seen, folder, entry: data && parseEntry(data), leaf: data && entryLeaf(data) };
    // Of two with one number, the one that its line tells of.
    if (seen.folder === undefined || (seen.leaf !== told?.leaf && one.leaf === told?.leaf)) seen = one;
  }
  const { folder, entry } = seen;
  if (folder === undefined) {
    tell('missing', told?.folder ?? String(number).padStart(6, '0'), 'The entry is not there.');
    return seen;
  }
  for (const other of names)
    if (other !== folder) tell('added', other, `Another entry has the number ${String(number)}.`);
  const inside = files.inside(folder);
  if (inside === undefined) {
    tell('changed', folder, 'It is no folder.');
    return seen;
  }
  if (!inside.includes(NAMES.entry)) tell('missing', `${folder}/${NAMES.entry}`, 'It is not there.');
  else if (entry === undefined)
    tell('changed', `${folder}/${NAMES.entry}`, 'It is no entry as stillband writes them.');
  else if (entry.number !== number) tell('reordered', folder, `Entry ${String(entry.number)} lies there.`);
  else if (folderOf(entry) !== folder) tell('renamed', folder, `Its name should be ${folderOf(entry)}.`);
  await lookAtContent(files, seen, folder, inside, find);
  return seen;
}

/** The files beside `entry.json`. Where that cannot be read, photos still carry their hashes as names. */
async function lookAtContent(
  files: LogbookFiles,
  { number, entry }: Seen,
  folder: string,
  inside: readonly string[],
  find: (finding: Finding) => void,
): Promise<void> {
  const tell = (what: Finding['what'], name: string, text: string): void => {
    const part = name === NAMES.reading ? 'log' : 'photos';
    find({ what, part, entry: number, file: inEntries(folder, name), text });
  };
  const expected = new Map<string, { readonly sha256: string; readonly bytes: number }>();
  if (entry?.reading !== undefined) expected.set(NAMES.reading, entry.reading);
  for (const { file, bytes } of entry?.photos ?? []) expected.set(file, { sha256: file.slice(0, 64), bytes });
  const others = inside.filter((name) => name !== NAMES.entry && !expected.has(name));
  const renamed = new Set<string>();
  for (const name of others) {
    const sum = await files.sum(inEntries(folder, name));
    const own = [...expected].find(
      ([known, { sha256 }]) => sha256 === sum?.sha256 && !inside.includes(known),
    )?.[0];
    if (own !== undefined) {
      renamed.add(own);
      tell('renamed', name, `It is ${own}.`);
    } else if (entry !== undefined) tell('added', name, 'The entry does not name it.');
    else if (/^[0-9a-f]{64}\./.test(name) && sum?.sha256 !== name.slice(0, 64)) {
      tell('changed', name, 'Its bytes are not those that were saved.');
    }
  }
  for (const [name, { sha256, bytes }] of expected) {
    if (!inside.includes(name)) {
      if (!renamed.has(name)) tell('missing', name, 'It is not there.');
      continue;
    }
    const sum = await files.sum(inEntries(folder, name));
    if (sum === undefined) tell('changed', name, 'It is no file that can be read.');
    else if (sum.bytes !== bytes)
      tell('changed', name, `It is ${String(sum.bytes)} bytes long, and was ${String(bytes)}.`);
    else if (sum.sha256 !== sha256) tell('changed', name, 'Its bytes are not those that were saved.');
  }
}

/**
 * Follows the entries' hashes from the first to the last. What an entry's hash should be is told by its line, by the entry
 * after it, and by the root hash that this one or a head names; what agrees with the root is right, so that one change is
 * named alone and does not hide what follows.
 */
class Chain {
  readonly #heads: readonly Head[];
  readonly #find: (finding: Finding) => void;
  /** Over the hashes as they should be. */
  readonly #tree = new HashTree();
  #open: Seen | undefined;
  /** An earlier hash is not known, so that roots say nothing any more. */
  #isLost = false;
  readonly #verdicts = new Map<Head, HeadVerdict['state']>();
  /** The largest size at which a head fits. */
  #fitsUpTo = 0;

  constructor(heads: readonly Head[], find: (finding: Finding) => void) {
    this.#heads = heads;
    this.#find = find;
    this.#holdHeads(0);
  }

  add(seen: Seen): void {
    this.#settle(seen);
    this.#open = seen;
  }

  end(): { readonly head: Head; readonly verdicts: readonly HeadVerdict[] } {
    this.#settle(undefined);
    const verdicts = this.#heads.map((head) => ({
      head: formatHead(head),
      state: this.#verdicts.get(head) ?? 'log-shorter',
    }));
    return { head: { size: this.#tree.size, root: this.#tree.root() }, verdicts };
  }

  /** Settles the entry before; the one after it says what it was. */
  #settle(next: Seen | undefined): void {
    const one = this.#open;
    if (one === undefined) return;
    const { number, leaf, lineLeaf } = one;
    const said = next?.entry?.number === number + 1 ? next.entry.before : undefined;
    const roots = this.#heads.filter(({ size }) => size === number).map(({ root }) => root);
    if (said !== undefined) roots.push(said.root);
    const candidates = [leaf, lineLeaf, said?.last].filter((some) => some !== undefined);
    const fitting = this.#isLost
      ? undefined
      : candidates.find((some) => roots.includes(this.#rootWith(some)));
    // Without a root, what two of the three say; else what lies there.
    const right = fitting ?? candidates.find((some, i) => candidates.indexOf(some) !== i) ?? candidates[0];
    if (leaf !== undefined && leaf !== right) {
      this.#tellEntry(
        'changed',
        one,
        'It is not what was written: neither its line nor what follows leads to it.',
      );
    }
    this.#tellLine(one, right);
    const saysRoot =
      said !== undefined && !this.#isLost && (right === undefined || this.#rootWith(right) === said.root);
    const saysLast = said === undefined || said.last === right;
    if (next !== undefined && said !== undefined && !this.#isLost && !(saysRoot && saysLast)) {
      this.#tellEntry(
        'changed',
        next,
        `What it says of the entries before it does not fit: it was changed, or entry ${String(number)} together with its line.`,
      );
      if (!saysLast && fitting === undefined) {
        this.#tellEntry(
          'changed',
          one,
          `Entry ${String(number + 1)} says that it was another: it was changed together with its line, or that one was.`,
        );
      }
    }
    if (right === undefined) this.#isLost = true;
    // Any hash keeps the count; roots are not asked any more.
    this.#tree.append(Buffer.from(right ?? '00'.repeat(32), 'hex'));
    if (fitting === undefined && said !== undefined && !saysRoot && !saysLast) this.#isLost = true;
    this.#holdHeads(number);
  }

  #rootWith(leaf: string): string {
    return this.#tree.rootWith(Buffer.from(leaf, 'hex'));
  }

  #holdHeads(size: number): void {
    for (const head of this.#heads) {
      if (head.size !== size) continue;
      const fits = !this.#isLost && this.#tree.root() === head.root;
      this.#verdicts.set(head, fits ? 'fits' : 'differs');
      if (fits) this.#fitsUpTo = Math.max(this.#fitsUpTo, size);
      else {
        const from = this.#fitsUpTo + 1;
        const which =
          from >= size
            ? `entry ${String(size)} was changed`
            : `entry ${String(size)} was changed, or several were written anew from one between ${String(from)} and ${String(size)} on`;
        this.#find({
          what: 'rewritten',
          part: 'log',
          entry: size,
          file: NAMES.log,
          text: `The log does not lead to the head of ${String(size)} entries: ${which}.`,
        });
      }
    }
  }

  #tellEntry(what: Finding['what'], { number, folder }: Seen, text: string): void {
    this.#find({
      what,
      part: 'log',
      entry: number,
      file: inEntries(folder ?? String(number).padStart(6, '0'), NAMES.entry),
      text,
    });
  }

  #tellLine({ number, entry, leaf, line, lineLeaf }: Seen, right: string | undefined): void {
    if (line === undefined) return;
    const isRight =
      entry !== undefined && leaf === right ? lineOf(entry, leaf ?? '') === line : lineLeaf === right;
    if (isRight) return;
    this.#find({
      what: 'changed',
      part: 'log',
      entry: number,
      file: NAMES.log,
      text: `The line of entry ${String(number)} is not what the entry says.`,
    });
  }
}
