import { z } from 'zod';
import { readingSchema } from './schema.js';

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
      .strictObject({ frequencyHz: estimate, dampingRatio: estimate })
      .optional()
      .describe('Damped frequency and damping ratio of the photos that are used, fitted together'),
    spacingCheck,
    nullFit,
    budget,
    proposal,
  })
  .describe('Complete result of several photos of one axis, measured together');

/** The complete result of several photos. */
export type JointReading = z.infer<typeof jointReadingSchema>;
