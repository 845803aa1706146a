import type { FastifyInstance, FastifyRequest } from 'fastify';
import { LIMIT_FIELDS } from '../../index.js';
import type { WebContext } from '../context.js';
import { decidePage, newestOfEach, type AskedOf, type DecidePage, type DecideParts } from '../decidePage.js';
import { busy, invalid, toldOf, WebProblem } from '../problem.js';

/** A reading of several photos has some hundred kilobytes. */
const MOST_READING_BYTES = 8_388_608;
const MOST_READINGS = 2;
const MOST_FIELD_BYTES = 2_000;
/** So many entries are chosen by an address. */
const MOST_AXES_ASKED = 20;
/** Forms that arrive at once. */
const MOST_ARRIVING = 8;

const PAGES: readonly DecidePage[] = ['decide', 'after'];
const NOTHING: AskedOf = { entries: [], texts: [], given: {} };

/**
 * Choosing shapers by stored readings, and what comes after: forms and results made here, from the functions of the command.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function decideRoutes(app: FastifyInstance, { limits, logbook, workers }: WebContext): void {
  const short = () => ({ lane: 'short', signal: AbortSignal.timeout(limits.shortMs) }) as const;
  const known = async ({ entries }: AskedOf): Promise<Pick<DecideParts, 'known'>> =>
    logbook === undefined
      ? {}
      : {
          known: await workers.run('axisChoices', { folder: logbook, asked: entries.map(Number) }, short()),
        };

  let arriving = 0;
  const arrived = async (request: FastifyRequest): Promise<AskedOf> => {
    if (arriving >= MOST_ARRIVING) throw busy('Too many forms arrive at the moment.');
    arriving += 1;
    try {
      return await askedOf(request);
    } finally {
      arriving -= 1;
    }
  };

  for (const which of PAGES) {
    app.get<{ Querystring: { entry?: unknown } }>(`/${which}`, async ({ query }, reply) => {
      const asked = { ...NOTHING, entries: entriesOf(query.entry) };
      const offered = await known(asked);
      const entries = asked.entries.length > 0 ? asked.entries : newestOfEach(offered.known ?? []);
      return reply
        .type('text/html; charset=utf-8')
        .send(decidePage({ which, asked: { ...asked, entries }, ...offered }));
    });

    app.post(`/${which}`, async (request, reply) => {
      const asked = await arrived(request);
      reply.type('text/html; charset=utf-8');
      try {
        const decided = await workers.run(
          'decide',
          {
            ...asked,
            entries: asked.entries.map(Number),
            ...(logbook === undefined ? {} : { folder: logbook }),
          },
          short(),
        );
        return await reply.send(decidePage({ which, asked, decided }));
      } catch (error) {
        const { status, error: problem } = toldOf(error);
        if (status >= 500) throw error;
        return reply.code(status).send(decidePage({ which, asked, problem, ...(await known(asked)) }));
      }
    });
  }
}

/** Of an address, which anybody types: what is no number of an entry is as if it were not there. */
function entriesOf(query: unknown): readonly string[] {
  const words: readonly unknown[] = Array.isArray(query) ? query : [query];
  const entries = words.filter((word) => typeof word === 'string' && /^[1-9]\d{0,8}$/.test(word));
  return [...new Set(entries as readonly string[])].slice(0, MOST_AXES_ASKED);
}

/** What a form says. */
async function askedOf(request: FastifyRequest): Promise<AskedOf> {
  if (!request.isMultipart()) throw invalid('The readings do not come as a form.');
  const names = new Set(LIMIT_FIELDS.map(({ name }) => name));
  const entries: string[] = [];
  const texts: string[] = [];
  const given: Record<string, string> = {};
  const keep = (text: string): void => {
    if (texts.length >= MOST_READINGS)
      throw tooLarge('More than two readings are sent.', 'Send one of each axis.');
    texts.push(text);
  };
  const parts = request.parts({
    limits: {
      files: MOST_READINGS,
      fileSize: MOST_READING_BYTES,
      fieldSize: MOST_READING_BYTES,
      fields: LIMIT_FIELDS.length + 60,
    },
  });
  for await (const part of parts) {
    if (part.type === 'file') {
      const bytes = await part.toBuffer();
      if (bytes.length > 0) keep(bytes.toString('utf8'));
      continue;
    }
    const value = typeof part.value === 'string' ? part.value : '';
    if (part.fieldname === 'reading') keep(value);
    else if (value.length > MOST_FIELD_BYTES) {
      throw tooLarge(`The field "${part.fieldname.slice(0, 80)}" is longer than is taken.`, 'Type less.');
    } else if (part.fieldname === 'entry') entries.push(value);
    else if (names.has(part.fieldname) && value.trim() !== '') given[part.fieldname] = value.trim();
  }
  return { entries: [...new Set(entries)], texts, given };
}

function tooLarge(message: string, advice: string): WebProblem {
  return new WebProblem(413, 'too-large', message, advice);
}
