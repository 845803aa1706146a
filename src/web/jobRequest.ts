import { z } from 'zod';
import { InputError, optionName, RECORD_FLAGS } from '../index.js';
import { invalid } from './problem.js';

const corner = z.tuple([z.number(), z.number()]).nullable();
const corners = z.tuple([corner, corner, corner, corner]);

/** What the page asks for. */
const jobSchema = z.strictObject({
  kind: z.enum(['check', 'measure']),
  photos: z.array(z.string().max(64)).min(1).max(12),
  /** Arguments of the print record's flags by option name, as typed; an empty one is not told. */
  fields: z.record(z.string().max(40), z.string().max(4000)).default({}),
  record: z.record(z.string(), z.unknown()).optional(),
  /** For all photos, and for one photo by its name. */
  cornersPx: corners.optional(),
  cornersOf: z.record(z.string().max(64), corners).optional(),
  spacingOnly: z.boolean().default(false),
  was: z.string().max(60).optional(),
  cameraStill: z.boolean().default(false),
  penHeightMm: z.number().optional(),
});

/** What the page asks for, checked. */
export type JobRequest = z.infer<typeof jobSchema>;

const recordSchema = jobSchema.pick({ fields: true, record: true, spacingOnly: true });

/** What a print record is made of, checked. */
export type RecordRequest = z.infer<typeof recordSchema>;

const saveSchema = z.strictObject({
  note: z.string().max(4000).optional(),
  changed: z.array(z.string().max(200)).max(40).optional(),
  keepPosition: z.boolean().default(false),
});

/** How a result is to be saved. */
export type SaveRequest = z.infer<typeof saveSchema>;

/**
 * Reads what a job is asked to do.
 * @param body - The request's body.
 * @returns It, checked.
 * @throws {WebProblem} `request-invalid`.
 * @throws {InputError} `usage` for a field that no print record has.
 */
export function readJobRequest(body: unknown): JobRequest {
  const job = read(jobSchema, body);
  expectKnown(job.fields);
  return job;
}

/**
 * Reads what a print record is to be made of.
 * @param body - The request's body.
 * @returns It, checked.
 * @throws {WebProblem} `request-invalid`.
 * @throws {InputError} `usage` for a field that no print record has.
 */
export function readRecordRequest(body: unknown): RecordRequest {
  const asked = read(recordSchema, body);
  expectKnown(asked.fields);
  return asked;
}

/**
 * Reads how a result is to be saved.
 * @param body - The request's body.
 * @returns It, checked.
 * @throws {WebProblem} `request-invalid`.
 */
export function readSaveRequest(body: unknown): SaveRequest {
  return read(saveSchema, body ?? {});
}

/**
 * The fields of the print record for one photo, as the command line would be given them.
 * @param job - What is asked for.
 * @param photo - The photo's name.
 * @returns Arguments by option name.
 */
export function fieldsFor(job: JobRequest, photo: string): Record<string, string> {
  const told = Object.entries(job.fields).filter(([, text]) => text.trim() !== '');
  const clicked = job.cornersOf?.[photo] ?? job.cornersPx;
  return {
    ...Object.fromEntries(told),
    // Written so that reading gives the very same number.
    ...(clicked === undefined
      ? {}
      : { face: clicked.map((at) => (at === null ? '-' : at.map(String).join(','))).join(' ') }),
    ...(job.penHeightMm === undefined ? {} : { penHeight: String(job.penHeightMm) }),
  };
}

function read<T>(schema: z.ZodType<T>, body: unknown): T {
  const { success, data, error } = schema.safeParse(body);
  if (success) return data;
  const [issue] = error.issues;
  const where = issue?.path.join('.') ?? '';
  throw invalid(`The request cannot be understood${where === '' ? '' : ` at "${where.slice(0, 80)}"`}.`);
}

function expectKnown(fields: JobRequest['fields']): void {
  const known = new Set(RECORD_FLAGS.map(({ flag }) => optionName(flag)));
  const unknown = Object.keys(fields).find((name) => !known.has(name));
  if (unknown === undefined) return;
  throw new InputError(
    'usage',
    `The print record has no field "${unknown}".`,
    'Leave it away, or give it the name of the flag that it has on the command line.',
  );
}
