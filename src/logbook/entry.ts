import { z } from 'zod';
import { canonicalJson } from './canonical.js';
import { leafHash } from './hashTree.js';

const sha256 = z.string().regex(/^[0-9a-f]{64}$/);
const interval = z.strictObject({
  value: z.number(),
  sd: z.number().nonnegative(),
  low95: z.number(),
  high95: z.number(),
});

const photo = z.strictObject({
  file: z
    .string()
    .regex(/^[0-9a-f]{64}\.[a-z]{3,4}$/)
    .describe("Name in the entry's folder: SHA-256 of the stored file, and what kind it is"),
  bytes: z.int().positive(),
  original: z
    .strictObject({ sha256, bytes: z.int().positive(), name: z.string().optional() })
    .describe('The file that was measured, before its position data was removed'),
  removed: z.array(z.string()).describe('What was removed from it, in words; empty where nothing was'),
});

/**
 * One entry of a logbook, schema `stillband/entry@1`. Its canonical bytes are a leaf of the log's hash tree; reading and
 * photos are in it by their hashes.
 */
export const entrySchema = z.strictObject({
  schema: z.literal('stillband/entry@1'),
  number: z.int().positive().describe('Place in the log, from 1; it does not depend on any clock'),
  before: z
    .strictObject({ root: sha256, last: sha256.optional() })
    .describe(
      'Root hash of all earlier entries, and the hash of the one just before; it is absent in the first',
    ),
  kind: z.enum(['reading', 'joint-reading', 'note']),
  savedAt: z.string().describe("By the computer's clock, UTC"),
  machine: z.string().optional(),
  axis: z.string().optional(),
  changed: z
    .array(z.string())
    .optional()
    .describe('What the user says was changed on the machine since before'),
  note: z.string().optional(),
  about: z.int().positive().optional().describe('The earlier entry that a note is about'),
  photos: z.array(photo).optional().describe('In the order in which they were measured'),
  reading: z
    .strictObject({ sha256, bytes: z.int().positive() })
    .optional()
    .describe('Of the file reading.json; no clock is in it, so that it can be measured again and compared'),
  asked: z
    .strictObject({
      spacingOnly: z.boolean().optional(),
      was: z.strictObject({ hz: z.number(), plusMinusHz: z.number().optional() }).optional(),
      cameraStill: z.boolean().optional(),
    })
    .optional()
    .describe('What the measurement was asked for beside the record'),
  result: z
    .strictObject({
      state: z.string(),
      frequencyHz: interval.optional(),
      reason: z.string().optional(),
      quietUpToMmPerS2: z.number().optional(),
    })
    .optional()
    .describe('The verdict of the reading, for lists'),
});

/** One entry of a logbook. */
export type Entry = z.infer<typeof entrySchema>;

/** A photo as an entry knows it. */
export type EntryPhoto = NonNullable<Entry['photos']>[number];

/** What a list tells of an entry; one line of `log.jsonl`. */
export type EntryLine = Pick<
  Entry,
  'number' | 'kind' | 'savedAt' | 'machine' | 'axis' | 'changed' | 'note' | 'about' | 'result'
> & {
  /** Hash of the entry as a leaf of the tree, hexadecimal. */
  readonly leaf: string;
  /** Name of its folder in `entries`. */
  readonly folder: string;
};

/** Longest name of a machine in a folder's name. */
const MOST_LETTERS = 40;

/**
 * The folder of an entry: `000012-2026-03-14-north-bench-3-Y`. It is for people; only the number counts.
 * @param entry - Of its content, what the name is made of.
 * @returns A name that every file system takes: letters a to z, digits and hyphens.
 */
export function folderOf(entry: Pick<Entry, 'number' | 'savedAt' | 'kind' | 'machine' | 'axis'>): string {
  const parts = [entry.savedAt.slice(0, 10), entry.kind === 'note' ? 'note' : '', entry.machine, entry.axis];
  const words = parts.map((part) => plainWords(part ?? '')).filter((part) => part !== '');
  return [String(entry.number).padStart(6, '0'), ...words].join('-');
}

function plainWords(text: string): string {
  return text
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .replaceAll(/[^A-Za-z0-9]+/g, '-')
    .replaceAll(/^-+|-+$/g, '')
    .slice(0, MOST_LETTERS)
    .replace(/-$/, '');
}

/**
 * The entry's line of `log.jsonl`, without its end.
 * @param entry - The entry.
 * @param leaf - Its leaf hash, hexadecimal.
 * @returns Canonical JSON.
 */
export function lineOf(entry: Entry, leaf: string): string {
  const { number, kind, savedAt, machine, axis, changed, note, about, result } = entry;
  const line: EntryLine = {
    leaf,
    folder: folderOf(entry),
    number,
    kind,
    savedAt,
    ...(machine === undefined ? {} : { machine }),
    ...(axis === undefined ? {} : { axis }),
    ...(changed === undefined ? {} : { changed }),
    ...(note === undefined ? {} : { note }),
    ...(about === undefined ? {} : { about }),
    ...(result === undefined ? {} : { result }),
  };
  return canonicalJson(line);
}

/**
 * Reads an entry's file.
 * @param bytes - Content of `entry.json`.
 * @returns The entry, or undefined when it is none, or not in canonical form.
 */
export function parseEntry(bytes: Uint8Array): Entry | undefined {
  const text = Buffer.from(bytes).toString('utf8');
  const parsed = entrySchema.safeParse(jsonOf(text));
  return parsed.success && canonicalJson(parsed.data) === text ? parsed.data : undefined;
}

/**
 * The hash of an entry as a leaf of the log's tree.
 * @param bytes - Content of `entry.json`.
 * @returns 64 hexadecimal digits.
 */
export function entryLeaf(bytes: Uint8Array): string {
  return Buffer.from(leafHash(bytes)).toString('hex');
}

/**
 * Reads a line of `log.jsonl`.
 * @param text - The line.
 * @returns What it tells, or undefined when it is no such line.
 */
export function parseLine(text: string): EntryLine | undefined {
  const raw = jsonOf(text);
  if (typeof raw !== 'object' || raw === null) return undefined;
  const { leaf, folder, number } = raw as Readonly<Record<string, unknown>>;
  const isLine =
    typeof leaf === 'string' &&
    /^[0-9a-f]{64}$/.test(leaf) &&
    typeof folder === 'string' &&
    // It becomes part of a path.
    /^\d{6,9}[A-Za-z0-9-]*$/.test(folder) &&
    typeof number === 'number';
  return isLine ? (raw as EntryLine) : undefined;
}

function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
