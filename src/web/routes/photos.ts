import type { FastifyInstance, FastifyRequest } from 'fastify';
import { expectOwnScript } from '../access.js';
import type { WebContext } from '../context.js';
import type { KeptPhoto } from '../photos.js';
import { invalid, WebProblem } from '../problem.js';
import { expectLength, FORM_BYTES, nameOf, watchUpload } from './uploads.js';

/** A copy is no wider than this: a screen has no more px. */
const MOST_VIEW_PX = 2400;

/**
 * Sending photos, looking at them, and taking them away.
 * @param app - The server.
 * @param context - What the routes share.
 */
export function photoRoutes(app: FastifyInstance, { limits, photos, workers }: WebContext): void {
  const short = () => ({ lane: 'short', signal: AbortSignal.timeout(limits.shortMs) }) as const;

  app.post('/api/photos', async (request, reply) => {
    expectOwnScript(request);
    const length = expectLength(request);
    if (length > limits.bytes + FORM_BYTES) throw tooLarge(limits.bytes);
    const release = photos.reserve(length);
    try {
      const { name, bytes } = await photoOf(request, limits);
      const survey = await workers.run('survey', { bytes }, short());
      release();
      const photo = photos.add({ ...survey, name, bytes });
      return await reply.code(201).send({ photo: toldOfPhoto(photo) });
    } finally {
      release();
    }
  });

  app.get<{ Params: { id: string }; Querystring: { width?: unknown } }>(
    '/api/photos/:id/view.jpg',
    async (request, reply) => {
      const widthPx = Number(request.query.width ?? 1200);
      if (!(Number.isInteger(widthPx) && widthPx >= 1 && widthPx <= MOST_VIEW_PX)) {
        throw invalid(`The width is a whole number from 1 to ${String(MOST_VIEW_PX)}.`);
      }
      const jpeg = await photos.view(request.params.id, widthPx, ({ bytes }) =>
        workers.run('view', { bytes, widthPx }, short()),
      );
      // What is at this address never changes.
      reply.header('cache-control', 'private, max-age=3600').type('image/jpeg');
      return reply.send(Buffer.from(jpeg));
    },
  );

  app.delete<{ Params: { id: string } }>('/api/photos/:id', (request, reply) => {
    expectOwnScript(request);
    photos.remove(request.params.id);
    return reply.code(204).send();
  });
}

/** What the page is told of a photo. */
function toldOfPhoto({ id, name, widthPx, heightPx, bytes, card }: KeptPhoto): unknown {
  return {
    id,
    name,
    widthPx,
    heightPx,
    bytes: bytes.length,
    card: card.state === 'no-card' ? null : card,
  };
}

async function photoOf(
  request: FastifyRequest,
  limits: WebContext['limits'],
): Promise<Pick<KeptPhoto, 'name' | 'bytes'>> {
  if (!request.isMultipart()) throw invalid('A photo is sent as a form with one file, "photo".');
  const stalled = watchUpload(request, limits.stallMs);
  try {
    const file = await request.file({
      limits: { fileSize: limits.bytes, files: 1, fields: 8, fieldSize: 1000, parts: 9, headerPairs: 20 },
    });
    if (file?.fieldname !== 'photo') throw invalid('A photo is sent as a form with one file, "photo".');
    const chunks: Uint8Array[] = [];
    for await (const chunk of file.file as AsyncIterable<Uint8Array>) {
      stalled.refresh();
      chunks.push(chunk);
    }
    if (file.file.truncated) throw tooLarge(limits.bytes);
    return { name: nameOf(file.filename, 'photo'), bytes: Buffer.concat(chunks) };
  } catch (error) {
    if (error instanceof WebProblem) throw error;
    throw invalid('The form with the photo breaks off or cannot be read.');
  } finally {
    clearTimeout(stalled);
  }
}

function tooLarge(bytes: number): WebProblem {
  return new WebProblem(
    413,
    'too-large',
    `The photo is larger than ${String(Math.round(bytes / 1e6))} MB.`,
    'Save it as JPEG, or crop it to the tower and its reference.',
  );
}
