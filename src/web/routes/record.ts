import type { FastifyInstance } from 'fastify';
import { readPrintRecord } from '../../index.js';
import { expectOwnScript } from '../access.js';
import { readRecordRequest } from '../jobRequest.js';

/**
 * A print record from what a form tells: complete and checked, to be kept as a file.
 * @param app - The server.
 */
export function recordRoutes(app: FastifyInstance): void {
  app.post('/api/record', (request, reply) => {
    expectOwnScript(request);
    const { record, fields, spacingOnly } = readRecordRequest(request.body);
    const text = record === undefined ? undefined : JSON.stringify(record);
    return reply.send({ record: readPrintRecord(text, fields, { spacingOnly }) });
  });
}
