import { readWas, toldToCheck, toldToMeasure } from '../../index.js';
import type { FastifyInstance } from 'fastify';
import { expectOwnScript } from '../access.js';
import type { CheckedResult, MeasuredResult, WebContext } from '../context.js';
import {
  fieldsFor,
  readJobRequest,
  readSaveRequest,
  type JobRequest,
  type SaveRequest,
} from '../jobRequest.js';
import type { JobState, Work } from '../jobs.js';
import type { KeptPhoto } from '../photos.js';
import { invalid, notFound, WebProblem } from '../problem.js';
import { sheetPolicy } from '../headers.js';
import { attached, paperOf } from './files.js';

type Result = MeasuredResult | CheckedResult;
interface Id {
  Params: { id: string };
}

/** Where a result was saved. */
type KeptPlace = NonNullable<MeasuredResult['saved']>;

/** A stream that says nothing for long is closed by what lies between, ms. */
const HEARTBEAT_MS = 5_000;

/**
 * Checks and measurements: asking for one, following it, its result, its files, and saving it.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function jobRoutes(app: FastifyInstance, context: WebContext): void {
  const { jobs, limits, logbook, workers } = context;
  const short = () => ({ lane: 'short', signal: AbortSignal.timeout(limits.shortMs) }) as const;
  /** What is being saved, by job: whoever asks again meanwhile waits for the same. */
  const saving = new Map<string, Promise<KeptPlace>>();

  app.post('/api/jobs', async (request, reply) => {
    expectOwnScript(request);
    const asked = readJobRequest(request.body);
    const job = jobs.add(await workFor(asked, context));
    return reply.code(202).send({ job: { id: job.id } });
  });

  app.get<Id>('/api/jobs/:id', (request, reply) => {
    const { state, result } = jobs.get(request.params.id);
    reply.type('application/json');
    if (result === undefined) {
      const error = state.name === 'failed' ? { error: state.error } : {};
      return reply.send({ state: state.name, ...error });
    }
    return reply.send(`{"state":"done","result":${resultJson(result)}}`);
  });

  app.get<Id>('/api/jobs/:id/events', (request, reply) => {
    const { id } = request.params;
    jobs.get(id);
    reply.hijack();
    const { raw } = reply;
    raw.writeHead(200, {
      ...(reply.getHeaders() as Record<string, string>),
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store',
    });
    const heartbeat = setInterval(() => raw.write(':\n\n'), HEARTBEAT_MS);
    let stop = (): void => undefined;
    const end = (): void => {
      clearInterval(heartbeat);
      stop();
    };
    raw.on('close', end);
    stop = jobs.listen(id, (state) => {
      raw.write(`event: ${state.name}\ndata: ${JSON.stringify(dataOf(state))}\n\n`);
      if (state.name === 'done' || state.name === 'failed') raw.end();
    });
  });

  app.delete<Id>('/api/jobs/:id', (request, reply) => {
    expectOwnScript(request);
    jobs.remove(request.params.id);
    return reply.code(204).send();
  });

  app.get<Id>('/api/jobs/:id/reading.json', (request, reply) => {
    const { parts } = measured(request.params.id);
    return reply.headers(attached('reading.json')).type('application/json').send(parts.readingFile);
  });

  app.get<Id>('/api/jobs/:id/heights.csv', (request, reply) => {
    const { csvFile } = measured(request.params.id).parts;
    if (csvFile === undefined) throw ofOnePhoto();
    return reply.headers(attached('heights.csv')).type('text/csv; charset=utf-8').send(csvFile);
  });

  app.get<Id>('/api/jobs/:id/picture.svg', (request, reply) => {
    const { svgFile } = measured(request.params.id).parts;
    if (svgFile === undefined) throw ofOnePhoto();
    return reply.headers(attached('picture.svg')).type('image/svg+xml').send(svgFile);
  });

  app.get<Id & { Querystring: { paper?: unknown } }>('/api/jobs/:id/sheet.html', async (request, reply) => {
    const { subject } = measured(request.params.id).parts;
    const paper = paperOf(request.query.paper);
    const file = await workers.run('sheetFile', { subject, format: 'html', paper }, short());
    const text = String(file);
    return reply
      .header('content-security-policy', sheetPolicy(text))
      .type('text/html; charset=utf-8')
      .send(text);
  });

  app.get<Id & { Querystring: { paper?: unknown } }>('/api/jobs/:id/sheet.pdf', async (request, reply) => {
    const { subject } = measured(request.params.id).parts;
    const paper = paperOf(request.query.paper);
    const file = await workers.run('sheetFile', { subject, format: 'pdf', paper }, short());
    return reply.headers(attached('sheet.pdf')).type('application/pdf').send(Buffer.from(file));
  });

  app.post<Id>('/api/jobs/:id/save', async (request, reply) => {
    expectOwnScript(request);
    const { id } = request.params;
    const how = readSaveRequest(request.body);
    const result = measured(id);
    if (logbook === undefined) {
      throw new WebProblem(
        409,
        'not-now',
        'There is no logbook to save in.',
        'Start the server with --logbook DIR, or download the sheet.',
      );
    }
    const before = result.saved ?? (await saving.get(id));
    if (before !== undefined) return reply.code(200).send(before);
    const saved = keep(logbook, id, result, how).finally(() => saving.delete(id));
    saving.set(id, saved);
    return reply.code(201).send(await saved);
  });

  async function keep(
    folder: string,
    id: string,
    result: MeasuredResult,
    { note, changed, keepPosition }: SaveRequest,
  ): Promise<KeptPlace> {
    const { parts, photos, asked } = result;
    // Without a signal: what has begun to be saved is saved whole.
    const { entry, head, notes, subject, sheetJson } = await workers.run(
      'save',
      {
        folder,
        reading: parts.subject.reading,
        subject: parts.subject,
        photos,
        asked,
        keepPosition,
        ...(note === undefined ? {} : { note }),
        ...(changed === undefined ? {} : { changed }),
      },
      { lane: 'short' },
    );
    jobs.update(id, { ...result, parts: { ...parts, subject, sheetJson }, saved: { entry, head, notes } });
    return { entry, head, notes };
  }

  function measured(id: string): MeasuredResult {
    const { state, result } = jobs.get(id);
    if (result?.kind === 'measure') return result;
    throw new WebProblem(
      409,
      'not-now',
      state.name === 'done' ? 'This was only a check.' : 'Nothing is measured here yet.',
      'Measure the photo first.',
    );
  }
}

