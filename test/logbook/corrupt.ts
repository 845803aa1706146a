import { createHash } from 'node:crypto';
import {
  cpSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { canonicalJson } from '../../src/logbook/canonical.js';
import { entryLeaf, type Entry } from '../../src/logbook/entry.js';
import { folderOf, lineOf } from '../../src/logbook/entryLine.js';
import { HashTree } from '../../src/logbook/hashTree.js';
import type { Verification } from '../../src/logbook/verify.js';

/** What was done to a logbook, and what a look at it has to name. */
export interface Corruption {
  readonly kind: string;
  /** One finding must be about one of these files or, where it is `log.jsonl`, of these entries. */
  readonly files: readonly string[];
  readonly entries: readonly number[];
  readonly undo: () => void;
}

/** A repeatable sequence of numbers, 0 to 1: mulberry32 (public domain). */
export function randomOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

/**
 * Does one random thing to a logbook.
 * @param folder - The logbook.
 * @param seed - Which thing.
 * @returns What was done, and how to undo it.
 */
export function corrupt(folder: string, seed: number): Corruption {
  const random = randomOf(seed);
  const below = (n: number): number => Math.floor(random() * n);
  const folders = readdirSync(join(folder, 'entries')).sort();
  const size = folders.length;
  const undos: (() => void)[] = [];
  const undo = (): void => {
    for (const one of undos.reverse()) one();
  };
  const at = (...names: readonly string[]): string => join(folder, ...names);
  const keep = (path: string): Buffer => {
    const bytes = readFileSync(path);
    undos.push(() => {
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, bytes);
    });
    return bytes;
  };
  const move = (from: string, to: string): void => {
    renameSync(from, to);
    undos.push(() => {
      renameSync(to, from);
    });
  };
  const name = (number: number): string => folders[number - 1]!;
  const any = (): number => 1 + below(size);
  const inside = (number: number): string[] => readdirSync(at('entries', name(number)));
  const anyFile = (): string => {
    const which = below(6);
    if (which === 0) return 'log.jsonl';
    if (which === 1 && below(4) === 0) return 'README.txt';
    const number = any();
    const files = inside(number);
    return `entries/${name(number)}/${files[below(files.length)]!}`;
  };
  const numberIn = (file: string): number[] =>
    file.startsWith('entries/') ? [Number(file.slice(8, 14))] : [];
  /** Entries whose lines lie around a place of the log. */
  const linesAt = (bytes: Buffer, place: number): number[] => {
    const line = bytes.subarray(0, place).toString('latin1').split('\n').length;
    return [line, line + 1, line - 1];
  };

  switch (below(16)) {
    case 0:
    case 1: {
      const file = anyFile();
      const bytes = Buffer.from(keep(at(file)));
      const place = below(bytes.length);
      const around = file === 'log.jsonl' ? linesAt(bytes, place) : numberIn(file);
      bytes[place]! ^= 1 << below(8);
      writeFileSync(at(file), bytes);
      return { kind: 'bit flip', files: [file], entries: around, undo };
    }
    case 2: {
      const file = anyFile();
      const bytes = keep(at(file));
      const cut = below(bytes.length);
      truncateSync(at(file), cut);
      return {
        kind: 'file cut',
        files: [file],
        entries: file === 'log.jsonl' ? linesAt(bytes, cut) : numberIn(file),
        undo,
      };
    }
    case 3: {
      const file = anyFile();
      keep(at(file));
      rmSync(at(file));
      return { kind: 'file deleted', files: [file], entries: numberIn(file), undo };
    }
    case 4: {
      const number = any();
      move(at('entries', name(number)), `${folder}-aside`);
      return { kind: 'entry deleted', files: [`entries/${name(number)}`], entries: [number], undo };
    }
    case 5: {
      const [a, b] = [any(), any()];
      if (a === b) return corrupt(folder, seed + 1_000_000);
      move(at('entries', name(a)), `${folder}-aside`);
      move(at('entries', name(b)), at('entries', name(a)));
      move(`${folder}-aside`, at('entries', name(b)));
      return { kind: 'entries swapped', files: [`entries/${name(a)}`], entries: [a], undo };
    }
    case 6: {
      const lines = keep(at('log.jsonl')).toString().split('\n').slice(0, -1);
      const [a, b] = [below(size), below(size)];
      if (a === b) return corrupt(folder, seed + 1_000_000);
      [lines[a], lines[b]] = [lines[b]!, lines[a]!];
      writeFileSync(at('log.jsonl'), `${lines.join('\n')}\n`);
      return { kind: 'lines swapped', files: [], entries: [a + 1, b + 1], undo };
    }
    case 7: {
      const [a, b] = [any(), any()];
      const [fa, fb] = [a, b].map((number) =>
        inside(number).find((file) => file !== 'entry.json' && file !== 'reading.json'),
      );
      if (a === b || fa === undefined || fb === undefined) return corrupt(folder, seed + 1_000_000);
      const [pa, pb] = [`entries/${name(a)}/${fa}`, `entries/${name(b)}/${fb}`];
      const [ba, bb] = [keep(at(pa)), keep(at(pb))];
      writeFileSync(at(pa), bb);
      writeFileSync(at(pb), ba);
      return { kind: 'photos swapped', files: [pa], entries: [a], undo };
    }
    case 8: {
      // Cut cleanly: the last entries and their lines.
      const left = below(size);
      const lines = keep(at('log.jsonl')).toString().split('\n').slice(0, left);
      writeFileSync(at('log.jsonl'), lines.map((line) => `${line}\n`).join(''));
      mkdirSync(`${folder}-aside`);
      undos.push(() => {
        rmSync(`${folder}-aside`, { recursive: true });
      });
      for (let number = left + 1; number <= size; number += 1)
        move(at('entries', name(number)), join(`${folder}-aside`, name(number)));
      return { kind: 'log cut at its end', files: [], entries: [left + 1], undo };
    }
    case 9: {
      const number = any();
      const to =
        below(2) === 0
          ? `${name(number)}-x`
          : String(below(2 * size) + 1).padStart(6, '0') + name(number).slice(6);
      if (existsSync(at('entries', to))) return corrupt(folder, seed + 1_000_000);
      move(at('entries', name(number)), at('entries', to));
      return { kind: 'entry renamed', files: [`entries/${name(number)}`], entries: [number], undo };
    }
    case 10: {
      const number = any();
      const files = inside(number);
      const file = files[below(files.length)]!;
      const to = ['x.jpg', 'READING.JSON', '0'.repeat(64) + '.jpg'][below(3)]!;
      move(at('entries', name(number), file), at('entries', name(number), to));
      return {
        kind: 'file renamed',
        files: [`entries/${name(number)}/${to}`, `entries/${name(number)}/${file}`],
        entries: [number],
        undo,
      };
    }
    case 11: {
      const places = ['new.txt', 'entries/new', `entries/${name(any())}/new.jpg`, 'photos'];
      const file = places[below(places.length)]!;
      writeFileSync(at(file), 'new');
      undos.push(() => {
        rmSync(at(file));
      });
      return { kind: 'file added', files: [file], entries: numberIn(file), undo };
    }
    case 12: {
      const number = any();
      const copy = `${String(below(2) === 0 ? number : size + 1).padStart(6, '0')}-copy`;
      cpSync(at('entries', name(number)), at('entries', copy), { recursive: true });
      undos.push(() => {
        rmSync(at('entries', copy), { recursive: true });
      });
      return { kind: 'entry copied', files: [`entries/${copy}`], entries: [number, size + 1], undo };
    }
    case 13: {
      const lines = keep(at('log.jsonl')).toString().split('\n').slice(0, -1);
      const place = below(size);
      if (below(2) === 0) lines.splice(place, 1);
      else lines.splice(place, 0, lines[below(size)]!);
      writeFileSync(at('log.jsonl'), `${lines.join('\n')}\n`);
      return { kind: 'line taken out or put in', files: ['log.jsonl'], entries: [], undo };
    }
    default: {
      // Somebody who knows how it is made edits an entry and puts all sums that lie beside it right again.
      const number = any();
      const path = at('entries', name(number), 'entry.json');
      const entry = JSON.parse(keep(path).toString()) as Entry;
      const lines = keep(at('log.jsonl')).toString().split('\n');
      const readingPath = at('entries', name(number), 'reading.json');
      let edited: Entry = {
        ...entry,
        ...[{ machine: 'another' }, { note: 'all well' }, { savedAt: '2020-01-01T00:00:00Z' }][below(3)],
      };
      if (entry.reading !== undefined && below(2) === 0) {
        const reading = keep(readingPath).toString().replace('"axis":"Y"', '"axis":"X"');
        writeFileSync(readingPath, reading);
        const sha256 = createHash('sha256').update(reading).digest('hex');
        edited = { ...entry, reading: { sha256, bytes: Buffer.byteLength(reading) } };
      }
      const bytes = Buffer.from(canonicalJson(edited));
      writeFileSync(path, bytes);
      lines[number - 1] = lineOf(edited, entryLeaf(bytes));
      if (folderOf(edited) !== name(number))
        move(at('entries', name(number)), at('entries', folderOf(edited)));
      // And perhaps of every entry after it too: then only a head kept elsewhere can tell.
      const all = below(3) === 0;
      if (all) rewriteFrom(number + 1, lines);
      writeFileSync(at('log.jsonl'), lines.join('\n'));
      return {
        kind: all ? 'all rewritten from an entry on' : 'edited, with its sums',
        files: [],
        entries: all ? [size] : [number],
        undo,
      };
    }
  }

  function rewriteFrom(first: number, lines: string[]): void {
    const tree = new HashTree();
    const leafOf = (number: number): string => (JSON.parse(lines[number - 1]!) as { leaf: string }).leaf;
    for (let number = 1; number < first; number += 1) tree.append(Buffer.from(leafOf(number), 'hex'));
    for (let number = first; number <= size; number += 1) {
      const path = at('entries', name(number), 'entry.json');
      const entry = JSON.parse(keep(path).toString()) as Entry;
      const bytes = Buffer.from(
        canonicalJson({ ...entry, before: { root: tree.root(), last: leafOf(number - 1) } }),
      );
      writeFileSync(path, bytes);
      lines[number - 1] = lineOf(entry, entryLeaf(bytes));
      tree.append(Buffer.from(entryLeaf(bytes), 'hex'));
    }
  }
}

/**
 * What lies in a folder, to see whether it was left as it was.
 * @param folder - The folder.
 * @returns A hash over all names and bytes.
 */
export function fingerprint(folder: string): string {
  const hash = createHash('sha256');
  for (const name of readdirSync(folder, { recursive: true }).map(String).sort()) {
    hash.update(name);
    const path = join(folder, name);
    if (statSync(path).isFile()) hash.update(readFileSync(path));
  }
  return hash.digest('hex');
}

/**
 * Whether what was done is among what is named.
 * @param done - What was done.
 * @param verification - What was named.
 * @returns True when it is.
 */
export function isNamed({ files, entries }: Corruption, { findings }: Verification): boolean {
  return findings.some(
    ({ file, entry }) =>
      files.some((one) => file === one || file.startsWith(`${one}/`)) ||
      (entry !== undefined && entries.includes(entry)),
  );
}
