import { InputError } from '../core/errors.js';
import { Sha256 } from '../core/sha256.js';
import type { WeavePlan } from './planWeave.js';
import type { Chunks } from './readLines.js';

/**
 * Puts planned lines into a copy of the job, each ending as the file's first line does. All other bytes stay as they are.
 * @param chunks - The same job file's bytes, from the start.
 * @param plan - From `planWeave`.
 * @yields The copy's bytes.
 * @throws {InputError} `job-differs` at the end when the file is no longer the one that was planned for: what was given
 * out is to be thrown away then.
 */
export async function* weave(chunks: Chunks, plan: WeavePlan): AsyncGenerator<Uint8Array> {
  const encoder = new TextEncoder();
  const hash = new Sha256();
  const pending = plan.insertions.values();
  let next = pending.next();
  let at = 0;
  for await (const chunk of chunks) {
    hash.add(chunk);
    let from = 0;
    while (next.done !== true && next.value.offset < at + chunk.length) {
      const to = next.value.offset - at;
      if (to > from) yield chunk.subarray(from, to);
      yield encoder.encode(next.value.text + plan.lineEnd);
      from = to;
      next = pending.next();
    }
    if (from < chunk.length) yield chunk.subarray(from);
    at += chunk.length;
  }
  if (hash.hex() === plan.sha256) return;
  throw new InputError(
    'job-differs',
    'The job file was changed while it was read.',
    'Try again when nothing else writes it.',
  );
}
