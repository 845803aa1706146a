import type { FastifyInstance } from 'fastify';
import type { Assets } from '../assets.js';
import type { WebContext } from '../context.js';
import { html, page } from '../html.js';
import { notFound } from '../problem.js';

/**
 * The measuring page, the page's files, and the link that lets a browser in.
 * @param app - The server.
 * @param context - What the routes share.
 * @param assets - The page's files.
 */
export function siteRoutes(app: FastifyInstance, { access }: WebContext, assets: Assets): void {
  app.get('/', (_, reply) => {
    const body = html`<h1>Measure</h1>
<div id="measure">
<noscript><p>This page needs its script. Where scripts are off, measure on the command line: <code>stillband measure --help</code>.</p></noscript>
</div>`;
    return reply
      .type('text/html; charset=utf-8')
      .send(page({ title: 'Measure', nav: 'measure', body, script: 'measure.js' }));
  });

  app.get<{ Params: { name: string } }>('/assets/:name', (request, reply) => {
    const asset = assets.get(request.params.name);
    if (asset === undefined) throw notFound('such file');
    // Asked for again each time, and sent again only where it has changed.
    reply.header('cache-control', 'no-cache').header('etag', asset.etag);
    if (request.headers['if-none-match'] === asset.etag) return reply.code(304).send();
    return reply.type(asset.type).send(asset.data);
  });

  app.get<{ Querystring: { key?: unknown } }>(
    '/open',
    // Whoever only looks at a link does not use it up.
    { exposeHeadRoute: false },
    (request, reply) => {
      access.letIn(request.query.key, reply);
      // Not a redirect: a strict cookie would not come along where the link was followed from another site's page.
      const body = html`<h1>Come in</h1>
<p>This browser is let in, and the link is used up. Photos and logbook travel in the clear through this network: do this only in one that you trust.</p>
<p><a href="/">Go to the page</a></p>`;
      return reply
        .type('text/html; charset=utf-8')
        .header('refresh', '0; url=/')
        .send(page({ title: 'Come in', body }));
    },
  );

  app.get('/api/ping', (_, reply) => reply.code(204).send());
}
