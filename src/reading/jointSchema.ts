import { z } from 'zod';
import { parseStored, readingSchema, secondRinging, type Reading } from './schema.js';
import { WARNING_CODES } from './warnings.js';

const { versions, spacingCheck, nullFit, budget, proposal } = readingSchema.shape;
const estimate = z.strictObject({ value: z.number(), sd: z.number().nonnegative() });

/** The complete result of several photos of one axis, schema `stillband/joint-reading@1`. */
export const jointReadingSchema = z
  .strictObject({
    schema: z.literal('stillband/joint-reading@1'),
    versions,
    photos: z
      .array(
        z.strictObject({
          use: z
            // Criteria in `band/decideTogether.ts`.
            .enum(['used', 'refused', 'odd-one-out'])
            .describe('Fitted together; refused by itself; or left out because it contradicts the others'),
          reading: readingSchema.describe('The photo by itself'),
        }),
      )
      .describe('In the order given'),
    ringing: z
      .strictObject({
        frequencyHz: estimate,
        dampingRatio: estimate,
        signalToNoise: z
          .number()
          .describe('Of the photos put together, or of their ratios the root of the sum of squares'),
        second: secondRinging.optional(),
      })
      .optional()
      .describe('Damped frequency and damping ratio of the photos that are used, fitted together'),
    lamps: z
      .strictObject({
        gains: z
          .array(z.number())
          .describe(
            'How strongly each used photo shows the ripples, as a share of the first; negative: the other way round',
          ),
        signalToNoise: z.strictObject({ alone: z.number(), together: z.number() }),
      })
      .optional()
      .describe('Photos between which only the lamp was moved, put together before they were fitted'),
    spacingCheck,
    nullFit,
    budget,
    proposal,
    warnings: z.array(
      z.strictObject({
        code: z.enum(WARNING_CODES),
        text: z.string(),
        photos: z.array(z.int().nonnegative()).describe('Which of the photos it is about, from 0'),
      }),
    ),
  })
  .describe('Complete result of several photos of one axis, measured together');

/** The complete result of several photos. */
export type JointReading = z.infer<typeof jointReadingSchema>;

/** A result of one photo or of several. */
export type AnyReading = Reading | JointReading;

/**
 * Reads a stored result back, of one photo or of several.
 * @param text - JSON text.
 * @returns The result, checked against its schema.
 * @throws {InputError} `record-not-json` or `record-field`.
 */
export function parseAnyReading(text: string): AnyReading {
  return parseStored<AnyReading>(text, schemaFor);
}

/**
 * Takes a stored result for what it is.
 * @param stored - What stood in a logbook's JSON.
 * @returns The result; undefined where it has not the form of this version.
 */
export function anyReadingOf(stored: unknown): AnyReading | undefined {
  const name =
    typeof stored === 'object' && stored !== null && 'schema' in stored ? stored.schema : undefined;
  return schemaFor(name).safeParse(stored).data;
}

function schemaFor(name: unknown): z.ZodType<AnyReading> {
  return name === 'stillband/joint-reading@1' ? jointReadingSchema : readingSchema;
}
