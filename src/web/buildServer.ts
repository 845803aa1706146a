import { tmpdir } from 'node:os';
import compress from '@fastify/compress';
import multipart from '@fastify/multipart';
import fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';
import { Access } from './access.js';
import type { Assets } from './assets.js';
import type { WebContext } from './context.js';
import { SECURITY_HEADERS } from './headers.js';
import { html, page } from './html.js';
import { JobFiles } from './jobFiles.js';
import { Jobs } from './jobs.js';
import { LIMITS, type Limits } from './limits.js';
import { PhotoStore } from './photos.js';
import { notFound, toldOf } from './problem.js';
import { decideRoutes } from './routes/decide.js';
import { jobRoutes } from './routes/jobs.js';
import { logbookRoutes } from './routes/logbook.js';
import { photoRoutes } from './routes/photos.js';
import { planRoutes } from './routes/plan.js';
import { recordRoutes } from './routes/record.js';
import { sessionRoutes } from './routes/session.js';
import { siteRoutes } from './routes/site.js';
import { weaveRoutes } from './routes/weave.js';
import type { Workers } from './workers.js';

/** What a server is built of. */
export interface ServerParts {
  /** Where long work is done; closed by whoever started them. */
  readonly workers: Workers;
  readonly assets: Assets;
  /** Folder of the logbook; absent: there is none to save in or to look at. */
  readonly logbook?: string;
  /** Who is answered. @default whoever asks on this machine */
  readonly access?: Access;
  /** Where job files lie while they are read. @default the system's folder for such */
  readonly tempFolder?: string;
  /** @default `LIMITS` */
  readonly limits?: Limits;
  /** Is told of our own mistakes. @default nobody */
  readonly tell?: (error: unknown) => void;
  /** The time, ms. @default the clock's */
  readonly now?: () => number;
}

/** Bodies that are no photos: JSON of the page's script, and forms, of which each field has one value. */
const MOST_BODY_BYTES = 262_144;
const SWEEP_MS = 1_000;

/**
 * Builds the server, without opening a port.
 * @param parts - What it is built of.
 * @returns The server; closing it ends all its jobs.
 */
export function buildServer(parts: ServerParts): FastifyInstance {
  const { workers, assets, logbook, limits = LIMITS, tell = () => undefined, now = Date.now } = parts;
  const context: WebContext = {
    workers,
    photos: new PhotoStore(limits, now),
    jobs: new Jobs(limits, workers.longThreads, now, tell),
    jobFiles: new JobFiles(limits.jobFiles, parts.tempFolder ?? tmpdir()),
    limits,
    access: parts.access ?? new Access(false),
    logbook,
  };
  const app = fastify({
    logger: false,
    bodyLimit: MOST_BODY_BYTES,
    requestTimeout: limits.arrivalMs,
    connectionTimeout: limits.silentMs,
    keepAliveTimeout: limits.idleMs,
    http: { headersTimeout: limits.headMs, connectionsCheckingInterval: 5_000 },
    forceCloseConnections: true,
    routerOptions: { maxParamLength: 100 },
    frameworkErrors: (error, request, reply) => {
      void answer(error, request, reply, tell);
    },
  });
  app.addHook('onRequest', (request, reply, done) => {
    reply.headers(SECURITY_HEADERS);
    // The link itself, and what its page looks like, are asked for before a browser is let in.
    if (!OPEN_PATHS.includes(request.url.split('?')[0] ?? '')) context.access.check(request);
    else context.access.checkSource(request);
    done();
  });
  app.setErrorHandler((error, request, reply) => answer(error, request, reply, tell));
  app.setNotFoundHandler((request, reply) => answer(notFound('such page'), request, reply, tell));
  // A form of another page could send it unasked.
  app.removeContentTypeParser('text/plain');
  app.addContentTypeParser('application/x-www-form-urlencoded', { parseAs: 'string' }, (_, text, done) => {
    done(null, Object.fromEntries(new URLSearchParams(String(text))));
  });
  void app.register(compress, { encodings: ['br', 'gzip'], threshold: 1024 });
  void app.register(multipart);
  void app.register((routes, _, done) => {
    siteRoutes(routes, context, assets);
    sessionRoutes(routes, context);
    photoRoutes(routes, context);
    jobRoutes(routes, context);
    recordRoutes(routes);
    logbookRoutes(routes, context);
    decideRoutes(routes, context);
    planRoutes(routes, context);
    weaveRoutes(routes, context);
    done();
  });
  const sweeper = setInterval(() => {
    context.jobs.sweep();
    context.photos.sweep();
  }, SWEEP_MS);
  sweeper.unref();
  app.addHook('preClose', async () => {
    clearInterval(sweeper);
    context.jobs.close();
    await context.jobFiles.close();
  });
  return app;
}

const OPEN_PATHS = ['/open', '/assets/style.css', '/assets/icon.svg'];

/** An error as JSON where the page's script asked, and as a page where a person did. */
function answer(
  error: unknown,
  request: FastifyRequest,
  reply: FastifyReply,
  tell: (error: unknown) => void,
): FastifyReply {
  const { status, error: told, retryAfterS } = toldOf(error);
  if (status === 500) tell(error);
  reply.code(status).headers(SECURITY_HEADERS);
  if (retryAfterS !== undefined) reply.header('retry-after', String(retryAfterS));
  if (request.url.startsWith('/api/')) return reply.type('application/json').send({ error: told });
  const body = html`<h1>${told.message}</h1>
<p>${told.advice}</p>
<p class="code">${told.code}</p>`;
  return reply.type('text/html; charset=utf-8').send(page({ title: told.message.replace(/\.$/, ''), body }));
}
