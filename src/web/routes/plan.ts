import type { FastifyInstance, FastifyReply } from 'fastify';
import { CARD_SIZES, InputError, makeTower, PLAN_FIELDS, type TowerShape } from '../../index.js';
import type { WebContext } from '../context.js';
import { sheetPolicy } from '../headers.js';
import { cardPage, planPage, planTexts, TOWER_FIELDS, towerPage, type Typed } from '../planPage.js';
import { invalid, notFound, toldOf, type WebError } from '../problem.js';
import type { PlanFile, PlanTask } from '../worker.js';

interface Query {
  Querystring: Readonly<Record<string, unknown>>;
}

const TYPES: Readonly<Record<string, string>> = {
  json: 'application/json; charset=utf-8',
  html: 'text/html; charset=utf-8',
  pdf: 'application/pdf',
  stl: 'model/stl',
  svg: 'image/svg+xml',
};
const PLAN_FILES: readonly PlanFile[] = [
  'record.json',
  'checklist.html',
  'checklist.pdf',
  'tower.stl',
  'card.pdf',
];
const MOST_FIELD_LETTERS = 2000;
const PLAN_NAMES = [...PLAN_FIELDS.map(({ name }) => name), 'refine'];
const TOWER_NAMES = [...TOWER_FIELDS.map(({ name }) => name), 'leadingCorner'];
const CARD_NAMES = ['size', 'machine', 'checkLength'];

/**
 * Planning, towers and cards: forms and results made here, from the functions of the commands. A form is asked by its
 * address, so that nothing is kept and a plan can be bookmarked; its files are made again when they are taken.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function planRoutes(app: FastifyInstance, { limits, logbook, workers }: WebContext): void {
  const short = () => ({ lane: 'short', signal: AbortSignal.timeout(limits.shortMs) }) as const;
  const taskOf = (typed: Typed): PlanTask => ({
    texts: planTexts(typed),
    entries: entriesOf(typed['refine']),
    ...(logbook === undefined ? {} : { folder: logbook }),
  });

  app.get<Query>('/plan', async (request, reply) => {
    const typed = typedOf(request.query, PLAN_NAMES);
    const show = (parts: Omit<Parameters<typeof planPage>[0], 'typed'>) =>
      planPage({ typed, ...parts }, logbook !== undefined);
    if (Object.keys(typed).length === 0) return sendPage(reply, show({}));
    return answered(reply, show, async () => workers.run('plan', taskOf(typed), short()));
  });

  app.get<Query & { Params: { file: string } }>('/plan/:file', async (request, reply) => {
    const file = PLAN_FILES.find((name) => name === request.params.file);
    if (file === undefined) throw notFound('such file');
    const { axis, ...typed } = typedOf(request.query, [...PLAN_NAMES, 'axis']);
    const data = await workers.run(
      'planFile',
      { ...taskOf(typed), file, ...(axis === undefined ? {} : { axis }) },
      short(),
    );
    const name = file === 'record.json' ? `tower.${axis ?? 'axis'}.print.json` : file;
    return sendFile(reply, name, data);
  });

  app.get<Query>('/tower', async (request, reply) => {
    const typed = typedOf(request.query, TOWER_NAMES);
    const show = (parts: Omit<Parameters<typeof towerPage>[0], 'typed'>) => towerPage({ typed, ...parts });
    if (Object.keys(typed).length === 0) return sendPage(reply, show({}));
    return answered(reply, show, () => Promise.resolve(makeTower(shapeOf(typed))));
  });

  app.get<Query>('/tower/tower.stl', (request, reply) =>
    sendFile(reply, 'tower.stl', makeTower(shapeOf(typedOf(request.query, TOWER_NAMES))).stl),
  );

  app.get<Query>('/card', async (request, reply) => {
    const typed = typedOf(request.query, CARD_NAMES);
    const show = (parts: Omit<Parameters<typeof cardPage>[0], 'typed'>) =>
      cardPage({ typed, ...parts }, CARD_SIZES);
    if (Object.keys(typed).length === 0) return sendPage(reply, show({}));
    return answered(reply, show, async () => {
      await workers.run('cardFile', { ...cardOf(typed), format: 'svg' }, short());
      return true;
    });
  });

  for (const format of ['pdf', 'svg'] as const) {
    app.get<Query>(`/card/card.${format}`, async (request, reply) => {
      const card = cardOf(typedOf(request.query, CARD_NAMES));
      return sendFile(reply, `card.${format}`, await workers.run('cardFile', { ...card, format }, short()));
    });
  }
}

function sendPage(reply: FastifyReply, document: string): FastifyReply {
  return reply.type('text/html; charset=utf-8').send(document);
}

/** A page with its result, or with what is wrong and what was typed. */
async function answered<Result>(
  reply: FastifyReply,
  show: (parts: { readonly result?: Result; readonly problem?: WebError }) => string,
  work: () => Promise<Result>,
): Promise<FastifyReply> {
  try {
    return await sendPage(reply, show({ result: await work() }));
  } catch (error) {
    const { status, error: problem } = toldOf(error);
    if (status >= 500) throw error;
    return sendPage(reply.code(status), show({ problem }));
  }
}

