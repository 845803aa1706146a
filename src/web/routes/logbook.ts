import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { WebContext } from '../context.js';
import { sheetPolicy } from '../headers.js';
import { comparePage, entryPage, listPage, noLogbookPage, trendPage } from '../logbookPages.js';
import { busy, invalid, notFound, toldOf } from '../problem.js';
import { attached, paperOf } from './files.js';

interface Entry {
  Params: { number: string };
  Querystring: { paper?: unknown };
}

/** A photo is looked at beside its numbers, px. */
const PHOTO_WIDTH_PX = 1200;
/** Sheets with pictures that are drawn, or wait to be, at once: each measures photos again. */
const MOST_SHEETS = 4;

/**
 * The pages of the logbook: its list, an entry with its sheet and photos, the trend of a machine, and a comparison.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function logbookRoutes(app: FastifyInstance, { logbook, limits, workers }: WebContext): void {
  const short = () => ({ lane: 'short', signal: AbortSignal.timeout(limits.shortMs) }) as const;
  const send = (reply: FastifyReply, document: string) =>
    reply.type('text/html; charset=utf-8').send(document);
  const expectFolder = (): string => {
    if (logbook === undefined) throw notFound('logbook');
    return logbook;
  };

  app.get<{ Querystring: { machine?: unknown; skip?: unknown } }>('/logbook', async (request, reply) => {
    if (logbook === undefined) return send(reply.code(404), noLogbookPage('logbook'));
    const machine = wordOf(request.query.machine);
    const skip = wordOf(request.query.skip);
    const asked = { folder: logbook, skip: skip === undefined ? 0 : wholeOf(skip, 'skip') };
    const listed = await workers.run(
      'listLogbook',
      machine === undefined ? asked : { ...asked, machine },
      short(),
    );
    return send(reply, listPage(listed, machine));
  });

  app.get<Entry>('/logbook/:number', async (request, reply) => {
    const task = { folder: expectFolder(), number: entryNumber(request.params.number) };
    return send(reply, entryPage(await workers.run('showEntry', task, short())));
  });

  let sheets = 0;
  // A sheet has pictures, for which the photo is measured again; whoever goes away ends that.
  const sheetOf = async (
    { params, query }: Pick<FastifyRequest<Entry>, 'params' | 'query'>,
    reply: FastifyReply,
    format: 'html' | 'pdf',
  ) => {
    const task = {
      folder: expectFolder(),
      number: entryNumber(params.number),
      format,
      paper: paperOf(query.paper),
    };
    if (sheets >= MOST_SHEETS) throw busy('Too many sheets are being drawn.');
    const left = new AbortController();
    reply.raw.once('close', () => {
      left.abort();
    });
    const late = AbortSignal.timeout(limits.jobMs + (limits.jobMsPerMegapixel * limits.pixels) / 1e6);
    sheets += 1;
    try {
      return await workers.run('entrySheet', task, {
        lane: 'long',
        signal: AbortSignal.any([left.signal, late]),
      });
    } finally {
      sheets -= 1;
    }
  };

  app.get<Entry>('/logbook/:number/sheet.html', async (request, reply) => {
    const text = String(await sheetOf(request, reply, 'html'));
    return send(reply.header('content-security-policy', sheetPolicy(text)), text);
  });

  app.get<Entry>('/logbook/:number/sheet.pdf', async (request, reply) => {
    const file = await sheetOf(request, reply, 'pdf');
    return reply
      .headers(attached(`entry-${request.params.number}.pdf`))
      .type('application/pdf')
      .send(Buffer.from(file));
  });

  app.get<{ Params: { number: string; photo: string } }>(
    '/logbook/:number/photo/:photo.jpg',
    async (request, reply) => {
      const { number, photo } = request.params;
      const task = {
        folder: expectFolder(),
        number: entryNumber(number),
        photo: entryNumber(photo),
        widthPx: PHOTO_WIDTH_PX,
      };
      const file = await workers.run('entryPhoto', task, short());
      if (file === undefined) throw notFound('such photo');
      return reply.type('image/jpeg').send(Buffer.from(file));
    },
  );

  app.get<{ Querystring: { machine?: unknown } }>('/trend', async (request, reply) => {
    if (logbook === undefined) return send(reply.code(404), noLogbookPage('trend'));
    const machine = wordOf(request.query.machine);
    const task = machine === undefined ? { folder: logbook } : { folder: logbook, machine };
    return send(reply, trendPage(await workers.run('showTrends', task, short())));
  });

  app.get<{ Querystring: Readonly<Record<string, unknown>> }>('/compare', async (request, reply) => {
    if (logbook === undefined) return send(reply.code(404), noLogbookPage('compare'));
    const { query } = request;
    const asked = {
      before: wordOf(query['before']) ?? '',
      after: wordOf(query['after']) ?? '',
      level: wordOf(query['level']) ?? '',
      sameLight: query['sameLight'] === 'yes',
    };
    if (asked.before === '' || asked.after === '') return send(reply, comparePage({ asked }));
    try {
      const level = levelOf(asked.level);
      const task = {
        folder: logbook,
        before: numbersOf(asked.before),
        after: numbersOf(asked.after),
        sameLight: asked.sameLight,
        ...(level === undefined ? {} : { level }),
      };
      return await send(
        reply,
        comparePage({ asked, found: await workers.run('compareEntries', task, short()) }),
      );
    } catch (error) {
      const { status, error: problem } = toldOf(error);
      if (status >= 500) throw error;
      return send(reply.code(status), comparePage({ asked, problem }));
    }
  });
}

/** An address is typed by anybody: what is no text, or empty, is as if it were not there. */
function wordOf(value: unknown): string | undefined {
  return typeof value === 'string' && value.trim() !== '' ? value.trim() : undefined;
}

function wholeOf(text: string, name: string): number {
  if (/^\d{1,9}$/.test(text)) return Number(text);
  throw invalid(`"${text}" is no number for ${name}.`);
}

function entryNumber(text: string): number {
  const number = /^\d{1,9}$/.test(text) ? Number(text) : 0;
  if (number > 0) return number;
  throw notFound('such entry');
}

/** So many entries of a side are compared at once. */
const MOST_NUMBERS = 20;

function numbersOf(text: string): readonly number[] {
  const words = text.split(',').map((word) => word.trim());
  if (words.length > MOST_NUMBERS)
    throw invalid(`More than ${String(MOST_NUMBERS)} entries are given on one side.`);
  return words.map((word) => {
    const number = wholeOf(word, 'an entry');
    if (number > 0) return number;
    throw invalid('Entries are counted from 1.');
  });
}

function levelOf(text: string): number | undefined {
  if (text === '') return undefined;
  const percent = Number(text.replace(',', '.'));
  if (percent > 0 && percent < 100) return percent / 100;
  throw invalid(`"${text}" is no share in percent.`);
}
