import { z } from 'zod';
import { REFUSAL_REASONS } from '../core/outcome.js';
import { readingSchema } from './schema.js';

const { versions, search, face, layerLines, scales, warnings, photos } = readingSchema.shape;
const criterion = z.strictObject({ quantity: z.string(), value: z.number(), limit: z.number() }).optional();

/** What a photo is good for before its ripples are measured, schema `stillband/photo-check@1`. */
export const photoCheckSchema = z
  .strictObject({
    schema: z.literal('stillband/photo-check@1'),
    versions,
    photo: photos.element,
    printTold: z
      .boolean()
      .describe('A print record was given; without one, size and speed of the print are not known'),
    verdict: z.discriminatedUnion('state', [
      z.strictObject({
        state: z.literal('will-do').describe('Nothing of the photo stands in the way of a measurement'),
      }),
      z.strictObject({
        state: z.literal('doubtful').describe('Ripples may be too faint in this photo; clear ones will show'),
        reason: z.enum(REFUSAL_REASONS),
        criterion,
      }),
      z.strictObject({
        state: z.literal('will-not-do').describe('A measurement would be refused'),
        reason: z.enum(REFUSAL_REASONS),
        criterion,
      }),
    ]),
    hint: z
      .string()
      .optional()
      .describe('The one change that would help most; absent where nothing is amiss'),
    search,
    face,
    layerLines,
    scales,
    notes: warnings.describe('What else is worth knowing, less the hint'),
  })
  .describe('Whether a photo will do, without measuring it');

/** What a photo is good for before its ripples are measured. */
export type PhotoCheck = z.infer<typeof photoCheckSchema>;