/** What there is to do, with the print record read: what is wrong with it is told at once. */
async function workFor(asked: JobRequest, context: WebContext): Promise<Work<Result>> {
  const { workers, limits } = context;
  const photos = asked.photos.map((id) => context.photos.get(id));
  const text = asked.record === undefined ? undefined : JSON.stringify(asked.record);
  const megapixels = photos.reduce((sum, { widthPx, heightPx }) => sum + (widthPx * heightPx) / 1e6, 0);
  const mostMs = limits.jobMs + limits.jobMsPerMegapixel * megapixels;
  const bytes = photos.reduce((sum, photo) => sum + photo.bytes.length, 0);
  const telling = ({ id, card }: KeptPhoto) => ({
    text,
    given: fieldsFor(asked, id),
    card: () => Promise.resolve(card),
  });
  const [first, ...others] = photos;
  if (first === undefined) throw invalid('No photo is named.');
  if (asked.kind === 'check') {
    if (others.length > 0) throw invalid('One photo is checked at a time.');
    const { record, ...options } = await toldToCheck(telling(first));
    const task = { bytes: first.bytes, options, ...(record === undefined ? {} : { record }) };
    const run = async (signal: AbortSignal): Promise<CheckedResult> => ({
      kind: 'check',
      json: await workers.run('check', task, { lane: 'long', signal }),
    });
    return { run, mostMs, kind: 'check', bytes, resultBytes: 0 };
  }
  const { spacingOnly, cameraStill } = asked;
  if (others.length > 0 && spacingOnly) throw invalid('The frequency by spacing alone is of one photo.');
  if (others.length === 0 && cameraStill)
    throw invalid('A camera that stood still is said of several photos.');
  const was = readWas(asked.was, spacingOnly);
  const joined = await Promise.all(
    photos.map(async (photo) => ({
      bytes: photo.bytes,
      name: photo.name,
      ...(await toldToMeasure(telling(photo), { spacingOnly })),
    })),
  );
  const options = { spacingOnly, ...(was === undefined ? {} : { was }) };
  const task = { photos: joined, options, together: { cameraStill } };
  const run = async (signal: AbortSignal): Promise<MeasuredResult> => ({
    kind: 'measure',
    parts: await workers.run('measure', task, { lane: 'long', signal }),
    photos: joined.map(({ bytes, name }) => ({ bytes, name })),
    asked: {
      ...(spacingOnly ? { spacingOnly } : {}),
      ...(was === undefined ? {} : { was }),
      ...(cameraStill ? { cameraStill } : {}),
    },
  });
  return { run, mostMs, kind: 'measure', bytes, resultBytes: bytes };
}

function resultJson(result: Result): string {
  if (result.kind === 'check') return result.json;
  const { parts, saved } = result;
  return `{${parts.json},"sheet":${parts.sheetJson},"saved":${JSON.stringify(saved ?? null)}}`;
}

function dataOf(state: JobState): unknown {
  if (state.name === 'queued') return { position: state.position };
  return state.name === 'failed' ? { error: state.error } : {};
}

function ofOnePhoto(): WebProblem {
  return notFound('such file of several photos');
}
