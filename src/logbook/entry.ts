import { z } from 'zod';
import { canonicalJson, jsonOf } from './canonical.js';
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

const result = z.strictObject({
  state: z.string(),
  frequencyHz: interval.optional(),
  reason: z.string().optional(),
  quietUpToMmPerS2: z.number().optional(),
});

const ofPair = z.strictObject({
  axis: z.string(),
  number: z.int().positive().describe('The entry of the reading'),
  leaf: sha256.describe("That entry's hash as a leaf of the tree"),
  result,
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
  kind: z.enum(['reading', 'joint-reading', 'pair', 'note']),
  savedAt: z.string().describe("By the computer's clock, UTC"),
  takenOn: z
    .string()
    .optional()
    .describe(
      "Day of the first photo by the camera's clock, ISO 8601; absent where its file does not say it",
    ),
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
  pair: z
    .strictObject({
      axes: z
        .tuple([ofPair, ofPair])
        .describe('The two readings, by the names of their axes from left to right'),
      exchanged: z
        .boolean()
        .describe(
          "Both fit the machine's history better the other way round: perhaps one was taken for the other",
        ),
    })
    .optional()
    .describe('Two readings of one machine, of one axis each'),
  result: result.optional().describe('The verdict of the reading, for lists'),
});

/** One entry of a logbook. */
export type Entry = z.infer<typeof entrySchema>;

/** The verdict of a reading as an entry keeps it. */
export type EntryResult = NonNullable<Entry['result']>;

/** A photo as an entry knows it. */
export type EntryPhoto = NonNullable<Entry['photos']>[number];

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
