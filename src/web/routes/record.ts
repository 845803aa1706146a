import type { FastifyInstance } from 'fastify';
import { faultsIn, readPrintRecord } from '../../index.js';
import { expectOwnScript } from '../access.js';
import { readRecordRequest } from '../jobRequest.js';
import { toldOf } from '../problem.js';

/**
 * A print record from what a form tells: complete and checked, to be kept as a file; and, while it is filled in, all
 * that is wrong in it so far.
 * @param app - The server.
 */
export function recordRoutes(app: FastifyInstance): void {
  app.post('/api/record', (request, reply) => {
    expectOwnScript(request);
    const { record, fields, spacingOnly } = readRecordRequest(request.body);
    const text = record === undefined ? undefined : JSON.stringify(record);
    return reply.send({ record: readPrintRecord(text, fields, { spacingOnly }) });
  });
  app.post('/api/record/faults', (request, reply) => {
    expectOwnScript(request);
    const { record, fields, spacingOnly } = readRecordRequest(request.body);
    return reply.send({ faults: faultsIn(record, fields, { spacingOnly }).map((one) => toldOf(one).error) });
  });
}
