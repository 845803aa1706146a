import { createReadStream, createWriteStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { finished, Transform, type Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { InputError } from '../../index.js';
import type { WebContext } from '../context.js';
import type { JobTelling } from '../jobFileTasks.js';
import { PRIVATE_MODE, type JobPlace } from '../jobFiles.js';
import { busy, invalid, toldOf, WebProblem } from '../problem.js';
import {
  JOB_ACTIONS,
  JOB_TEXTS,
  PRINT_FIELDS,
  weavePage,
  type JobAction,
  type WeaveParts,
} from '../weavePage.js';
import { attached } from './files.js';
import { expectLength, FORM_BYTES, nameOf, watchUpload } from './uploads.js';

/** A print record has some kilobytes. */
const MOST_RECORD_BYTES = 262_144;
const MOST_FIELD_LETTERS = 2_000;
const NOTHING: JobTelling = { fields: {}, texts: {} };

/** What a form says. */
interface Sent {
  readonly action: JobAction;
  readonly asked: JobTelling;
  /** Where the job file lies, and what its copy is called. */
  readonly job?: { readonly path: string; readonly copyName: string };
}

/**
 * Reading job files and weaving lines into copies of them, by the functions of the commands. A job file lies in a private
 * folder for as long as its answer takes.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function weaveRoutes(app: FastifyInstance, context: WebContext): void {
  const { limits, jobFiles } = context;

  app.get('/weave', (_, reply) => sendPage(reply, { asked: NOTHING }));

  app.post('/weave', async (request, reply) => {
    if (!request.isMultipart()) throw invalid('The job file does not come as a form.');
    if (expectLength(request) > limits.jobFileBytes + FORM_BYTES) throw tooLarge(limits.jobFileBytes);
    const place = await jobFiles.open();
    // The answer is sent, or whoever asked has gone.
    finished(reply.raw, () => void place.remove());
    try {
      return await answerTo(await receive(request, place, context), place, reply, context);
    } catch (error) {
      await place.remove();
      throw error;
    }
  });
}

async function answerTo(
  { action, asked, job }: Sent,
  place: JobPlace,
  reply: FastifyReply,
  { limits, workers }: WebContext,
): Promise<FastifyReply> {
  const late = AbortSignal.timeout(limits.jobFileMs);
  const how = { lane: 'short', signal: AbortSignal.any([place.signal, late]) } as const;
  try {
    if (job === undefined) {
      throw new InputError(
        'usage',
        'No job file is given.',
        'Choose the file that your machine prints.',
        'job',
      );
    }
    const task = { ...asked, path: job.path };
    if (action === 'weave') {
      const copy = place.newPath();
      await workers.run('weaveJob', { ...task, copy }, how);
      const { size } = await stat(copy);
      return await reply
        .headers({ ...attached(job.copyName), 'content-length': String(size) })
        .type('application/octet-stream')
        .send(createReadStream(copy));
    }
    const parts =
      action === 'read'
        ? { read: await workers.run('readJob', task, how) }
        : { planned: await workers.run('planJob', task, how) };
    await place.remove();
    return await sendPage(reply, { asked, ...parts });
  } catch (error) {
    if (place.signal.aborted) throw ended();
    if (late.aborted) throw tooLong();
    const { status, error: problem } = toldOf(error);
    if (status >= 500) throw noRoom(error) ? full() : error;
    await place.remove();
    return sendPage(reply.code(status), { asked, problem });
  }
}

/** Takes a form in: the job file to its place, the rest to memory. */
async function receive(request: FastifyRequest, place: JobPlace, { limits }: WebContext): Promise<Sent> {
  const stalled = watchUpload(request, limits.stallMs);
  const fields: Record<string, string> = {};
  const texts: Record<string, string> = {};
  let action: JobAction = 'read';
  let record: string | undefined;
  let job: Sent['job'];
  try {
    const parts = request.parts({
      limits: {
        files: 2,
        fileSize: limits.jobFileBytes,
        fieldSize: MOST_RECORD_BYTES,
        fields: PRINT_FIELDS.length + JOB_TEXTS.length + 8,
        headerPairs: 20,
      },
    });
    for await (const part of parts) {
      stalled.refresh();
      const { fieldname: name } = part;
      if (part.type === 'file') {
        if (name === 'job' && job !== undefined) throw invalid('Two job files are sent.');
        if (name !== 'job' && name !== 'record') throw invalid('A file is sent for a field that takes none.');
        if (name === 'job') {
          const path = place.newPath();
          const bytes = await keep(part.file, path, place.signal, stalled);
          if (part.file.truncated) throw tooLarge(limits.jobFileBytes);
          // A browser sends a part also where no file was chosen.
          const isChosen = bytes > 0 || part.filename !== '';
          if (isChosen) job = { path, copyName: copyNameOf(part.filename) };
        } else {
          const text = await recordOf(part.file, stalled);
          if (text !== '') record = text;
        }
        continue;
      }
      const value = typeof part.value === 'string' ? part.value : '';
      if (name === 'recordText') {
        if (part.valueTruncated) throw recordTooLarge();
        if (value !== '') record ??= value;
      } else if (value.length > MOST_FIELD_LETTERS) throw fieldTooLong(name);
      else if (name === 'do') action = JOB_ACTIONS.find((one) => one === value) ?? action;
      else if (value.trim() === '') continue;
      // These are taken as they stand, spaces and all.
      else if (name === 'template' || name === 'frequencyLine') texts[name] = value;
      else if (JOB_TEXTS.includes(name)) texts[name] = value.trim();
      else if (PRINT_FIELDS.some((field) => field.name === name)) fields[name] = value.trim();
    }
  } catch (error) {
    // What is still to come is read and dropped, so that the answer is heard.
    request.raw.unpipe();
    request.raw.resume();
    if (place.signal.aborted) throw ended();
    if (noRoom(error)) throw full();
    if (error instanceof WebProblem || toldOf(error).status === 413 || isOfDisk(error)) throw error;
    throw invalid('The form with the job file breaks off or cannot be read.');
  } finally {
    clearTimeout(stalled);
  }
  return {
    action,
    asked: { fields, texts, ...(record === undefined ? {} : { record }) },
    ...(job === undefined ? {} : { job }),
  };
}

/** Writes a file that arrives to its place, for nobody else to read. */
async function keep(
  file: Readable,
  path: string,
  signal: AbortSignal,
  stalled: NodeJS.Timeout,
): Promise<number> {
  let bytes = 0;
  const counted = new Transform({
    transform: (chunk: Uint8Array, _, done) => {
      stalled.refresh();
      bytes += chunk.length;
      done(null, chunk);
    },
  });
  await pipeline(file, counted, createWriteStream(path, { flags: 'wx', mode: PRIVATE_MODE }), { signal });
  return bytes;
}

async function recordOf(file: Readable, stalled: NodeJS.Timeout): Promise<string> {
  const chunks: Uint8Array[] = [];
  let bytes = 0;
  for await (const chunk of file as AsyncIterable<Uint8Array>) {
    stalled.refresh();
    bytes += chunk.length;
    if (bytes > MOST_RECORD_BYTES) throw recordTooLarge();
    chunks.push(chunk);
  }
  return new TextDecoder().decode(Buffer.concat(chunks));
}

/** What the copy is called: of the job's name what needs no quoting, so that it is a name and no path. */
function copyNameOf(given: string | undefined): string {
  const [, stem = '', ending = ''] = /^(.*?)(\.\w{1,12})?$/u.exec(nameOf(given, '')) ?? [];
  const safe = stem
    .replaceAll(/[^\w.-]+/g, '-')
    .replace(/^[.-]+/, '')
    .replace(/[.-]+$/, '');
  return `${safe === '' ? 'job' : safe}-woven${ending === '' ? '.job' : ending}`;
}

function sendPage(reply: FastifyReply, parts: WeaveParts): FastifyReply {
  return reply.type('text/html; charset=utf-8').send(weavePage(parts));
}

function noRoom(error: unknown): boolean {
  return error instanceof Error && 'code' in error && (error.code === 'ENOSPC' || error.code === 'EDQUOT');
}

function isOfDisk(error: unknown): boolean {
  return error instanceof Error && 'syscall' in error && 'code' in error && error.code !== 'ECONNRESET';
}

function full(): WebProblem {
  return busy('There is no room for the job file on the disk of the computer that serves this page.');
}

function ended(): WebProblem {
  return new WebProblem(503, 'cancelled', 'Reading the job file was ended.', 'Send it again.', 5);
}

function tooLong(): WebProblem {
  return new WebProblem(
    504,
    'timed-out',
    'The job file took longer than is waited for, and was ended.',
    'Read or weave it on the command line, which waits for as long as it takes.',
  );
}

function tooLarge(bytes: number): WebProblem {
  return new WebProblem(
    413,
    'too-large',
    `The job file is larger than ${String(Math.round(bytes / 1e6))} MB.`,
    'Read or weave it on the command line, which has no such limit.',
  );
}

function recordTooLarge(): WebProblem {
  return new WebProblem(
    413,
    'too-large',
    'The print record is larger than is taken.',
    'Send a print record, which has some kilobytes.',
  );
}

function fieldTooLong(name: string): WebProblem {
  return new WebProblem(
    413,
    'too-large',
    `The field "${name.slice(0, 80)}" is longer than is taken.`,
    'Type less.',
  );
}
