import { createReadStream, createWriteStream } from 'node:fs';
import { pipeline } from 'node:stream/promises';
import {
  examineJob,
  jobSections,
  planWeave,
  readOptions,
  recordToFill,
  recordToWeave,
  weave,
  weaveOptions,
  weaveSections,
  type JobSections,
  type JobTexts,
  type WeavePlan,
} from '../index.js';
import { PRIVATE_MODE } from './jobFiles.js';

/** What is told of a job file. */
export interface JobTelling {
  /** A print record as JSON text; absent: none was sent. */
  readonly record?: string;
  /** Arguments of the record's flags by option name. */
  readonly fields: JobTexts;
  /** What was typed beside, by option name. */
  readonly texts: JobTexts;
}

/** What is done with a job file that was sent. */
export interface JobFileTask extends JobTelling {
  /** Where it lies. */
  readonly path: string;
}

/** A job that was read. */
export interface JobShown {
  readonly sections: JobSections;
  /** The print record with what the job tells filled in, as the command writes it. */
  readonly recordFile: string;
}

/** What would be put into a job. */
export interface WeaveShown {
  readonly count: number;
  readonly sections: ReturnType<typeof weaveSections>;
}

const CHUNK_BYTES = 256 * 1024;

/** Opened when the first piece is asked for, and closed however reading ends. */
async function* chunksOf(path: string): AsyncGenerator<Uint8Array> {
  yield* createReadStream(path, { highWaterMark: CHUNK_BYTES }) as AsyncIterable<Uint8Array>;
}

/**
 * Reads a job file.
 * @param task - Where it is, and what is told.
 * @returns What it commands.
 * @throws {InputError} As `recordToFill`, `readOptions` and `examineJob`.
 */
export async function readJobFile({ path, record, fields, texts }: JobFileTask): Promise<JobShown> {
  const asked = readOptions(texts);
  const reading = await examineJob(chunksOf(path), recordToFill(record, fields), asked);
  return {
    sections: jobSections(reading),
    recordFile: `${JSON.stringify(reading.record.fields, null, 2)}\n`,
  };
}

/**
 * Finds what would be put into a job file.
 * @param task - Where it is, and what is told.
 * @returns Which lines, in words.
 * @throws {InputError} As `recordToWeave`, `weaveOptions` and `planWeave`.
 */
export async function planJobFile(task: JobFileTask): Promise<WeaveShown> {
  const plan = await planned(task);
  return { count: plan.insertions.length, sections: weaveSections(plan) };
}

/**
 * Puts lines into a copy of a job file.
 * @param task - Where it is, what is told, and where the copy goes, which is not there yet.
 * @throws {InputError} As `planJobFile`.
 */
export async function weaveJobFile(task: JobFileTask & { readonly copy: string }): Promise<void> {
  const plan = await planned(task);
  const copy = createWriteStream(task.copy, { flags: 'wx', mode: PRIVATE_MODE });
  await pipeline(weave(chunksOf(task.path), plan), copy);
}

function planned({ path, record, fields, texts }: JobFileTask): Promise<WeavePlan> {
  const told = weaveOptions(texts);
  const template = texts['template'] ?? '';
  return planWeave(chunksOf(path), { record: recordToWeave(record, fields), template, ...told });
}
