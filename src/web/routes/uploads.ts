import type { FastifyRequest } from 'fastify';
import { WebProblem } from '../problem.js';

/** What a form adds to a file. */
export const FORM_BYTES = 65_536;
const MOST_NAME = 120;

/**
 * How long an upload says it is, so that it can be refused before it arrives.
 * @param request - The request.
 * @returns Bytes.
 * @throws {WebProblem} Status 411.
 */
export function expectLength({ headers }: FastifyRequest): number {
  const length = Number(headers['content-length']);
  if (Number.isSafeInteger(length)) return length;
  throw new WebProblem(
    411,
    'request-invalid',
    'The length is missing.',
    'Send the length of the whole form.',
  );
}

/**
 * Drops a request whose upload stands still.
 * @param request - The request.
 * @param stallMs - How long it may, ms.
 * @returns To be refreshed with each piece that arrives, and cleared at the end.
 */
export function watchUpload(request: FastifyRequest, stallMs: number): NodeJS.Timeout {
  return setTimeout(() => {
    request.raw.destroy(new Error('the upload stands still'));
  }, stallMs);
}

/**
 * The last part of what a browser calls a file, without what would turn or break the line that it is shown in.
 * @param given - Its name as it came.
 * @param otherwise - What it is called where nothing is left of it.
 * @returns A name for people; no path is made of it.
 */
export function nameOf(given: string | undefined, otherwise: string): string {
  const [last = ''] = (given ?? '').split(/[\\/]/).slice(-1);
  const name = last.replaceAll(/[\p{Cc}\p{Zl}\p{Zp}\p{Bidi_Control}\p{Cs}]/gu, '').trim();
  return Array.from(name).slice(0, MOST_NAME).join('') || otherwise;
}
