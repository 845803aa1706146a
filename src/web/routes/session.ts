import type { FastifyInstance } from 'fastify';
import { assumedWhereEmpty, VERSION } from '../../index.js';
import type { WebContext } from '../context.js';

/**
 * What the page asks for first: what there is, what is taken, and the latest record of each axis.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function sessionRoutes(app: FastifyInstance, { access, limits, logbook, workers }: WebContext): void {
  app.get('/api/session', async () => ({
    version: VERSION,
    logbook: logbook !== undefined,
    lan: access.lan,
    limits: { bytes: limits.bytes, pixels: limits.pixels, photos: limits.photos },
    assumed: assumedWhereEmpty(),
    machines:
      logbook === undefined
        ? []
        : await workers.run(
            'knownAxes',
            { folder: logbook },
            { lane: 'short', signal: AbortSignal.timeout(limits.shortMs) },
          ),
  }));
}