function sendFile(reply: FastifyReply, name: string, data: string | Uint8Array): FastifyReply {
  const ending = name.slice(name.lastIndexOf('.') + 1);
  // Only what stands in a header without quoting.
  const safe = name.replaceAll(/[^\w.-]/g, '-');
  if (ending === 'html') reply.header('content-security-policy', sheetPolicy(String(data)));
  return reply
    .type(TYPES[ending] ?? 'application/octet-stream')
    .header('content-disposition', `attachment; filename="${safe}"`)
    .send(typeof data === 'string' ? data : Buffer.from(data));
}

/** What was typed into the fields of a form; empty ones are not told. */
function typedOf(query: Query['Querystring'], names: readonly string[]): Typed {
  const typed: Record<string, string> = {};
  for (const name of names) {
    const value = query[name];
    if (value === undefined) continue;
    if (typeof value !== 'string' || value.length > MOST_FIELD_LETTERS) {
      throw invalid(`The field "${name}" comes more than once, or is longer than is taken.`);
    }
    if (value.trim() !== '') typed[name] = value.trim();
  }
  return typed;
}

function entriesOf(text = ''): readonly number[] {
  const words = text.split(',').map((word) => word.trim());
  return words.filter((word) => word !== '').map((word) => numberOf('entries of the logbook', word));
}

function shapeOf(typed: Typed): TowerShape {
  const widthMm = numberOf('width', typed['width'] ?? '');
  const slot = typed['slot'];
  return {
    widthMm,
    heightMm: numberOf('height', typed['height'] ?? ''),
    leadingCorner: typed['leadingCorner'] === 'right' ? 'right' : 'left',
    slots:
      slot === undefined
        ? []
        : [{ centreFromLeadingCornerMm: Math.round(0.55 * widthMm), widthMm: numberOf('slot', slot) }],
  };
}

function cardOf(typed: Typed): {
  readonly size: (typeof CARD_SIZES)[number];
  readonly machine?: string;
  readonly checkLengthMm?: number;
} {
  const { machine, checkLength } = typed;
  return {
    size: CARD_SIZES.find((size) => size === typed['size']) ?? 'a4',
    ...(machine === undefined ? {} : { machine }),
    ...(checkLength === undefined ? {} : { checkLengthMm: numberOf('check length', checkLength) }),
  };
}

function numberOf(what: string, text: string): number {
  const value = Number(text);
  if (text !== '' && Number.isFinite(value)) return value;
  throw new InputError(
    'usage',
    `The ${what} is given as "${text}", which is no number.`,
    'Give a number with a decimal point and without its unit.',
  );
}
